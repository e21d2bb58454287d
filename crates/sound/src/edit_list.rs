//! Where the sound of an MP4 file begins and ends: its edit list leaves out the padding that the encoder added at either end
//! (ISO/IEC 14496-12, 8.6.6; from memory). The decoding library does not read it.

use std::io::{Read, Seek, SeekFrom};

/// What the edit list of the first sound track says, in samples of that track.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct EditList {
    /// Samples to skip at the beginning.
    pub skip: u64,
    /// Number of samples after that, as precisely as the file says: many files count in milliseconds.
    pub length: u64,
}

/// The largest MP4 index that is read, in bytes.
const MOST_INDEX: u64 = 64 * 1024 * 1024;

fn be32(bytes: &[u8], at: usize) -> Option<u64> {
    bytes.get(at..at + 4).and_then(|b| b.try_into().ok()).map(|b| u64::from(u32::from_be_bytes(b)))
}

fn be64(bytes: &[u8], at: usize) -> Option<u64> {
    Some(be32(bytes, at)? << 32 | be32(bytes, at + 4)?)
}

/// The child boxes in a box's content: their names and contents.
fn boxes(mut bytes: &[u8]) -> impl Iterator<Item = (&[u8], &[u8])> {
    std::iter::from_fn(move || {
        let size = usize::try_from(be32(bytes, 0)?).ok()?;
        let size = if size == 0 { bytes.len() } else { size };
        let found = (bytes.get(4..8)?, bytes.get(8..size)?);
        bytes = &bytes[size..];
        Some(found)
    })
}

fn inside<'a>(bytes: &'a [u8], name: &[u8]) -> Option<&'a [u8]> {
    boxes(bytes).find(|b| b.0 == name).map(|b| b.1)
}

/// The time scale of a `mvhd` or `mdhd` box.
fn scale(header: &[u8]) -> Option<u64> {
    be32(header, if *header.first()? == 1 { 20 } else { 12 }).filter(|s| *s > 0)
}

/// Reads the index of an MP4 file; `None` for other files and files without an edit list. The file's position is undefined
/// afterwards.
pub fn read<S: Read + Seek + ?Sized>(file: &mut S) -> Option<EditList> {
    let mut at = 0u64;
    let index = loop {
        file.seek(SeekFrom::Start(at)).ok()?;
        let mut head = [0u8; 16];
        file.read_exact(&mut head[..8]).ok()?;
        let mut size = be32(&head, 0)?;
        let mut begin = 8;
        if size == 1 {
            file.read_exact(&mut head[8..]).ok()?;
            (size, begin) = (be64(&head, 8)?, 16);
        }
        match &head[4..8] {
            b"moov" if size >= begin && size <= MOST_INDEX => {
                let mut index = Vec::new();
                file.take(size - begin).read_to_end(&mut index).ok()?;
                break index;
            }
            // Only files that begin as MP4 files do are searched.
            b"ftyp" | b"free" | b"skip" | b"wide" | b"mdat" | b"uuid" if size >= begin => at = at.checked_add(size)?,
            _ => return None,
        }
    };
    let movie = scale(inside(&index, b"mvhd")?)?;
    let track = boxes(&index).filter(|b| b.0 == b"trak").map(|b| b.1).find(|track| {
        let handler = inside(track, b"mdia").and_then(|m| inside(m, b"hdlr"));
        handler.and_then(|h| h.get(8..12)) == Some(b"soun")
    })?;
    let media = scale(inside(inside(track, b"mdia")?, b"mdhd")?)?;
    let list = inside(inside(track, b"edts")?, b"elst")?;
    let long = *list.first()? == 1;
    // An empty edit (media time -1) only delays what follows and is not padding. Use the first edit that plays something.
    for entry in 0..usize::try_from(be32(list, 4)?).ok()?.min(64) {
        let at = 8 + entry * if long { 20 } else { 12 };
        let (length, begin) =
            if long { (be64(list, at)?, be64(list, at + 8)?) } else { (be32(list, at)?, be32(list, at + 4)?) };
        let empty = if long { begin == u64::MAX } else { begin == u64::from(u32::MAX) };
        if !empty {
            let samples = u128::from(length) * u128::from(media) / u128::from(movie);
            return Some(EditList { skip: begin, length: u64::try_from(samples).ok()? });
        }
    }
    None
}

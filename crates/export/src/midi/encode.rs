//! Track chunks, byte for byte (SMF 1.1, 1.1 and 2.3): delta times, running status, meta events, system exclusive.
//!
//! We write this ourselves instead of using a library, because everything else leads to this output, and because placing,
//! merging and encoding in one pass is what keeps a file of 100 000 messages within milliseconds.

use super::MidiError;
use letfall_core::midi::split_messages;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Largest variable-length quantity.
const MOST: u32 = 0x0fff_ffff;

/// One track being written, in order of time.
pub(super) struct TrackWriter {
    bytes: Vec<u8>,
    tick: u32,
    status: u8,
    /// Pending note offs, soonest first: tick, number of the note on, message.
    offs: BinaryHeap<Reverse<(u32, u32, [u8; 3])>>,
    /// For each key of each channel, the number of the note on that it sounds from; 0 for none.
    sounding: Vec<u32>,
    ons: u32,
    too_long: bool,
}

impl TrackWriter {
    /// A track that begins with its name.
    pub fn new(name: &str, capacity: usize) -> TrackWriter {
        let mut track = TrackWriter {
            bytes: Vec::with_capacity(ROOM + capacity + name.len() + 16),
            tick: 0,
            status: 0,
            offs: BinaryHeap::new(),
            sounding: Vec::new(),
            ons: 0,
            too_long: false,
        };
        track.bytes.resize(ROOM, 0);
        track.meta(0, 0x03, name.as_bytes());
        track
    }

    fn quantity(&mut self, value: u32) {
        if value < 0x80 {
            self.bytes.push(value.to_le_bytes()[0]);
            return;
        }
        self.too_long |= value > MOST;
        let group = |shift: u32| (value >> shift & 0x7f).to_le_bytes()[0];
        for shift in [21, 14, 7] {
            if value >> shift != 0 {
                self.bytes.push(group(shift) | 0x80);
            }
        }
        self.bytes.push(group(0));
    }

    fn delta(&mut self, tick: u32) {
        // A tick before the last one would be our own bug. The event is written at the last tick then, never lost.
        let tick = tick.max(self.tick);
        self.quantity(tick - self.tick);
        self.tick = tick;
    }

    /// A meta event. Cancels running status.
    pub fn meta(&mut self, tick: u32, kind: u8, data: &[u8]) {
        self.delta(tick);
        self.bytes.extend([0xff, kind]);
        self.quantity(u32::try_from(data.len()).unwrap_or(u32::MAX));
        self.bytes.extend_from_slice(data);
        self.status = 0;
    }

    fn channel(&mut self, tick: u32, message: &[u8]) {
        self.delta(tick);
        let from = usize::from(self.status == message[0]);
        self.status = message[0];
        self.bytes.extend_from_slice(&message[from..]);
    }

    /// The messages of one cue, as `core::midi` makes them: channel messages with status, or one sysex.
    pub fn messages(&mut self, tick: u32, bytes: &[u8]) {
        self.end_notes(tick);
        for message in split_messages(bytes) {
            if message[0] != 0xf0 {
                self.channel(tick, message);
                continue;
            }
            // F0 comes before the length, and F7 is included in it (SMF 1.1, 2.3).
            self.delta(tick);
            self.bytes.push(0xf0);
            self.quantity(u32::try_from(message.len() - 1).unwrap_or(u32::MAX));
            self.bytes.extend_from_slice(&message[1..]);
            self.status = 0;
        }
    }

    /// A note: on now, off at `end` (at least a tick later). If the key still sounds, it is ended first.
    pub fn note(&mut self, tick: u32, on: &[u8], off: [u8; 3], end: u32) {
        self.end_notes(tick);
        if self.sounding.is_empty() {
            self.sounding = vec![0; 16 * 128];
        }
        let key = key_of(off);
        if self.sounding[key] != 0 {
            self.channel(tick, &off);
        }
        self.channel(tick, on);
        self.ons += 1;
        self.sounding[key] = self.ons;
        self.offs.push(Reverse((end.max(tick.saturating_add(1)), self.ons, off)));
    }

    /// Writes the note offs that are due at or before a tick.
    fn end_notes(&mut self, tick: u32) {
        while let Some(Reverse((at, on, off))) = self.offs.peek().copied()
            && at <= tick
        {
            self.offs.pop();
            // If the key was struck again, this note has been ended already.
            if self.sounding[key_of(off)] == on {
                self.sounding[key_of(off)] = 0;
                self.channel(at, &off);
            }
        }
    }

    /// Ends the track, no sooner than `at_least`. Returns its chunk's data, after [`ROOM`] free bytes for the headers.
    ///
    /// # Errors
    /// [`MidiError::TooLong`] if anything did not fit in a variable-length quantity.
    pub fn finish(mut self, at_least: u32) -> Result<Vec<u8>, MidiError> {
        self.end_notes(u32::MAX);
        self.meta(at_least.max(self.tick), 0x2f, &[]);
        if self.too_long { Err(MidiError::TooLong) } else { Ok(self.bytes) }
    }

    /// The current tick.
    pub const fn tick(&self) -> u32 {
        self.tick
    }

    /// The tick at which its last pending note ends.
    pub fn last_off(&self) -> u32 {
        self.offs.iter().map(|Reverse(off)| off.0).max().unwrap_or(0)
    }
}

fn key_of(off: [u8; 3]) -> usize {
    usize::from(off[0] & 0x0f) << 7 | usize::from(off[1] & 0x7f)
}

/// Room for the file header and a track header. Every track leaves it free at its start, so the first need not be moved.
const ROOM: usize = 14 + 8;

/// Builds a whole file: header and track chunks, as [`TrackWriter::finish`] returns them.
///
/// # Errors
/// [`MidiError::TooManyTracks`], or [`MidiError::TooLong`] for a track over 4 GB.
pub(super) fn file(division: u16, tracks: Vec<Vec<u8>>) -> Result<Vec<u8>, MidiError> {
    let count = u16::try_from(tracks.len()).map_err(|_| MidiError::TooManyTracks)?;
    let chunk = |track: &[u8]| {
        let length = u32::try_from(track.len() - ROOM).map_err(|_| MidiError::TooLong)?;
        let mut head = *b"MTrk\0\0\0\0";
        head[4..].copy_from_slice(&length.to_be_bytes());
        Ok(head)
    };
    let rest: usize = tracks.iter().skip(1).map(Vec::len).sum();
    let mut tracks = tracks.into_iter();
    let mut out = tracks.next().unwrap_or_else(|| vec![0; ROOM]);
    let head = chunk(&out)?;
    out[..10].copy_from_slice(b"MThd\0\0\0\x06\0\x01");
    out[10..12].copy_from_slice(&count.to_be_bytes());
    out[12..14].copy_from_slice(&division.to_be_bytes());
    out[14..ROOM].copy_from_slice(&head);
    out.reserve(rest);
    for track in tracks {
        out.extend(chunk(&track)?);
        out.extend_from_slice(&track[ROOM..]);
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The specification's own table of quantities (SMF 1.1, 1.1).
    #[test]
    fn quantities_of_the_standard() {
        for (value, bytes) in [
            (0u32, &[0x00][..]),
            (0x40, &[0x40]),
            (0x7f, &[0x7f]),
            (0x80, &[0x81, 0x00]),
            (0x2000, &[0xc0, 0x00]),
            (0x3fff, &[0xff, 0x7f]),
            (0x4000, &[0x81, 0x80, 0x00]),
            (0x0010_0000, &[0xc0, 0x80, 0x00]),
            (0x001f_ffff, &[0xff, 0xff, 0x7f]),
            (0x0020_0000, &[0x81, 0x80, 0x80, 0x00]),
            (0x0800_0000, &[0xc0, 0x80, 0x80, 0x00]),
            (0x0fff_ffff, &[0xff, 0xff, 0xff, 0x7f]),
        ] {
            let mut track = TrackWriter::new("", 0);
            let from = track.bytes.len();
            track.quantity(value);
            assert_eq!(&track.bytes[from..], bytes, "{value:x}");
        }
        let mut track = TrackWriter::new("", 0);
        track.meta(0x1000_0000, 1, b"x");
        assert_eq!(track.finish(0), Err(MidiError::TooLong));
    }

    /// The first track of the standard's format 1 example (SMF 1.1, appendix 2), after a name of ours: program change, note
    /// on, note on with velocity 0 under running status.
    #[test]
    fn a_track_of_the_standards_example() {
        let mut track = TrackWriter::new("", 0);
        track.messages(0, &[0xc0, 5]);
        track.messages(192, &[0x90, 0x4c, 0x20]);
        track.messages(384, &[0x90, 0x4c, 0]);
        let bytes = track.finish(0).expect("it fits");
        let wanted = [0, 0xc0, 5, 0x81, 0x40, 0x90, 0x4c, 0x20, 0x81, 0x40, 0x4c, 0, 0, 0xff, 0x2f, 0];
        assert_eq!(bytes[ROOM + 4..], wanted);
    }

    /// SMF 1.1, 2.3: F0 43 12 00 07 F7 is stored as F0 05 43 12 00 07 F7.
    #[test]
    fn sysex_of_the_standard() {
        let mut track = TrackWriter::new("", 0);
        track.messages(0, &[0xf0, 0x43, 0x12, 0x00, 0x07, 0xf7]);
        assert_eq!(track.finish(0).expect("it fits")[ROOM + 4..ROOM + 12], [0, 0xf0, 5, 0x43, 0x12, 0x00, 0x07, 0xf7]);
    }
}

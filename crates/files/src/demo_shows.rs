//! The demo shows. They are built into the program; their recordings are rendered when needed.

use crate::failure::{Failure, io_words};
use crate::{disk, guides};
use letfall_core::file;
use letfall_core::show::{Show, Song};
use letfall_sound::song::{SAMPLE_RATE, Score};
use std::collections::BTreeSet;
use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};

const SHOWS: [(&str, &str); 3] = [
    ("lantern-night", include_str!("../../../demo-shows/lantern-night.letfall")),
    ("first-opener", include_str!("../../../demo-shows/first-opener.letfall")),
    ("three-houses", include_str!("../../../demo-shows/three-houses.letfall")),
];

/// What was written.
#[derive(Debug, Default)]
pub struct Written {
    /// Shows and recordings that are now in the folder.
    pub files: Vec<PathBuf>,
    /// Shows that the user has changed: they were left as they are.
    pub left_alone: Vec<PathBuf>,
}

/// The show that opens at the first start. It is not in any folder yet, so it has no recordings beside it.
///
/// # Errors
/// Only if a built-in show is broken, which the tests rule out.
pub fn first() -> Result<Show, Failure> {
    let mut show = read(SHOWS[0])?;
    for service in &mut show.services {
        service.song.guide = None;
    }
    Ok(show)
}

/// One of the demo shows, or the last of them, with the names of its recordings.
///
/// # Errors
/// Only if a built-in show is broken, which the tests rule out.
pub fn built_in(which: usize) -> Result<Show, Failure> {
    read(SHOWS[which.min(SHOWS.len() - 1)])
}

fn read((name, text): (&str, &str)) -> Result<Show, Failure> {
    file::read(text.as_bytes()).map_err(|why| Failure::Show { why, path: name.into() })
}

/// A song's recording as a WAV file.
fn recording(song: &Song) -> Result<Vec<u8>, String> {
    let score = Score::lanterns_out().map_err(|e| e.to_string())?;
    let samples = score.render(song).map_err(|e| e.to_string())?;
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: SAMPLE_RATE,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut bytes = Cursor::new(Vec::with_capacity(samples.len() * 2 + 44));
    let mut out = hound::WavWriter::new(&mut bytes, spec).map_err(|e| e.to_string())?;
    for sample in samples {
        #[allow(clippy::cast_possible_truncation)] // ±1 by ±32767
        out.write_sample((sample * 32767.0).round() as i16).map_err(|e| e.to_string())?;
    }
    out.finalize().map_err(|e| e.to_string())?;
    Ok(bytes.into_inner())
}

/// Writes the demo shows and their recordings into a folder. A show that the user has changed is not overwritten.
///
/// # Errors
/// When the folder or a file in it cannot be written.
pub fn write(folder: &Path) -> Result<Written, Failure> {
    fs::create_dir_all(folder).map_err(|e| Failure::Use(format!("{}: {}", folder.display(), io_words(&e))))?;
    let mut written = Written::default();
    for (name, source) in SHOWS {
        let show = read((name, source))?;
        let path = folder.join(format!("{name}.letfall"));
        match fs::read(&path) {
            Ok(there) if there != source.as_bytes() => written.left_alone.push(path.clone()),
            Ok(_) => {}
            Err(_) => disk::write(&path, source.as_bytes())?,
        }
        written.files.push(path);
        let mut made = BTreeSet::new();
        for service in &show.services {
            let Some(guide) = service.song.guide.as_ref().filter(|g| made.insert(g.path.clone())) else { continue };
            let path = guides::place(Some(folder), guide);
            let there = guides::sum(Some(folder), guide);
            if guide.sha256.is_empty() || there.is_none_or(|sum| sum != guide.sha256) {
                disk::write(&path, &recording(&service.song).map_err(Failure::Use)?)?;
            }
            written.files.push(path);
        }
    }
    Ok(written)
}

#[cfg(test)]
mod tests {
    use super::*;
    use letfall_core::show::Guide;

    /// Rendering gives the same samples on every machine, so the checksums stored in the shows match what is rendered here.
    #[test]
    fn recordings_are_those_that_the_shows_name() {
        let folder = tempfile::tempdir().unwrap();
        write(folder.path()).unwrap();
        for show in SHOWS {
            let show = read(show).unwrap();
            assert!(!show.services.is_empty());
            for service in &show.services {
                let guide: &Guide = service.song.guide.as_ref().unwrap();
                assert_eq!(guides::sum(Some(folder.path()), guide).as_ref(), Some(&guide.sha256), "{}", guide.path);
            }
        }
    }

    #[test]
    fn what_somebody_changed_is_left_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("first-opener.letfall");
        fs::write(&path, "mine").unwrap();
        let written = write(folder.path()).unwrap();
        assert_eq!(written.left_alone, std::slice::from_ref(&path));
        assert_eq!(fs::read_to_string(path).unwrap(), "mine");
    }
}

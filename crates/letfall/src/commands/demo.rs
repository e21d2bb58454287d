//! `letfall demo`: the demo shows and their recordings, into a folder of one's own.

use crate::failure::Failure;
use crate::{Answer, Told, cli, disk, guides};
use letfall_core::file;
use letfall_core::show::{Show, Song};
use letfall_sound::song::{SAMPLE_RATE, Score};
use std::collections::BTreeSet;
use std::fs;
use std::io::Cursor;

/// The demo shows, kept with the program.
const SHOWS: [(&str, &str); 3] = [
    ("lantern-night", include_str!("../../../../demo-shows/lantern-night.letfall")),
    ("first-opener", include_str!("../../../../demo-shows/first-opener.letfall")),
    ("three-houses", include_str!("../../../../demo-shows/three-houses.letfall")),
];

/// The show that is opened at the first start. It is in no folder yet, so it has no recordings beside it.
pub fn first() -> Result<Show, Failure> {
    let mut show = read(SHOWS[0])?;
    for service in &mut show.services {
        service.song.guide = None;
    }
    Ok(show)
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

pub fn run(args: &cli::Demo) -> Answer {
    let folder = &args.folder;
    let fail = |e: &std::io::Error| Failure::Use(format!("{}: {}", folder.display(), crate::failure::io_words(e)));
    fs::create_dir_all(folder).map_err(|e| fail(&e))?;
    let mut text = String::new();
    let mut remarks = Vec::new();
    for (name, source) in SHOWS {
        let show = read((name, source))?;
        let path = folder.join(format!("{name}.letfall"));
        match fs::read(&path) {
            // Somebody's own changes stay.
            Ok(there) if there != source.as_bytes() => {
                remarks.push(format!("{} is there and was changed; it is left as it is", path.display()));
            }
            Ok(_) => {}
            Err(_) => disk::write(&path, source.as_bytes())?,
        }
        line!(text, "{}", path.display());
        let mut made = BTreeSet::new();
        for service in &show.services {
            let Some(guide) = service.song.guide.as_ref().filter(|g| made.insert(g.path.clone())) else { continue };
            let path = guides::place(Some(folder), guide);
            let there = guides::sum(Some(folder), guide);
            if guide.sha256.is_empty() || there.is_none_or(|sum| sum != guide.sha256) {
                disk::write(&path, &recording(&service.song).map_err(Failure::Use)?)?;
            }
            line!(text, "{}", path.display());
        }
    }
    Ok(Told { text, remarks, found_stop: false })
}

#[cfg(test)]
mod tests {
    use super::*;
    use letfall_core::show::Guide;
    use std::path::Path;

    /// The same samples on every machine: the sums that the shows keep are those of what is rendered here.
    #[test]
    fn recordings_are_those_that_the_shows_name() {
        let folder = tempfile::tempdir().unwrap();
        run(&cli::Demo { folder: folder.path().to_owned() }).unwrap_or_else(|_| panic!("not made"));
        for show in SHOWS {
            let show = read(show).unwrap_or_else(|_| panic!("not read"));
            assert!(!show.services.is_empty());
            for service in &show.services {
                let guide: &Guide = service.song.guide.as_ref().unwrap();
                assert_eq!(sum_of(folder.path(), guide), guide.sha256, "{}", guide.path);
            }
        }
    }

    fn sum_of(folder: &Path, guide: &Guide) -> String {
        guides::sum(Some(folder), guide).unwrap()
    }
}

//! `letfall new`

use crate::failure::Failure;
use crate::{Answer, Told, cli, disk};
use letfall_core::file;
use letfall_core::show::{Service, Show, Song};
use letfall_export::midi::import;
use std::path::Path;

/// The show that a new file begins with.
const FRESH: &str = include_str!("../../../../assets/new.letfall");

/// The show that a new file begins with.
pub fn fresh() -> Result<Show, Failure> {
    file::read(FRESH.as_bytes()).map_err(|why| Failure::Show { why, path: "assets/new.letfall".into() })
}

pub fn run(args: &cli::New) -> Answer {
    let mut show = fresh()?;
    if let Some(name) = args.file.file_stem() {
        show.title = name.to_string_lossy().into_owned();
    }
    let mut remarks = Vec::new();
    if let Some(path) = &args.song {
        let (song, notes) = song_of(path)?;
        show.services = vec![Service::new("First service", song)];
        remarks = notes;
    }
    disk::write_new(&args.file, &file::write(&show))?;
    let text = format!("Made {}: a show with usual tracks, a rig to fill in and one service.\n", args.file.display());
    Ok(Told { text, remarks, found_stop: false })
}

pub fn song_of(path: &Path) -> Result<(Song, Vec<String>), Failure> {
    let bytes = disk::read("the MIDI file", path)?;
    let found = import(&bytes).map_err(|why| Failure::Import { why, path: path.to_owned() })?;
    let title = path.file_stem().map_or_else(|| "Song".to_owned(), |s| s.to_string_lossy().into_owned());
    let song = Song { title, bars: found.bars, grid: found.plan, sections: found.sections, guide: None };
    Ok((song, found.notes))
}

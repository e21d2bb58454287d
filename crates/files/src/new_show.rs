//! The show that a person begins with, and the song that it takes from a MIDI file.

use crate::disk;
use crate::failure::Failure;
use letfall_core::file;
use letfall_core::show::{Show, Song};
use letfall_export::midi::import;
use std::path::Path;

/// What a new file holds.
const FRESH: &str = include_str!("../../../assets/new.letfall");

/// A show with usual tracks, a rig to fill in and one service.
///
/// # Errors
/// Only if the show that is kept with the program were broken, which the tests rule out.
pub fn fresh() -> Result<Show, Failure> {
    file::read(FRESH.as_bytes()).map_err(|why| Failure::Show { why, path: "assets/new.letfall".into() })
}

/// The song of a MIDI file: bars, metre, tempo, sections; and what could not be taken over, one sentence each.
///
/// # Errors
/// [`Failure::Read`] and [`Failure::Import`].
pub fn song_of_midi(path: &Path) -> Result<(Song, Vec<String>), Failure> {
    let bytes = disk::read("the MIDI file", path)?;
    let found = import(&bytes).map_err(|why| Failure::Import { why, path: path.to_owned() })?;
    let title = path.file_stem().map_or_else(|| "Song".to_owned(), |s| s.to_string_lossy().into_owned());
    let song = Song { title, bars: found.bars, grid: found.plan, sections: found.sections, guide: None };
    Ok((song, found.notes))
}

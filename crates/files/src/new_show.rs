//! The show that a user starts with, and importing its song from a MIDI file.

use crate::disk;
use crate::failure::Failure;
use letfall_core::file;
use letfall_core::show::{Show, Song};
use letfall_export::midi::import;
use std::path::Path;

/// The contents of a new show file.
const FRESH: &str = include_str!("../../../assets/new.letfall");

/// A show with the usual tracks, a rig to fill in and one service.
///
/// # Errors
/// Only if the built-in show is broken, which the tests rule out.
pub fn fresh() -> Result<Show, Failure> {
    file::read(FRESH.as_bytes()).map_err(|why| Failure::Show { why, path: "assets/new.letfall".into() })
}

/// The song in a MIDI file: bars, metre, tempo, sections. Also what could not be imported, one sentence each.
///
/// # Errors
/// [`Failure::Read`] and [`Failure::Import`].
pub fn song_of_midi(path: &Path) -> Result<(Song, Vec<String>), Failure> {
    let bytes = disk::read("the MIDI file", path)?;
    let found = import(&bytes).map_err(|why| Failure::Import { why, path: path.to_owned() })?;
    let title = path.file_stem().map_or_else(|| "Song".to_owned(), |s| s.to_string_lossy().into_owned());
    let song = Song { sections: found.sections, ..Song::new(title, found.bars, found.plan) };
    Ok((song, found.notes))
}

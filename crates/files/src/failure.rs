//! Why a command could not do its work: one sentence, what, where, what to do.

use letfall_core::edit::EditError;
use letfall_core::file::FileError;
use letfall_core::prepared::PrepareError;
use letfall_export::midi::{ImportError, MidiError};
#[cfg(feature = "paper")]
use letfall_paper::PaperError;
use std::io;
use std::path::PathBuf;

/// Why a command could not do its work.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// A file cannot be read.
    #[error("{what} cannot be read: {why}: {}", path.display())]
    Read {
        /// What it was to be.
        what: &'static str,
        /// Why not.
        why: String,
        /// Which file.
        path: PathBuf,
    },
    /// A file is not a show.
    #[error("{} cannot be opened: {why}", path.display())]
    Show {
        /// Why not.
        why: FileError,
        /// Which file.
        path: PathBuf,
    },
    /// A file is not a MIDI file with a tempo map.
    #[error("{} gives no grid: {why}", path.display())]
    Import {
        /// Why not.
        why: ImportError,
        /// Which file.
        path: PathBuf,
    },
    /// A file cannot be written. What was there before is whole.
    #[error("nothing was written: {why}: {}", path.display())]
    Write {
        /// Why not.
        why: String,
        /// Which file.
        path: PathBuf,
    },
    /// The show has no such service, or no way to tell which.
    #[error("{0}")]
    Service(String),
    /// What was asked for cannot be done, or not so.
    #[error("{0}")]
    Use(String),
    /// Somebody stopped it.
    #[error("nothing was written: it was stopped")]
    Stopped,
    /// An edit does not fit its show.
    #[error(transparent)]
    Edit(#[from] EditError),
    /// A service cannot be worked out.
    #[error(transparent)]
    Prepare(#[from] PrepareError),
    /// No MIDI file can be made of it.
    #[error(transparent)]
    Midi(#[from] MidiError),
    /// No pages can be set.
    #[cfg(feature = "paper")]
    #[error(transparent)]
    Paper(#[from] PaperError),
}

/// An input or output error in words a person can act on.
pub fn io_words(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file or folder; check the name".to_owned(),
        io::ErrorKind::PermissionDenied => "it is not allowed; check who may read or write there".to_owned(),
        io::ErrorKind::StorageFull => "the disk is full; free some space or write elsewhere".to_owned(),
        io::ErrorKind::IsADirectory => "it is a folder; name a file".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk is read-only; write elsewhere".to_owned(),
        _ => error.to_string(),
    }
}

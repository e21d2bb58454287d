//! Why a command failed, in one sentence: what went wrong, where, and what to do about it.

use letfall_core::edit::EditError;
use letfall_core::file::FileError;
use letfall_core::prepared::PrepareError;
use letfall_export::midi::{ImportError, MidiError};
#[cfg(feature = "paper")]
use letfall_paper::PaperError;
use std::io;
use std::path::PathBuf;

/// Why a command failed.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// A file cannot be read.
    #[error("{what} cannot be read: {why}: {}", path.display())]
    Read {
        /// What kind of file it should have been.
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
    /// A file cannot be written. The previous version is intact.
    #[error("nothing was written: {why}: {}", path.display())]
    Write {
        /// Why not.
        why: String,
        /// Which file.
        path: PathBuf,
    },
    /// The show has no such service, or it is not clear which one is meant.
    #[error("{0}")]
    Service(String),
    /// What was asked for cannot be done, or not in this way.
    #[error("{0}")]
    Use(String),
    /// The user stopped it.
    #[error("nothing was written: it was stopped")]
    Stopped,
    /// An edit does not fit the show.
    #[error(transparent)]
    Edit(#[from] EditError),
    /// A service cannot be prepared.
    #[error(transparent)]
    Prepare(#[from] PrepareError),
    /// No MIDI file can be made from it.
    #[error(transparent)]
    Midi(#[from] MidiError),
    /// No pages can be typeset.
    #[cfg(feature = "paper")]
    #[error(transparent)]
    Paper(#[from] PaperError),
}

/// An input or output error, in words a user can act on.
pub fn io_words(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file or folder; check the name".to_owned(),
        io::ErrorKind::PermissionDenied => {
            "it is not allowed; check who may read or write there, and whether another program has it open".to_owned()
        }
        io::ErrorKind::StorageFull => "the disk is full; free some space or write elsewhere".to_owned(),
        io::ErrorKind::IsADirectory => "it is a folder; name a file".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk is read-only; write elsewhere".to_owned(),
        _ => error.to_string(),
    }
}

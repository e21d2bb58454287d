//! The results that jobs deliver.

use super::dialogs::DialogResult;
use super::file_purpose::FilePurpose;
use super::guide_peaks::GuideRead;
use crate::document::Document;
use letfall_core::show::{Show, Song};
use std::path::PathBuf;
use std::sync::Arc;

/// The result of a long job.
pub enum JobResult {
    /// The answer of the system's dialog, and the path to start from if it has to be typed.
    FileChosen(FilePurpose, DialogResult, PathBuf),
    /// A show that was read.
    Opened(Box<Document>),
    /// The show was saved: the state that was saved, and where.
    Saved(Arc<Show>, PathBuf),
    /// The show was not saved: since it was opened here, somebody else has changed its file.
    ChangedByOthers(PathBuf),
    /// A file was written; what is in it, in words.
    Wrote(PathBuf, String),
    /// A recording was read to its end.
    Guide(PathBuf, Box<GuideRead>),
    /// The bars and tempo of a MIDI file, and what could not be taken over.
    Grid(Box<Song>, Vec<String>),
    /// A demo show with its recordings.
    Demo(Box<Document>),
    /// The song for a show that is begun, and the file's name.
    StartSong(Box<Song>, String),
    /// The rig for a show that is begun, and the title of its show.
    StartRig(Box<Show>, String),
    /// The text of a table of cues.
    Table(String),
    /// An earlier version of the show, and its name.
    Previous(Box<Show>, String),
}

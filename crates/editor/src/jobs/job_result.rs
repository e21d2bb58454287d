//! What a job brings back to the screen.

use super::dialogs::DialogResult;
use super::file_purpose::FilePurpose;
use super::guide_peaks::GuideRead;
use crate::document::Document;
use letfall_core::show::{Show, Song};
use std::path::PathBuf;
use std::sync::Arc;

/// What long work brings.
pub enum JobResult {
    /// An answer of the system's dialog, and the path to begin with if it must be typed.
    FileChosen(FilePurpose, DialogResult, PathBuf),
    /// A show that was read, and newer work of it that was put by.
    Opened(Box<Document>, Option<Box<Show>>),
    /// The show was saved: which state of it, and where.
    Saved(Arc<Show>, PathBuf),
    /// A file was written; what is in it, in words.
    Wrote(PathBuf, String),
    /// A recording was read through.
    Guide(PathBuf, Box<GuideRead>),
    /// Bars and tempo of a MIDI file, and what could not be taken over.
    Grid(Box<Song>, Vec<String>),
    /// An earlier version of the show, and what it is called.
    Previous(Box<Show>, String),
}

//! The data that the Rehearse screen shows.

use crate::document::Document;
use crate::rehearsal::Rehearsal;
use crate::widgets::theme::Theme;

/// The data that the screen shows.
pub struct Rehearsing<'a> {
    /// The run and its set-up.
    pub rehearsal: &'a Rehearsal,
    /// The state of the sound, in words.
    pub sound: &'static str,
    /// The show.
    pub document: &'a Document,
    /// The theme.
    pub theme: Theme,
}

//! What the Rehearse screen shows.

use crate::document::Document;
use crate::rehearsal::Rehearsal;
use crate::widgets::theme::Theme;

/// What the screen shows.
pub struct Rehearsing<'a> {
    /// The run and its set-up.
    pub rehearsal: &'a Rehearsal,
    /// What is heard, in words.
    pub sound: &'static str,
    /// The show.
    pub document: &'a Document,
    /// The look.
    pub theme: Theme,
}

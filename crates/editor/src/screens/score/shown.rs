//! What the selected cues have in common, as the inspector shows it.

use super::cue_field::Field;
use crate::document::Document;
use letfall_core::show::{Action, Kind, Label, TrackKey};

/// What the selected cues have in common: looked up when the selection or the show changes, not every frame.
pub struct Shown {
    /// Of which revision.
    pub revision: u64,
    /// Of which cues.
    pub labels: Vec<Label>,
    /// Whether each field is the same in all, in the order of [`Field`].
    pub alike: [bool; Field::ALL.len()],
    /// The track.
    pub track: Option<TrackKey>,
    /// `Some(None)`: all as their tracks say.
    #[allow(clippy::option_option)] // differs, as the track, yes or no
    pub called: Option<Option<bool>>,
    /// The kind.
    pub kind: Option<Kind>,
    /// What they do.
    pub does: Option<Action>,
    /// Whether all rest.
    pub resting: bool,
}

impl Shown {
    /// Looks it up.
    pub fn of(document: &Document, labels: Vec<Label>) -> Shown {
        let cues = document.selected_cues();
        Shown {
            revision: document.revision,
            labels,
            alike: Field::ALL.map(|field| same(cues.iter().map(|c| field.read(c))).is_some()),
            track: same(cues.iter().map(|c| &c.track)).cloned(),
            called: same(cues.iter().map(|c| c.call.as_ref().and_then(|call| call.called))),
            kind: same(cues.iter().map(|c| c.label.kind)),
            does: same(cues.iter().map(|c| &c.does)).cloned(),
            resting: same(cues.iter().map(|c| c.resting)).unwrap_or(false),
        }
    }
}

/// What a field says where cues differ.
pub const DIFFERS: &str = "differs";
/// Width of a field, so that label and field fill the panel and no more.
pub const FIELD: f32 = 190.0;

/// The value that all have, if they have one.
pub fn same<T: PartialEq>(mut values: impl Iterator<Item = T>) -> Option<T> {
    let first = values.next()?;
    values.all(|v| v == first).then_some(first)
}

//! What the selected cues have in common, as the inspector shows it.

use super::cue_field::Field;
use crate::document::Document;
use letfall_core::show::{Action, Goes, Kind, Label, TrackKey};

/// What the selected cues have in common, computed when the selection or the show changes and not in every frame.
pub struct Shown {
    /// The revision of the show that this belongs to.
    pub revision: u64,
    /// The labels of the selected cues.
    pub labels: Vec<Label>,
    /// Whether each field has the same value in all cues, in the order of [`Field`].
    pub alike: [bool; Field::ALL.len()],
    /// Their track, if it is the same.
    pub track: Option<TrackKey>,
    /// What sets them off, whether they are called, and whether somebody watches for them: `None` if they differ. The first two are
    /// `None` if they follow their tracks.
    pub called: Option<(Option<Goes>, Option<bool>, bool)>,
    /// Their kind, if it is the same.
    pub kind: Option<Kind>,
    /// What they do, if it is the same.
    pub does: Option<Action>,
    /// Whether all of them are resting.
    pub resting: bool,
}

impl Shown {
    /// Computes it for the selected cues.
    pub fn of(document: &Document, labels: Vec<Label>) -> Shown {
        let cues = document.selected_cues();
        Shown {
            revision: document.revision,
            labels,
            alike: Field::ALL.map(|field| same(cues.iter().map(|c| field.read(c))).is_some()),
            track: same(cues.iter().map(|c| &c.track)).cloned(),
            called: same(
                cues.iter().map(|c| {
                    c.call.as_ref().map_or((None, None, false), |call| (call.goes, call.called, call.watched))
                }),
            ),
            kind: same(cues.iter().map(|c| c.label.kind)),
            does: same(cues.iter().map(|c| &c.does)).cloned(),
            resting: same(cues.iter().map(|c| c.resting)).unwrap_or(false),
        }
    }
}

/// What a field shows if the cues differ.
pub const DIFFERS: &str = "differs";
/// Width of a field in points, chosen so that label and field together fill the panel.
pub const FIELD: f32 = 190.0;

/// The value that all have in common, if any.
pub fn same<T: PartialEq>(mut values: impl Iterator<Item = T>) -> Option<T> {
    let first = values.next()?;
    values.all(|v| v == first).then_some(first)
}

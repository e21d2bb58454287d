//! Taking what a film shows into the show: one step, which can be undone.

use super::{DropSeen, ReceiverSeen};
use letfall_core::edit::{Edit, Part};
use letfall_core::show::{MeasuredDrop, Show};
use letfall_core::time::round;

/// What is taken over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Taken {
    /// The delays of receivers.
    pub delays: bool,
    /// Drops, which a person has looked at and confirmed.
    pub drops: bool,
}

/// The edit. `film` is named in the note of each drop.
pub fn taken(show: &Show, receivers: &[ReceiverSeen], drops: &[DropSeen], what: Taken, film: &str) -> Edit {
    let mut edits = Vec::new();
    let possible: Vec<&ReceiverSeen> = receivers.iter().filter(|seen| !seen.impossible).collect();
    if what.delays && !possible.is_empty() {
        let mut after = show.receivers.clone();
        for seen in possible {
            if let Some(receiver) = after.iter_mut().find(|r| r.key == seen.key) {
                receiver.latency = seen.after;
            }
        }
        let changed = after != show.receivers;
        let (before, after) = (Part::Receivers(show.receivers.clone()), Part::Receivers(after));
        if changed {
            edits.push(Edit::Part { before: Box::new(before), after: Box::new(after) });
        }
    }
    if what.drops && !drops.is_empty() {
        let mut after = show.hangs.clone();
        for seen in drops {
            if let Some(hang) = after.iter_mut().find(|h| h.key == seen.hang) {
                let note = format!("film {film}, run {}, {}", seen.run + 1, seen.label);
                // To the millisecond: more is not known.
                let seconds = round::nearest(seen.seconds * 1000.0) as f64 / 1000.0;
                // The same fall of the same film counts once.
                if hang.measured.iter().any(|there| there.to == seen.to && there.note == note) {
                    continue;
                }
                hang.measured.push(MeasuredDrop {
                    to: seen.to,
                    seconds,
                    by: Some(seen.by),
                    note,
                    struck: String::new(),
                });
            }
        }
        if after != show.hangs {
            let (before, after) = (Part::Hangs(show.hangs.clone()), Part::Hangs(after));
            edits.push(Edit::Part { before: Box::new(before), after: Box::new(after) });
        }
    }
    Edit::All(edits)
}

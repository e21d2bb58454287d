//! When it must be settled whether a release goes: before the first message that only makes sense if its fabric falls.

use super::{Row, Schedule};
use crate::show::{Action, Label, Service, Show};
use crate::time::{SongSpan, SongTime};

/// How long before the first message that depends on a release it must be settled whether it goes. Common practice, no source: nobody takes
/// a message back in less.
pub const DECIDE_AHEAD: SongSpan = SongSpan::from_millis(1000);

/// Nobody can see that a fabric stays, say so and act on it sooner than this after the release was sent. Common practice, no source.
pub const SEE_AND_ACT: SongSpan = SongSpan::from_millis(3000);

/// When a release must be settled, and by which message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Decision {
    /// The latest song time at which it is settled.
    pub at: SongTime,
    /// The cue whose message is the first that depends on it: the release itself, or one that leaves before it.
    pub first: Label,
}

/// The cues that depend on a release: those of its handover, and those that the show names. If the fabric stays, they would leave a picture
/// on nothing, or light people who are still hidden. In order, each once.
pub fn dependents(show: &Show, service: &Service, release: Label) -> Vec<Label> {
    let of = service.handovers.iter().filter(|handover| handover.release == release);
    let named = match service.cues.get(release).map(|cue| &cue.does) {
        Some(Action::Release { release, .. }) => show.release(release).map(|facts| facts.depends.as_slice()),
        _ => None,
    };
    let named = named.unwrap_or_default().iter();
    let mut labels: Vec<Label> = of.flat_map(|handover| &handover.cues).chain(named).copied().collect();
    labels.retain(|label| *label != release && service.cues.get(*label).is_some());
    labels.sort_unstable();
    labels.dedup();
    labels
}

impl Schedule {
    /// When it must be settled whether a release goes: one second before the earliest send that depends on it, its own included. `None` if
    /// the release is not in the schedule. Cues that rest, or that a hand sets off, hold nobody to a time.
    pub fn decision(&self, show: &Show, service: &Service, release: Label) -> Option<Decision> {
        let of = |label: Label| self.rows.iter().find(|row| row.label == label);
        let own = of(release)?;
        let sent = |row: &&Row| row.wire.is_some() && row.goes.by_machine();
        let first = dependents(show, service, release)
            .into_iter()
            .filter_map(of)
            .filter(sent)
            .chain([own])
            .min_by_key(|row| (row.send, row.label))?;
        Some(Decision { at: first.send - DECIDE_AHEAD, first: first.label })
    }
}

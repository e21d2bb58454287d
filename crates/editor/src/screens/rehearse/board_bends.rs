//! What the board shows otherwise while a run bends: what will not come, and what comes after a wait or a vamp.

use super::board_state::BoardState;
use crate::rehearsal::choices;
use letfall_core::time::SongTime;
use letfall_live::{Fate, Moves};

/// Whether the song will come to a place: it does not if that is left out.
pub fn comes(state: &BoardState<'_>, at: SongTime) -> bool {
    let cut = state.run.and_then(|run| run.bends.cut);
    cut.is_none_or(|(from, to)| at < from || at >= to)
}

/// Whether a cue stays away because the fabric that it depends on stays.
pub fn stays_too(state: &BoardState<'_>, label: letfall_core::show::Label) -> bool {
    let Some(run) = state.run else { return false };
    let fates = run.plan.releases.iter().zip(&run.bends.fates);
    fates
        .filter(|(_, (fate, _))| matches!(fate, Fate::Stays | Fate::Early))
        .any(|(release, _)| release.dependents.iter().any(|item| run.plan.label(*item) == Some(label)))
}

/// What stands in place of the time left where that is not known: the song waits, goes by hand, or goes round before that.
pub fn until(state: &BoardState<'_>, at: SongTime) -> Option<String> {
    let run = state.run?;
    match run.place.moves {
        Moves::Waits => Some("after the wait".to_owned()),
        Moves::ByHand => Some("by hand".to_owned()),
        Moves::Runs if run.bends.leaving.is_none() => {
            let (_, to) = choices::vamp_here(run)?;
            (at >= to).then(|| "after the vamp".to_owned())
        }
        Moves::Runs | Moves::Stopped => None,
    }
}

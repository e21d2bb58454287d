//! When in a film something of the show should change, for finding out where in the picture it is.

use super::look::{planned_at, sent};
use super::{Filming, course};
use crate::align::Run;
use crate::picture::{Kind, Sighting};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::Row;
use letfall_core::show::{Action, Show};

/// From let-go to a little after the floor, whatever moment a release is timed to, seconds.
const FALL: f64 = 1.5;

/// Every moment of every run.
pub fn sightings(plan: &Prepared, runs: &[Run], begins: f64, filming: &Filming) -> Vec<Sighting> {
    let show = plan.show();
    let mut all = Vec::new();
    for row in sent(plan) {
        let does = &plan.cue(row).does;
        let Some((kind, shows, sightline)) = seen_as(show, row, does) else { continue };
        for run in runs {
            let Some(planned) = planned_at(plan, row, run, begins, filming) else { continue };
            let (fade, share) = course(plan, does);
            let (before, after) = if kind == Kind::Falls { (FALL, FALL) } else { (share * fade, (1.0 - share) * fade) };
            let (from, to) = (planned - before * run.slow, planned + after * run.slow);
            all.push(Sighting { shows: shows.clone(), kind, from, to, slow: run.slow, sightline });
        }
    }
    all
}

/// What is seen of a cue, by its name.
fn seen_as(show: &Show, row: &Row, does: &Action) -> Option<(Kind, String, Option<f64>)> {
    let receiver = || row.receiver.map(|at| show.receivers[at as usize].name.clone());
    match does {
        Action::Output { route } => {
            let output = show.output(&show.route(route)?.output)?;
            Some((Kind::Screen, output.name.clone(), None))
        }
        Action::Release { release, .. } => {
            let hang = show.hang(&show.release(release)?.hang)?;
            // Seen from straight in front; a person moves it.
            let share = (hang.top_m - hang.sightline_m) / hang.top_m;
            Some((Kind::Falls, hang.name.clone(), Some(share).filter(|share| (0.0..=1.0).contains(share))))
        }
        Action::Lighting { .. } => Some((Kind::Light, receiver()?, None)),
        Action::Media { .. } => Some((Kind::Player, receiver()?, None)),
    }
}

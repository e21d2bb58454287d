//! The input of one service's checks, and the problems they have found.

use super::problem::{Code, Problem};
use crate::schedule::{CallGroup, Schedule, SpokenCall};
use crate::show::{Label, Service, Show};
use crate::stage::Stage;

/// The input of one service's checks, and the problems they have found.
pub(crate) struct Checks<'a> {
    /// The show.
    pub show: &'a Show,
    /// The service.
    pub service: &'a Service,
    /// Its schedule.
    pub schedule: &'a Schedule,
    /// What its audience sees.
    pub stage: &'a Stage,
    /// The called cues, in order of their go.
    pub calls: &'a [SpokenCall],
    /// What the stage manager says, with calls that belong together joined.
    pub call_groups: &'a [CallGroup],
    /// What was found so far.
    pub found: Vec<Problem>,
}

impl Checks<'_> {
    /// Records a problem.
    pub fn find(&mut self, code: Code, cues: &[Label], what: impl Into<String>, remedy: impl Into<String>) {
        self.found.push(Problem {
            code,
            service: Some(self.service.name.clone()),
            cues: cues.to_vec(),
            what: what.into(),
            remedy: remedy.into(),
        });
    }

    /// The counted beat at or before a song time, and the time, for a sentence.
    pub fn place(&self, at: crate::time::SongTime) -> String {
        let grid = &self.schedule.grid;
        let place = grid.place_of(grid.tick_at(at));
        format!("bar {}, beat {} ({at})", place.bar, place.beat)
    }
}

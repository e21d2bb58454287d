//! What the stage manager says: standby and go.

use super::Schedule;
use super::call_words::{first_upper, names, saying};
use crate::show::{Cue, Kind, Label, Service, Show};
use crate::time::{BarBeat, SongSpan, SongTime, Tick, round};

/// One called cue.
#[derive(Debug, Clone, PartialEq)]
pub struct SpokenCall {
    /// The cue.
    pub label: Label,
    /// The index of its row in the schedule.
    pub row: u32,
    /// When the standby is said, on a beat; `None` if the cue has none.
    pub standby: Option<SongTime>,
    /// When the go is said: when the message leaves.
    pub go: SongTime,
    /// Words of the standby.
    pub standby_words: String,
    /// Words of the go.
    pub go_words: String,
    /// Who answers, as a role.
    pub answers: String,
    /// How long the standby takes to say at the show's speech rate.
    pub standby_lasts: SongSpan,
    /// How long the go takes to say.
    pub go_lasts: SongSpan,
}

/// Whether a cue is called aloud.
fn is_called(show: &Show, cue: &Cue) -> bool {
    let own = cue.call.as_ref().and_then(|c| c.called);
    !cue.resting && own.unwrap_or_else(|| show.track(&cue.track).is_some_and(|t| t.called))
}

/// The called cues of a service, in order of their go.
pub fn calls(show: &Show, service: &Service, schedule: &Schedule) -> Vec<SpokenCall> {
    let cues = service.cues.as_slice();
    (0u32..)
        .zip(&schedule.rows)
        .filter_map(|(place, row)| {
            let cue = cues.get(row.cue as usize).filter(|cue| is_called(show, cue))?;
            let usual =
                if row.label.kind == Kind::Release { show.settings.release_standby } else { show.settings.standby };
            let ahead = cue.call.as_ref().and_then(|c| c.standby).unwrap_or(usual);
            let standby = (ahead > SongSpan::ZERO).then(|| beat_at_or_before(schedule, row.send - ahead));
            let name = names(&[cue.label]);
            let words = |given: Option<&String>, usual: &str| match given {
                Some(given) if !given.trim().is_empty() => given.trim().to_owned(),
                _ => usual.replace("{}", &name),
            };
            let standby_words = words(cue.call.as_ref().map(|c| &c.standby_words), "Standby {}");
            let go_words = words(cue.call.as_ref().map(|c| &c.go_words), "{} go");
            let rate = show.settings.words_per_minute;
            Some(SpokenCall {
                label: row.label,
                row: place,
                standby,
                go: row.send,
                standby_lasts: saying(&standby_words, rate),
                go_lasts: saying(&go_words, rate),
                standby_words,
                go_words: first_upper(&go_words),
                answers: row.receiver.map_or_else(String::new, |at| show.receivers[at as usize].answers.clone()),
            })
        })
        .collect()
}

/// The last counted beat at or before a time.
fn beat_at_or_before(schedule: &Schedule, time: SongTime) -> SongTime {
    let grid = &schedule.grid;
    let before = Tick::new(round::nearest(libm::floor(grid.ticks_at(time.micros() as f64) + 1e-6)));
    let place = grid.place_of(before);
    grid.time_at(grid.tick_of(BarBeat { tick: 0, ..place }))
}

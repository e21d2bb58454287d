//! What the stage manager says: standby and go.

use super::Schedule;
use super::call_words::{Spoken, first_upper, names, saying};
use crate::show::{Goes, Kind, Label, Service, Show};
use crate::time::{BarBeat, SongSpan, SongTime, Tick, round};

/// One called cue: an operator presses for it on the word, or it is a release that is called.
#[derive(Debug, Clone, PartialEq)]
pub struct SpokenCall {
    /// The cue.
    pub label: Label,
    /// The index of its row in the schedule.
    pub row: u32,
    /// When the standby is said, on a beat; `None` if the cue has none.
    pub standby: Option<SongTime>,
    /// When the go is said, so that the hand that follows it is in time; for a release, when its message leaves.
    pub go: SongTime,
    /// Words of the standby.
    pub standby_words: String,
    /// Words of the go; empty for a release, because no hand acts on them.
    pub go_words: String,
    /// Who answers, as a role.
    pub answers: String,
    /// How long the standby takes to say at the show's speech rate.
    pub standby_lasts: SongSpan,
    /// How long the go takes to say.
    pub go_lasts: SongSpan,
}

/// The called cues of a service, in order of their go.
pub fn calls(show: &Show, service: &Service, schedule: &Schedule) -> Vec<SpokenCall> {
    let cues = service.cues.as_slice();
    (0u32..)
        .zip(&schedule.rows)
        .filter_map(|(place, row)| {
            let is_release = row.label.kind == Kind::Release;
            let called = |goes| if is_release { true } else { goes == Goes::Operator };
            let cue = cues.get(row.cue as usize).filter(|cue| !cue.resting && called(row.goes))?;
            if is_release && !show.is_watched(cue) {
                return None;
            }
            let usual = if is_release { show.settings.release_standby } else { show.settings.standby };
            let ahead = cue.call.as_ref().and_then(|c| c.standby).unwrap_or(usual);
            let standby = (ahead > SongSpan::ZERO).then(|| beat_at_or_before(schedule, row.send - ahead));
            let name = names(&[Spoken::of(show, cue)]);
            let words = |given: Option<&String>, usual: &str| match given {
                Some(given) if !given.trim().is_empty() => given.trim().to_owned(),
                _ => usual.replace("{}", &name),
            };
            let standby_words = words(cue.call.as_ref().map(|c| &c.standby_words), "Standby {}");
            let go_words =
                if is_release { String::new() } else { words(cue.call.as_ref().map(|c| &c.go_words), "{} go") };
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
                answers: match show.safety.arm_holder.trim() {
                    holder if is_release && !holder.is_empty() => holder.to_owned(),
                    _ => row.receiver.map_or_else(String::new, |at| show.receivers[at as usize].answers.clone()),
                },
            })
        })
        .collect()
}

/// The last counted beat at or before a time.
pub(super) fn beat_at_or_before(schedule: &Schedule, time: SongTime) -> SongTime {
    let grid = &schedule.grid;
    let before = Tick::new(round::nearest(libm::floor(grid.ticks_at(time.micros() as f64) + 1e-6)));
    let place = grid.place_of(before);
    grid.time_at(grid.tick_of(BarBeat { tick: 0, ..place }))
}

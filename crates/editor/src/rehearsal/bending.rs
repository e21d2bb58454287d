//! Bending a run: what a person chose, what the guide does then, and a start at a time of day.

use super::run::{GuideBend, Run};
use super::session::Rehearsal;
use crate::document::{Document, Waker};
use crate::playback::Playback;
use letfall_live::{Bend, Command, MachineSpan, Moves};

/// A day in microseconds.
const DAY: i64 = 86_400_000_000;
/// Whoever has not given a name.
const NOBODY: &str = "the desk";

impl Rehearsal {
    /// A person bends the run.
    pub(super) fn bend(&mut self, bend: Bend, playback: &mut Playback) {
        let holder = self.holder.trim().to_owned();
        if matches!(bend, Bend::Early { .. }) {
            // The music goes out with everything else.
            playback.stop();
        }
        let Some(run) = self.run.as_mut() else { return };
        let by = run.holder(if holder.is_empty() { NOBODY } else { &holder });
        run.command(Command::Bend { bend, by });
    }

    /// Starts from the playhead so that song time 0 comes at a time of day. A time that has just passed is taken as it is: the run begins at
    /// once, as far into the song.
    pub(super) fn start_at(&mut self, of_day: i64, document: &mut Document, playback: &mut Playback, wake: &Waker) {
        if self.runs() {
            return document.fail("it runs already; stop it first");
        }
        let wait = nearest_in_a_day(of_day - letfall_platform::time_of_day()) + document.playhead.micros();
        if wait < 0 {
            let words = "that time has passed. Start now, or give a later time";
            return document.fail(words);
        }
        self.start_in(MachineSpan::from_micros(wait), document, playback, wake);
    }
}

/// What the guide does when the run bends: it stands while the run waits, and is where the run is when it goes on.
pub(super) fn bend_guide(
    run: &mut Run,
    with_guide: bool,
    document: &mut Document,
    playback: &mut Playback,
    wake: &Waker,
) {
    match run.guide {
        Some(GuideBend::Stop) => {
            run.guide = None;
            playback.stop();
        }
        Some(GuideBend::From(place)) if run.place.moves == Moves::Runs && run.song() >= place => {
            run.guide = None;
            if with_guide {
                playback.stop();
                document.playhead = run.song();
                playback.toggle(document, wake.clone());
            }
        }
        _ => {}
    }
}

/// The planned time of day of song time 0, in microseconds after midnight.
pub(super) fn planned_start(document: &Document) -> Option<i64> {
    document.current().and_then(|service| service.starts).map(letfall_core::time::WallTime::micros)
}

/// The same moment of another day, nearest to now: a start at five past midnight is late for half past eleven, not early.
pub(super) const fn nearest_in_a_day(micros: i64) -> i64 {
    let within = micros.rem_euclid(DAY);
    if within > DAY / 2 { within - DAY } else { within }
}

#[cfg(test)]
mod tests {
    use super::nearest_in_a_day;

    #[test]
    fn a_start_after_midnight_is_late_and_not_a_day_early() {
        let minutes = |m: i64| m * 60_000_000;
        assert_eq!(nearest_in_a_day(minutes(5) - minutes(23 * 60 + 30)), minutes(35));
        assert_eq!(nearest_in_a_day(minutes(23 * 60 + 30) - minutes(5)), -minutes(35));
        assert_eq!(nearest_in_a_day(minutes(12)), minutes(12));
    }
}

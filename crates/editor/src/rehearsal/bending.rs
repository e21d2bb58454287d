//! Bending a run: what a person chose, what the guide does then, and a start at a time of day.

use super::session::Rehearsal;
use crate::document::{Document, Waker};
use crate::playback::Playback;
use letfall_core::time::nearest_in_a_day;
use letfall_live::{Bend, Command, MachineSpan};

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

//! Another's clock: listening to it, noticing that it fell silent.

use super::session::Rehearsal;
use crate::document::Document;
use letfall_core::midi::MidiInput;
use letfall_live::{Command, Follow, Follower, FollowerEvent};
use std::sync::{Arc, Mutex, PoisonError};

impl Rehearsal {
    /// Whether it follows another device's clock. If that goes silent it must be noticed, even if nothing moves on the screen.
    pub const fn follows(&self) -> bool {
        self.follower.is_some()
    }

    /// Stops the run if the clock that it follows has gone silent.
    pub(super) fn watch_follower(&self) {
        let Some((run, follower)) = self.run.as_ref().zip(self.follower.as_ref()) else { return };
        if follower.lock().unwrap_or_else(PoisonError::into_inner).is_silent(run.now()) {
            run.command(Command::Stop);
        }
    }

    /// Listens to the chosen port: clock messages go to the run, hits go to the recorder.
    pub(super) fn listen_in(&mut self, document: &mut Document) {
        (self.input, self.follower) = (None, None);
        let Some((run, handle)) = self.run.as_ref().and_then(|run| Some((run, run.handle()?))) else { return };
        if self.options.input.is_empty() {
            return;
        }
        let follower = Follower::new(self.options.follow, run.plan.grid.clone(), run.plan.timecode);
        let follower = Arc::new(Mutex::new(follower));
        let (hears, give, clock) = (follower.clone(), handle.commander(), handle.clock());
        let hits = self.recorder.input();
        let (taps, led) = (self.band_hits.clone(), self.options.band);
        let heard = move |bytes: &[u8]| {
            let now = clock.now();
            hits(bytes, now);
            // A pad that is struck or a pedal that is pressed is a tap.
            let struck = matches!(MidiInput::read(bytes), MidiInput::NoteOn { .. })
                || matches!(bytes, [0xb0..=0xbf, 64..=67, 64..=127]);
            if led && struck {
                taps.lock().unwrap_or_else(PoisonError::into_inner).push(now);
            }
            let says = hears.lock().unwrap_or_else(PoisonError::into_inner).hear(bytes, now);
            match says {
                Some(FollowerEvent::Start(song)) => give(Command::FollowStart { song, at: now }),
                Some(FollowerEvent::At(song)) => give(Command::Follow { song, at: now }),
                Some(FollowerEvent::Locate(song)) => give(Command::Locate { song }),
                Some(FollowerEvent::Stop) => give(Command::Stop),
                None => true,
            };
        };
        match (self.ports)().listen(&self.options.input, Box::new(heard)) {
            Ok(input) => {
                self.input = Some(input);
                self.follower = (self.options.follow != Follow::Nothing).then_some(follower);
            }
            Err(why) => document.fail(why),
        }
    }
}

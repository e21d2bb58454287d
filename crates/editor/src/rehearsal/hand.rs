//! The hand on a release: one press for one release, lifted by Esc, by letting go, by a window that nobody looks at.

use super::run::ReleaseStatus;
use super::session::Rehearsal;
use crate::document::Document;
use letfall_live::{Command, Grip, Mode};

/// Seconds within which a second Esc stops all.
const SECOND_ESCAPE: f64 = 2.0;

impl Rehearsal {
    /// Esc was pressed at a time of the screen's clock, in seconds. The first press locks every release; a second within two seconds
    /// is for stop-all, which this gives.
    pub(super) fn escape(&mut self, now: f64, document: &mut Document) -> bool {
        let again = self.escaped.is_some_and(|before| now - before <= SECOND_ESCAPE);
        self.escaped = (!again).then_some(now);
        if !again {
            self.lock_all(document);
        }
        again
    }

    /// Every release is locked at once, whatever hand is on it; the hand must be lifted and press anew. The run goes on.
    fn lock_all(&mut self, document: &mut Document) {
        self.lift();
        if self.runs() {
            document.say("Every release is locked. Esc again within two seconds stops all");
        }
    }

    /// No hand counts any more. One that is still down holds nothing until it is lifted.
    pub(super) fn lift(&mut self) {
        if let Some(run) = &self.run {
            run.let_go_all(self.grip);
        }
        self.spent_hand |= self.holding.take().is_some();
    }

    /// Handles the key or button that arms. The hold is renewed in every frame, and ends when the key or button is let go.
    pub(super) fn hold(&mut self, held: bool, document: &mut Document) {
        self.spent_hand &= held;
        let wanted = self.holding.or_else(|| self.next_release());
        let Some(release) = wanted.filter(|_| held && !self.spent_hand && self.mode() == Mode::Perform) else {
            if !held {
                self.lift();
                self.spent_hand = false;
            }
            return;
        };
        let Some(run) = self.run.as_mut() else { return };
        // A run goes by the safety sheet that it was made with.
        let missing = &run.plan.unsafe_because;
        if !missing.is_empty() {
            return document.fail(format!("it cannot be armed: the safety sheet leaves open {}", missing.join(", ")));
        }
        if let Some(why) = run.barred(release.index()) {
            return document.fail(format!("it cannot be armed: {why}"));
        }
        if self.holder.trim().is_empty() {
            return document.fail("say who holds the release before it can be armed");
        }
        if self.holding.is_none() {
            self.grip = Grip(self.grip.0 + 1);
            self.holding = Some(release);
        }
        let holder = run.holder(self.holder.trim());
        run.command(Command::Hold { release, holder, grip: self.grip, at: run.now() });
    }

    /// Whether a release is being held, so that the next frame must come soon.
    pub const fn is_holding(&self) -> bool {
        self.holding.is_some()
    }

    /// The releases that are armed, by name.
    pub fn armed(&self) -> Vec<String> {
        let Some(run) = &self.run else { return Vec::new() };
        let armed = run.plan.releases.iter().zip(&run.locks);
        let armed = armed.filter(|(_, lock)| matches!(lock, ReleaseStatus::Armed(_) | ReleaseStatus::Opening(_)));
        armed.map(|(release, _)| format!("{} {}", release.label, release.name)).collect()
    }
}

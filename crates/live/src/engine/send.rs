//! Offering a message to the gate, or reporting why it was not sent, and ending notes.

use super::state::Engine;
use super::terms::{Timing, say};
use crate::event::{EventSink, SendOutcome};
use crate::gate::{Debt, Gate, Payload, Task};
use crate::units::{ItemIndex, MachineTime};

impl Engine {
    /// Sends one message, or reports why not.
    pub(super) fn message(&mut self, place: ItemIndex, timing: Timing, gate: &mut Gate, tell: EventSink<'_>) {
        let Some(item) = self.plan.item(place).copied() else { return };
        if let Some(begun) = item.ends {
            // The port's thread ends a release's contact by itself, whatever happens here.
            let contact = item.only.is_some_and(|mode| mode == crate::Mode::Perform);
            if !contact && item.only.is_none_or(|mode| mode == self.mode) {
                // The port's thread knows whether the note was begun, and only then ends it.
                let task = Task::End { begun };
                let _gone = gate.offer(item.port, Payload::Plan(item.bytes), task, item.rank, timing.due);
            }
            return;
        }
        if let Some(release) = item.release {
            return self.release(place, &item, release, timing, gate, tell);
        }
        if !self.may_leave_now(place, timing, tell) {
            return;
        }
        if let Err(why) = self.cue(place, SendOutcome::Sent, timing.due, gate) {
            say(tell, place, why, timing, None);
        }
    }

    /// Offers a message of the plan that is not a release.
    pub(super) fn cue(
        &self,
        place: ItemIndex,
        outcome: SendOutcome,
        due: MachineTime,
        gate: &mut Gate,
    ) -> Result<(), SendOutcome> {
        let Some(item) = self.plan.item(place).copied() else { return Ok(()) };
        let task = Task::Cue { item: place, outcome, owes: self.debt(place, item.ended_by) };
        gate.offer(item.port, Payload::Plan(item.bytes), task, item.rank, due)
    }

    /// The debt of a message: which later message must end what it begins.
    pub(super) fn debt(&self, begun: ItemIndex, end: Option<ItemIndex>) -> Option<Debt> {
        let end = end?;
        Some(Debt { begun, end, bytes: self.plan.item(end)?.bytes, after: None })
    }
}

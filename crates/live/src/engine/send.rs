//! Offering one message to the gate, or saying why not; and ending what was begun.

use super::state::Engine;
use super::terms::{Timing, say};
use crate::event::{EventSink, SendOutcome};
use crate::gate::{Debt, Gate, Payload, Task};
use crate::units::{ItemIndex, MachineTime};

impl Engine {
    /// Sends one message, or says why not.
    pub(super) fn message(&mut self, place: ItemIndex, timing: Timing, gate: &mut Gate, tell: EventSink<'_>) {
        let Some(item) = self.plan.item(place).copied() else { return };
        if let Some(begun) = item.ends {
            // The end of a release's contact is its port's own affair: it comes whatever happens here.
            let contact = item.only.is_some_and(|mode| mode == crate::Mode::Perform);
            if !contact && item.only.is_none_or(|mode| mode == self.mode) {
                // What was not begun is not ended; the port knows.
                let task = Task::End { begun };
                let _gone = gate.offer(item.port, Payload::Plan(item.bytes), task, item.rank(), timing.due);
            }
            return;
        }
        if let Some(release) = item.release {
            return self.release(place, &item, release, timing, gate, tell);
        }
        if let Err(why) = self.cue(place, SendOutcome::Sent, timing.due, gate) {
            say(tell, place, why, timing, None);
        }
    }

    /// Offers a message of the plan that is no release.
    pub(super) fn cue(
        &self,
        place: ItemIndex,
        outcome: SendOutcome,
        due: MachineTime,
        gate: &mut Gate,
    ) -> Result<(), SendOutcome> {
        let Some(item) = self.plan.item(place).copied() else { return Ok(()) };
        let task = Task::Cue { item: place, outcome, owes: self.debt(place, item.ended_by) };
        gate.offer(item.port, Payload::Plan(item.bytes), task, item.rank(), due)
    }

    /// What a message that is ended by another begins.
    pub(super) fn debt(&self, begun: ItemIndex, end: Option<ItemIndex>) -> Option<Debt> {
        let end = end?;
        Some(Debt { begun, end, bytes: self.plan.item(end)?.bytes, after: None })
    }
}

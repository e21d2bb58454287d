//! Starting within the song: what should hold there is sent first.

use super::send::{Timing, say};
use super::state::{Engine, MidiSink};
use crate::event::{EventSink, SendOutcome};
use crate::units::{ItemIndex, MachineTime};
use letfall_core::time::SongTime;

impl Engine {
    /// Sends what should hold at a song time: the last that set each row of the stage. A release sets none.
    pub(super) fn chase(&mut self, song: SongTime, now: MachineTime, wires: &mut dyn MidiSink, tell: EventSink<'_>) {
        self.holds.fill(None);
        let until = self.plan.items.partition_point(|i| i.due < song);
        for (place, item) in self.plan.items[..until].iter().enumerate() {
            if let Some(row) = item.sets.filter(|_| item.release.is_none() && item.ends.is_none())
                && let Some(holds) = self.holds.get_mut(usize::from(row))
            {
                *holds = Some(ItemIndex::at(place));
            }
        }
        let timing = Timing { due: now, now };
        for row in 0..self.holds.len() {
            let Some((place, item)) = self.holds[row].and_then(|at| Some((at, self.plan.item(at).copied()?))) else {
                continue;
            };
            if self.would_release(&item) {
                say(tell, place, SendOutcome::WouldRelease, timing, None);
                continue;
            }
            let sent = self.bytes_to(&item, item.bytes, now, wires, tell);
            if sent.is_ok()
                && let Some(off) = item.ended_by.and_then(|at| self.plan.item(at).copied())
            {
                // A note that recalls something ends at once: its own end is in the past. What becomes of it is the note's affair.
                let _sent = self.bytes_to(&off, off.bytes, now, wires, tell);
            }
            say(tell, place, sent.err().unwrap_or(SendOutcome::Chased), timing, None);
        }
    }
}

//! Sending one message, or saying why not; and ending what was begun.

use super::state::{Engine, MidiSink};
use crate::command::Mode;
use crate::event::{Event, EventSink, SendOutcome};
use crate::interlock::{DisarmReason, Lock};
use crate::run_plan::{ByteRange, RunItem, are_one};
use crate::units::{HolderId, ItemIndex, MachineSpan, MachineTime, ReleaseIndex, ShowPort};
use letfall_core::midi::silence;

/// Later than this a release is not sent: the moment is gone. Our own figure.
const RELEASE_LATE: MachineSpan = MachineSpan::from_millis(250);

/// When a message was due and when that came.
#[derive(Debug, Clone, Copy)]
pub(super) struct Timing {
    /// When it was due.
    pub due: MachineTime,
    /// Now.
    pub now: MachineTime,
}

/// Says what became of a message.
pub(super) fn say(
    tell: EventSink<'_>,
    item: ItemIndex,
    outcome: SendOutcome,
    Timing { due, now }: Timing,
    holder: Option<HolderId>,
) {
    tell(Event::Message { item, outcome, due, at: now, holder });
}

impl Engine {
    /// Sends one message, or says why not.
    pub(super) fn message(
        &mut self,
        place: ItemIndex,
        due: MachineTime,
        now: MachineTime,
        wires: &mut dyn MidiSink,
        tell: EventSink<'_>,
    ) {
        let Some(item) = self.plan.item(place).copied() else { return };
        let timing = Timing { due, now };
        if let Some(on) = item.ends {
            // An end goes with its beginning: what was not begun is not ended.
            if item.only.is_none_or(|mode| mode == self.mode) && self.take_sounding(on) {
                let sent = self.bytes_to(&item, item.bytes, now, wires, tell);
                say(tell, place, sent.err().unwrap_or(SendOutcome::Sent), timing, None);
            }
            return;
        }
        if let Some(release) = item.release {
            return self.release(place, &item, release, timing, wires, tell);
        }
        let outcome = if self.would_release(&item) {
            SendOutcome::WouldRelease
        } else {
            self.begin(place, &item, item.bytes, now, wires, tell).err().unwrap_or(SendOutcome::Sent)
        };
        say(tell, place, outcome, timing, None);
    }

    /// Sends a release while somebody holds it open, in rehearsal its stand-in, or says why not.
    fn release(
        &mut self,
        place: ItemIndex,
        item: &RunItem,
        release: ReleaseIndex,
        timing: Timing,
        wires: &mut dyn MidiSink,
        tell: EventSink<'_>,
    ) {
        let Timing { due, now } = timing;
        if self.mode == Mode::Rehearse {
            let outcome = match item.stand_in {
                None => SendOutcome::Rehearsed,
                Some(_) if self.would_release(item) => SendOutcome::WouldRelease,
                Some(bytes) => self.begin(place, item, bytes, now, wires, tell).err().unwrap_or(SendOutcome::StandIn),
            };
            return say(tell, place, outcome, timing, None);
        }
        let song = self.song(now);
        let there = self.is_there(item.port);
        let Some(lock) = self.locks.get_mut(release.index()) else { return };
        let outcome = if lock.lock() == Lock::Spent {
            SendOutcome::Twice
        } else if now - due > RELEASE_LATE {
            SendOutcome::TooLate
        } else if !self.plan.unsafe_because.is_empty() {
            SendOutcome::Locked
        } else if !there {
            SendOutcome::NoPort
        } else if let Some(holder) = lock.pass(now, song) {
            // The lock is spent whatever the wire says: a message that may have left is never sent again.
            let sent = self.begin(place, item, item.bytes, now, wires, tell);
            return say(tell, place, sent.err().unwrap_or(SendOutcome::Sent), timing, Some(holder));
        } else {
            SendOutcome::Locked
        };
        say(tell, place, outcome, timing, None);
    }

    /// Sends a message and remembers that its note, if it begins one, must be ended.
    fn begin(
        &mut self,
        place: ItemIndex,
        item: &RunItem,
        bytes: ByteRange,
        now: MachineTime,
        wires: &mut dyn MidiSink,
        tell: EventSink<'_>,
    ) -> Result<(), SendOutcome> {
        self.bytes_to(item, bytes, now, wires, tell)?;
        if let Some(sounding) = self.sounding.get_mut(place.index())
            && !*sounding
            && (item.ended_by.is_some() || item.stand_in_ended_by.is_some())
        {
            *sounding = true;
            self.begun.push(place);
        }
        Ok(())
    }

    /// Whether a note sounds; from now on it does not.
    fn take_sounding(&mut self, on: ItemIndex) -> bool {
        let sounds = self.sounding.get_mut(on.index()).is_some_and(std::mem::take);
        if sounds {
            // Most often one of the last that began.
            if let Some(at) = self.begun.iter().rposition(|begun| *begun == on) {
                self.begun.swap_remove(at);
            }
        }
        sounds
    }

    /// Sends bytes of the plan to a message's port.
    pub(super) fn bytes_to(
        &mut self,
        item: &RunItem,
        bytes: ByteRange,
        now: MachineTime,
        wires: &mut dyn MidiSink,
        tell: EventSink<'_>,
    ) -> Result<(), SendOutcome> {
        let plan = self.plan.clone();
        if self.send(item.port, plan.bytes(bytes), now, wires, tell) { Ok(()) } else { Err(SendOutcome::NoPort) }
    }

    /// Whether a message would fire a release by what its port leaves by.
    pub(super) fn would_release(&self, item: &RunItem) -> bool {
        self.plan.would_release(item, |a, b| are_one(&self.physical, a, b))
    }

    /// Sends to a port that is there; a port that fails is lost from then on, and the others go on.
    pub(super) fn send(
        &mut self,
        port: ShowPort,
        bytes: &[u8],
        now: MachineTime,
        wires: &mut dyn MidiSink,
        tell: EventSink<'_>,
    ) -> bool {
        if !self.is_there(port) {
            return false;
        }
        if wires.send(port, bytes).is_ok() {
            return true;
        }
        self.there[port.index()] = false;
        tell(Event::PortLost { port, at: now });
        self.close(DisarmReason::PortLost, now, tell);
        false
    }

    /// Ends every note that sounds, in the order in which they began.
    pub(super) fn end_notes(&mut self, wires: &mut dyn MidiSink, now: MachineTime, tell: EventSink<'_>) {
        self.begun.sort_unstable();
        for at in 0..self.begun.len() {
            let on = self.begun[at];
            self.sounding[on.index()] = false;
            let Some(begun) = self.plan.item(on).copied() else { continue };
            let rehearses = begun.release.is_some() && self.mode == Mode::Rehearse;
            let end = if rehearses { begun.stand_in_ended_by } else { begun.ended_by };
            let Some((place, off)) = end.and_then(|at| Some((at, self.plan.item(at).copied()?))) else { continue };
            let sent = self.bytes_to(&off, off.bytes, now, wires, tell);
            say(tell, place, sent.err().unwrap_or(SendOutcome::Sent), Timing { due: now, now }, None);
        }
        self.begun.clear();
    }

    /// Tells every device to be silent, whatever sounds there.
    pub(super) fn silence(&mut self, now: MachineTime, wires: &mut dyn MidiSink, tell: EventSink<'_>) {
        for port in 0..self.there.len() {
            for channel in 0..16u8 {
                for bytes in silence(channel) {
                    self.send(ShowPort::at(port), &bytes, now, wires, tell);
                }
            }
        }
    }
}

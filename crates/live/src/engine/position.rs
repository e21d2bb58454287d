//! Where the song is: running from a place, following another's clock, jumping.

use super::state::{Engine, State};
use super::terms::{Chase, Timing, say};
use crate::event::{Event, EventSink, SendOutcome};
use crate::gate::Gate;
use crate::interlock::DisarmReason;
use crate::sync;
use crate::units::{ItemIndex, MachineTime};
use letfall_core::time::{SongSpan, SongTime};

/// A place by another's clock that is off by more than this is no drift between clocks: locks close. Our own figure.
const HICCUP: SongSpan = SongSpan::from_millis(150);
/// A place that is off by more than this is another place: what lies between is neither sent late nor sent again. Our own figure.
const JUMP: SongSpan = SongSpan::from_millis(2000);
impl Engine {
    /// Puts everything that is due at the first that is due from a song time on.
    pub(super) fn seek(&mut self, song: SongTime) {
        self.next = self.plan.items.partition_point(|i| i.due < song);
        self.saying = None;
        if let Some(at) = self.plan.timecode {
            self.quarter_frame = sync::first_quarter_frame(song, at);
        }
        self.clock = (!self.sync.clock.is_empty()).then(|| sync::first_clock(&self.plan.grid, song));
    }

    pub(super) fn run_from(
        &mut self,
        song: SongTime,
        at: MachineTime,
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        self.seek(song);
        self.announce(song, now, gate);
        self.send_start(now, gate);
        self.state = State::Runs { song, at };
        self.begin_steps(now);
        tell(Event::Started { song, at });
    }

    /// Goes on from another place: what waits is out of date, what was begun ends, and receivers are put right.
    pub(super) fn jump(
        &mut self,
        song: SongTime,
        at: MachineTime,
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        self.close(DisarmReason::Located, now, tell);
        gate.withdraw(now, tell);
        gate.end_all(now);
        if !crate::planted!(NoChaseAfterLoop) {
            self.chase(Chase::Changed, (song, at), now, gate, tell);
        }
        self.run_from(song, at, now, gate, tell);
    }

    /// The place by another's clock, at a time of the machine's. A little off is followed, a hiccup closes locks; a jump passes over
    /// what lies between, which is told.
    pub(super) fn follow(
        &mut self,
        song: SongTime,
        at: MachineTime,
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        let State::Runs { song: own, at: since } = self.state else { return };
        let off = song - (own + (at - since).to_song());
        if off.abs() >= HICCUP {
            self.close(DisarmReason::Located, now, tell);
        }
        if off.abs() < JUMP {
            // What was sent is not sent again, and what is overdue by a hiccup is sent at once: only what comes later moves.
            self.state = State::Runs { song, at };
            return;
        }
        let before = self.next;
        self.jump(song, at, now, gate, tell);
        for place in before..self.next {
            if self.plan.items[place].ends.is_none() {
                let timing = Timing { due: now, now };
                say(tell, ItemIndex::at(place), SendOutcome::JumpedOver, timing, None);
            }
        }
    }
}

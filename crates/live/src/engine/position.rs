//! Where the song is: running from a place, following an external clock, jumping.

use super::state::{Engine, State};
use super::terms::{Chase, Timing, say};
use crate::bend::{Answer, BandPlace, Bend, Rate};
use crate::event::{Event, EventSink, SendOutcome};
use crate::gate::Gate;
use crate::interlock::DisarmReason;
use crate::sync;
use crate::units::{ItemIndex, MachineTime};
use letfall_core::time::{SongSpan, SongTime};

/// When an external clock is off by this much, it is more than drift between clocks, and locks close. Our own figure.
const HICCUP: SongSpan = SongSpan::from_millis(150);
/// When an external clock is off by this much, it is a jump. Messages in between are neither sent late nor sent again.
/// Our own figure.
const JUMP: SongSpan = SongSpan::from_millis(2000);

impl Engine {
    /// Sets the next message, quarter frame and clock to the first ones due from a song time on.
    pub(super) fn seek(&mut self, song: SongTime) {
        self.next = self.plan.timed().partition_point(|i| i.due < song);
        self.overtook.clear();
        self.saying = None;
        if let Some(at) = self.plan.timecode {
            self.quarter_frame = sync::first_quarter_frame(song, at);
        }
        self.clock = (!self.sync.clock.is_empty()).then(|| sync::first_clock(&self.plan.grid, song));
    }

    /// Runs from a place, which is reached at a time of the machine's clock. Everything from before is broken off, and receivers
    /// are chased.
    pub(super) fn go_to(
        &mut self,
        (song, at): (SongTime, MachineTime),
        chase: Option<Chase>,
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        self.break_off(DisarmReason::Located, now, gate, tell);
        if let Some(rows) = chase {
            self.chase(rows, (song, at), now, gate, tell);
        }
        self.seek(song);
        self.announce(song, now, gate);
        self.state = State::Runs { song, at, rate: Rate::PLANNED };
        if at > now {
            self.start_due = Some(at);
        } else {
            self.send_start(now, gate);
        }
        self.path.begin(song);
        self.look_ahead(song);
        self.begin_steps(now);
        tell(Event::Started { song, at });
    }

    /// Continues from another place. Only receivers that differ from the plan there are chased.
    pub(super) fn jump(
        &mut self,
        place: (SongTime, MachineTime),
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        let chase = (!crate::planted!(NoChaseAfterLoop)).then_some(Chase::Changed);
        self.go_to(place, chase, now, gate, tell);
    }

    /// Takes the place of an external clock at a time of the machine's clock. A small difference is followed, and a larger one
    /// also closes locks. A jump skips the messages in between and reports them.
    pub(super) fn follow(
        &mut self,
        song: SongTime,
        at: MachineTime,
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        let State::Runs { rate, .. } = self.state else { return };
        let Some(own) = self.song(at) else { return };
        let off = song - own;
        if off.abs() >= HICCUP {
            self.close(DisarmReason::Located, now, tell);
        }
        if off.abs() < JUMP {
            // Messages that were sent are not sent again, and those that are now overdue are sent at once.
            // Only later messages move.
            self.state = State::Runs { song, at, rate };
            return;
        }
        let before = self.next;
        self.jump((song, at), now, gate, tell);
        for place in before..self.next {
            if self.plan.timed()[place].ends.is_none() {
                let timing = Timing { due: now, now };
                say(tell, ItemIndex::at(place), SendOutcome::JumpedOver, timing, None);
            }
        }
    }

    /// Takes the place of a band that leads the time. As long as it is not sure where the band is, every release is locked; after that
    /// whoever arms must press again.
    pub(super) fn follow_band(
        &mut self,
        place: Option<BandPlace>,
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        let State::Runs { .. } = self.state else { return };
        self.led = false;
        let was = std::mem::replace(&mut self.unsure, !place.is_some_and(|place| place.sure));
        // Whoever pressed while it was unsure must press again.
        if (was || self.unsure) && !crate::planted!(ArmedUnsure) {
            self.close(DisarmReason::Unsure, now, tell);
        }
        // What was said before a turn that the song has taken since is of a place that lies behind it.
        let heard = |place: &BandPlace| place.turns == self.turns || crate::planted!(PlaceBeforeATurn);
        let Some(place) = place.filter(heard) else { return };
        let Some(own) = self.song(place.at) else { return };
        let off = (place.song - own).abs();
        if off >= HICCUP {
            self.close(DisarmReason::Located, now, tell);
        }
        if off >= JUMP {
            // Somebody said that the band is elsewhere.
            self.jump((place.song, place.at), now, gate, tell);
        }
        self.state = State::Runs { song: place.song, at: place.at, rate: place.rate };
    }

    /// No band leads any more.
    pub(super) fn band_ends(&mut self, now: MachineTime, tell: EventSink<'_>) {
        if std::mem::take(&mut self.unsure) {
            self.close(DisarmReason::Unsure, now, tell);
        }
        if let Some(song) = self.song(now) {
            self.state = State::Runs { song, at: now, rate: Rate::PLANNED };
        }
    }

    /// Carries out what a person chose.
    pub(super) fn bend(&mut self, bend: Bend, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) -> Answer {
        match bend {
            Bend::Wait { .. }
            | Bend::GoOn
            | Bend::Vamp { .. }
            | Bend::Leave { .. }
            | Bend::Cut { .. }
            | Bend::TakeBack => self.bend_path(bend, now, gate, tell),
            Bend::Stays { .. } | Bend::Stuck { .. } | Bend::Early { .. } | Bend::Down { .. } | Bend::TryAt { .. } => {
                self.bend_release(bend, now, gate, tell)
            }
            Bend::ByHand | Bend::Next => self.bend_by_hand(bend, now, gate, tell),
        }
    }
}

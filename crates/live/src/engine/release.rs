//! Releases: who holds them, whether they may leave, and a second try.

use super::state::{Engine, State};
use super::terms::{Timing, say};
use crate::command::Mode;
use crate::event::{Event, EventSink, SendOutcome};
use crate::gate::{Debt, Gate, Payload, Task};
use crate::interlock::{DisarmReason, Lock};
use crate::orders::Grip;
use crate::run_plan::RunItem;
use crate::units::{HolderId, ItemIndex, MachineSpan, MachineTime, ReleaseIndex};
use letfall_core::show::Kind;

/// A release that is later than this is not sent, because its moment has passed. Our own figure.
const RELEASE_LATE: MachineSpan = MachineSpan::from_millis(250);

/// A release must reach the driver within this time after the engine let it go. On a stuck port it is dropped, so that it does
/// not surprise anybody later. Our own figure.
const HAND_OVER: MachineSpan = MachineSpan::from_millis(20);

impl Engine {
    /// Sends a release if somebody holds it open, or its stand-in in rehearsal. Otherwise reports why it was not sent.
    pub(super) fn release(
        &mut self,
        place: ItemIndex,
        item: &RunItem,
        release: ReleaseIndex,
        timing: Timing,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        let Timing { due, now } = timing;
        if self.mode == Mode::Rehearse {
            let outcome = match item.stand_in {
                None => SendOutcome::Rehearsed,
                Some(bytes) => {
                    let owes = self.debt(place, item.stand_in_ended_by);
                    let task = Task::Cue { item: place, outcome: SendOutcome::StandIn, owes };
                    match gate.offer(item.port, Payload::Plan(bytes), task, Kind::Output.rank(), due) {
                        Ok(()) => return,
                        Err(why) => why,
                    }
                }
            };
            return say(tell, place, outcome, timing, None);
        }
        let there = gate.can_release(item.port);
        let song = self.song(now);
        let Some(lock) = self.locks.get_mut(release.index()) else { return };
        if crate::planted!(LoopRenews) && lock.lock() == Lock::Spent {
            lock.renew();
        }
        let outcome = if lock.lock() == Lock::Spent || lock.is_second_try() {
            // Reaching the same place again, by a loop or a jump, never sends it again.
            SendOutcome::Twice
        } else if now - due > RELEASE_LATE {
            SendOutcome::TooLate
        } else if !self.plan.unsafe_because.is_empty() {
            SendOutcome::Locked
        } else if !there {
            SendOutcome::NoPort
        } else if let Some((holder, grip)) = lock.pass(now, song) {
            // The lock is spent even if sending fails: a message that may have left is never sent again.
            return self.let_it_go(place, item, (release, holder, grip), timing, gate, tell);
        } else {
            SendOutcome::Locked
        };
        say(tell, place, outcome, timing, None);
    }

    fn let_it_go(
        &mut self,
        place: ItemIndex,
        item: &RunItem,
        (release, holder, grip): (ReleaseIndex, HolderId, Grip),
        timing: Timing,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        self.grip_is_over(grip);
        self.releases_due(timing.now, gate);
        let owes = self
            .debt(place, item.ended_by)
            .map(|debt| Debt { after: self.plan.release(release).and_then(|r| r.pulse), ..debt });
        let task = Task::Release { item: place, release, holder, grip, not_after: timing.now + HAND_OVER, owes };
        if let Err(why) = gate.offer(item.port, Payload::Plan(item.bytes), task, Kind::Release.rank(), timing.due) {
            say(tell, place, why, timing, Some(holder));
        }
    }

    /// A person holds a release, or still holds it. The command was given at `given` and arrived at `now`.
    pub(super) fn hold(
        &mut self,
        (release, holder, grip): (ReleaseIndex, HolderId, Grip),
        (given, now): (MachineTime, MachineTime),
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        self.seen = self.seen.max(grip);
        // Handle earlier let-gos first.
        self.hear_let_go(now, tell);
        // Nothing can be armed in rehearsal, nor while the safety sheet is incomplete.
        if self.mode == Mode::Rehearse || !self.plan.unsafe_because.is_empty() {
            return;
        }
        // A release whose port is not available cannot be sent, so it is not armed either.
        if !self.plan.release(release).is_some_and(|r| gate.can_release(r.port)) {
            return;
        }
        // One press serves one release, until that release closes or leaves. Once a press is over, late commands for it do
        // nothing.
        let taken = self.gripped.is_some_and(|(of, by)| by == grip && of != release);
        let over = grip <= self.over || taken;
        if (over && !crate::planted!(OneGripForAll)) || !self.orders.is_held(release, grip) {
            return;
        }
        let song = self.song(now);
        let Some(lock) = self.locks.get_mut(release.index()) else { return };
        let before = lock.lock();
        match lock.hold((given, now), song, holder, grip) {
            Ok(armed) => {
                if !matches!(lock.lock(), Lock::Closed | Lock::Spent) {
                    self.gripped = Some((release, grip));
                }
                if armed {
                    tell(Event::Armed { release, holder, at: now });
                    self.second_try(release, now, gate, tell);
                } else if before == Lock::Closed && matches!(lock.lock(), Lock::Opening { .. }) {
                    tell(Event::Opening { release, holder, at: now });
                }
            }
            Err(why) => self.closed(release, grip, why, now, tell),
        }
    }

    /// A person asks for a second try of a release that was sent. Its own window starts now, and it leaves as soon as somebody
    /// has held it for long enough.
    pub(super) fn open_second_try(&mut self, release: ReleaseIndex, now: MachineTime, tell: EventSink<'_>) {
        let Some(song) = self.song(now).filter(|_| self.mode == Mode::Perform) else { return };
        let Some(length) = self.plan.release(release).map(|r| r.to - r.from) else { return };
        if self.locks.get_mut(release.index()).is_some_and(|lock| lock.begin_second_try(song, song + length)) {
            tell(Event::SecondTry { release, at: now });
        }
    }

    fn second_try(&mut self, release: ReleaseIndex, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        let song = self.song(now);
        let Some(lock) = self.locks.get_mut(release.index()).filter(|lock| lock.is_second_try()) else { return };
        let found = self.plan.items.iter().position(|i| i.release == Some(release) && i.ends.is_none());
        let Some((place, item)) = found.map(|at| (ItemIndex::at(at), self.plan.items[at])) else { return };
        if let Some((holder, grip)) = lock.pass(now, song) {
            self.let_it_go(place, &item, (release, holder, grip), Timing { due: now, now }, gate, tell);
        }
    }

    /// Closes the locks that were let go since the last step.
    pub(super) fn hear_let_go(&mut self, now: MachineTime, tell: EventSink<'_>) {
        for at in 0..self.locks.len() {
            let release = ReleaseIndex::at(at);
            if let Some(grip) = self.locks[at].grip()
                && !self.orders.is_held(release, grip)
                && self.locks[at].close()
            {
                self.closed(release, grip, DisarmReason::LetGo, now, tell);
            }
        }
    }

    /// Closes every lock that is armed or opening. Anybody who is pressing now must let go and press again.
    pub(super) fn close(&mut self, why: DisarmReason, now: MachineTime, tell: EventSink<'_>) {
        self.grip_is_over(self.seen);
        self.close_if(|_| true, why, now, tell);
    }

    /// Closes the locks that `which` selects, if they are armed or opening.
    pub(super) fn close_if(
        &mut self,
        which: impl Fn(ReleaseIndex) -> bool,
        why: DisarmReason,
        now: MachineTime,
        tell: EventSink<'_>,
    ) {
        for at in 0..self.locks.len() {
            let (release, grip) = (ReleaseIndex::at(at), self.locks[at].grip());
            if which(release) && self.locks[at].close() {
                self.closed(release, grip.unwrap_or_default(), why, now, tell);
            }
        }
    }

    /// Closes locks whose window or hold is over.
    pub(super) fn tick_locks(&mut self, now: MachineTime, tell: EventSink<'_>) {
        let song = self.song(now);
        for at in 0..self.locks.len() {
            let grip = self.locks[at].grip();
            if let Err(why) = self.locks[at].tick(now, song) {
                self.closed(ReleaseIndex::at(at), grip.unwrap_or_default(), why, now, tell);
            }
        }
    }

    /// A lock was closed. Whoever held it must let go and press again.
    fn closed(&mut self, release: ReleaseIndex, grip: Grip, why: DisarmReason, now: MachineTime, tell: EventSink<'_>) {
        self.grip_is_over(grip);
        tell(Event::Disarmed { release, why, at: now });
    }

    fn grip_is_over(&mut self, grip: Grip) {
        self.over = self.over.max(grip);
    }

    /// Tells the gate when and on which ports unsent releases are due, so that it keeps their wires free.
    pub(super) fn releases_due(&self, now: MachineTime, gate: &mut Gate) {
        let State::Runs { song, at } = self.state else { return };
        let perform = self.mode == Mode::Perform;
        let due = self.plan.releases.iter().zip(&self.locks);
        let due = due.filter(|(_, lock)| perform && lock.lock() != Lock::Spent);
        let open = due.clone().filter(|(_, lock)| self.song(now).is_some_and(|here| lock.is_within(here)));
        gate.may_release(open.map(|(release, _)| release.port));
        gate.keep_free(&due.map(|(release, _)| (release.port, at + MachineSpan::of_song(release.send - song))));
    }
}

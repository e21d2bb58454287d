//! Releases: who holds them, whether they may leave, and a second try.

use super::state::{Engine, State};
use super::terms::{Timing, say};
use crate::command::Mode;
use crate::event::{Event, EventSink, Fate, SendOutcome};
use crate::gate::{Debt, Gate, Payload, Task};
use crate::interlock::{DisarmReason, Interlock, Lock};
use crate::orders::Grip;
use crate::run_plan::RunItem;
use crate::units::{HolderId, ItemIndex, MachineSpan, MachineTime, ReleaseIndex};
use letfall_core::show::Kind;
use letfall_core::time::{SongSpan, SongTime};

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
        let course = self.courses.get(release.index()).copied().unwrap_or_default();
        if matches!(course.fate, Fate::Stays | Fate::Early) {
            let outcome = match (self.mode, course.fate) {
                (Mode::Perform, Fate::Stays) if !gate.can_release(item.port) => SendOutcome::NoPort,
                (Mode::Perform, Fate::Stays) => SendOutcome::Locked,
                _ => SendOutcome::OtherCourse,
            };
            return say(tell, place, outcome, timing, None);
        }
        if self.mode == Mode::Rehearse {
            // In a rehearsal it counts as gone, so that the other courses can be rehearsed too.
            if let Some(course) = self.courses.get_mut(release.index()) {
                course.fate = Fate::Gone;
            }
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
        let song = self.lock_song(release, now);
        let again = course.shift != SongSpan::ZERO;
        let Some(lock) = self.locks.get_mut(release.index()) else { return };
        if crate::planted!(LoopRenews) && lock.lock() == Lock::Spent {
            lock.renew();
        }
        let outcome = if lock.is_settled() || lock.is_second_try() && !again {
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
        if course.fate == Fate::Open && outcome != SendOutcome::Twice {
            self.stays(release, now, gate, tell);
        }
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
        let before = self.courses.get(release.index()).map(|course| course.fate);
        if let Some(course) = self.courses.get_mut(release.index()).filter(|course| course.fate == Fate::Open) {
            course.fate = Fate::Given;
        }
        if let Err(why) = gate.offer(item.port, Payload::Plan(item.bytes), task, Kind::Release.rank(), timing.due) {
            say(tell, place, why, timing, Some(holder));
            if before == Some(Fate::Open) {
                self.stays(release, timing.now, gate, tell);
            }
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
        // Handle earlier let-gos first, and what is settled by now.
        self.hear_let_go(now, tell);
        self.decide(now, gate, tell);
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
        let unsure = self.unsure && !crate::planted!(ArmedUnsure);
        let over = grip <= self.over || taken || unsure;
        if (over && !crate::planted!(OneGripForAll)) || !self.orders.is_held(release, grip) {
            return;
        }
        let song = self.lock_song(release, now);
        let Some(lock) = self.locks.get_mut(release.index()) else { return };
        let before = lock.lock();
        match lock.hold((given, now), song, holder, grip) {
            Ok(armed) => {
                if !matches!(lock.lock(), Lock::Closed | Lock::Spent | Lock::Withheld) {
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
        // What was not sent is tried at a place of its own, see `try_at`.
        let may = |lock: &&mut Interlock| lock.lock() == Lock::Spent;
        if self
            .locks
            .get_mut(release.index())
            .filter(may)
            .is_some_and(|lock| lock.begin_second_try(song, song + length))
        {
            tell(Event::SecondTry { release, at: now });
        }
    }

    fn second_try(&mut self, release: ReleaseIndex, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        let song = self.song(now);
        // With a place of its own it leaves when that comes.
        if self.courses.get(release.index()).is_some_and(|course| course.shift != SongSpan::ZERO) {
            return;
        }
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
        for at in 0..self.locks.len() {
            let grip = self.locks[at].grip();
            let song = self.lock_song(ReleaseIndex::at(at), now);
            if let Err(why) = self.locks[at].tick(now, song) {
                self.closed(ReleaseIndex::at(at), grip.unwrap_or_default(), why, now, tell);
            }
        }
    }

    /// The song time that counts for the window of a release. By hand its window opens with its group.
    fn lock_song(&self, release: ReleaseIndex, now: MachineTime) -> Option<SongTime> {
        match self.state {
            State::ByHand { .. } => {
                self.plan.release(release).filter(|_| self.is_at_hand(release)).map(|facts| facts.send)
            }
            _ => self.song(now),
        }
    }

    /// A lock was closed. Whoever held it must let go and press again.
    pub(super) fn closed(
        &mut self,
        release: ReleaseIndex,
        grip: Grip,
        why: DisarmReason,
        now: MachineTime,
        tell: EventSink<'_>,
    ) {
        self.grip_is_over(grip);
        tell(Event::Disarmed { release, why, at: now });
    }

    fn grip_is_over(&mut self, grip: Grip) {
        self.over = self.over.max(grip);
    }

    /// Tells the gate when and on which ports unsent releases are due, so that it keeps their wires free.
    pub(super) fn releases_due(&self, now: MachineTime, gate: &mut Gate) {
        let perform = self.mode == Mode::Perform;
        let all = self.plan.releases.iter().zip(&self.locks).zip(&self.courses).enumerate();
        let due = all.filter(|(_, ((_, lock), _))| perform && !lock.is_settled());
        let within = |at: usize, lock: &Interlock| {
            self.lock_song(ReleaseIndex::at(at), now).is_some_and(|here| lock.is_within(here))
        };
        let open = due.clone().filter(|(at, ((_, lock), _))| within(*at, lock));
        gate.may_release(open.map(|(_, ((release, _), _))| release.port));
        if !self.runs() {
            return;
        }
        gate.keep_free(&due.filter_map(|(_, ((release, _), course))| {
            let pace = self.rate().pace(release.land - release.send);
            Some((release.port, self.machine(release.send + course.shift + pace)?))
        }));
    }
}

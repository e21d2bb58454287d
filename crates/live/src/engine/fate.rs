//! What becomes of a release, and of what depends on it: it falls, the fabric stays, is stuck, or fell early.
//!
//! Nothing that depends on a release is sent before it is armed, and nothing after it unless it left. It is settled by its decision time;
//! after that nobody can arm it any more.

use super::parts::{ReleaseCourse, Unsettled};
use super::state::{Engine, State};
use super::terms::{Chase, Timing, say};
use crate::bend::{Answer, Bend, Refusal};
use crate::command::Mode;
use crate::event::{Event, EventSink, Fate, SendOutcome};
use crate::gate::{Gate, Payload, Task};
use crate::interlock::{DisarmReason, HOLD, Lock};
use crate::units::{ItemIndex, MachineSpan, MachineTime, ReleaseIndex};
use letfall_core::show::{Course, Kind};
use letfall_core::time::{SongSpan, SongTime};

/// How long a message waits for the word whether a release left, at the longest: a port's thread gives a release up sooner. Our own figure.
const SETTLED: MachineSpan = MachineSpan::from_millis(60);
/// How often that word is looked for.
const LOOKS: MachineSpan = MachineSpan::from_millis(1);
/// From the opening of the window to the decision there must be this much: two seconds for the hand, and the hold. Common practice, no source.
const TO_ARM: SongSpan = SongSpan::from_millis(2000 + HOLD.micros() / 1000);

/// Whether a message that depends on releases may leave.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum May {
    Leave,
    Wait,
    Not,
}

impl Engine {
    /// A new run: everything is open again.
    pub(super) fn renew_courses(&mut self) {
        self.courses.fill(ReleaseCourse::default());
        self.retimed.clear();
        self.unsettled.clear();
        self.hand.pictures = None;
    }

    /// The mode changes: what counted as gone in a rehearsal has not gone.
    pub(super) fn forget_rehearsed(&mut self, mode: Mode) {
        if mode != self.mode {
            self.retimed.clear();
            for (course, lock) in self.courses.iter_mut().zip(&self.locks) {
                if !lock.is_settled() {
                    *course = ReleaseCourse::default();
                }
            }
        }
    }

    /// Whether a message may leave, as far as releases are concerned.
    fn may_leave(&self, item: ItemIndex) -> May {
        if crate::planted!(DependentsUnguarded) {
            return May::Leave;
        }
        let Some(item) = self.plan.item(item) else { return May::Not };
        let depends = self.plan.releases_of(item.depends).iter().map(|release| self.depends_on(*release));
        let held = self.plan.releases_of(item.held).iter().map(|release| match self.fate(*release) {
            Some(Fate::Stuck(_)) => May::Not,
            _ => May::Leave,
        });
        depends.chain(held).max().unwrap_or(May::Leave)
    }

    fn depends_on(&self, release: ReleaseIndex) -> May {
        let armed = self.lock(release).is_some_and(|lock| matches!(lock, Lock::Armed { .. }));
        match self.fate(release).unwrap_or_default() {
            Fate::Gone | Fate::Stuck(_) => May::Leave,
            Fate::Open if self.mode == Mode::Rehearse || armed => May::Leave,
            Fate::Given => May::Wait,
            Fate::Open | Fate::Stays | Fate::Early => May::Not,
        }
    }

    /// Whether a message has a time of its own, because its release is tried once more.
    pub(super) fn is_retimed(&self, item: ItemIndex) -> bool {
        let Some(item) = self.plan.item(item) else { return false };
        let retimed = |release: &ReleaseIndex| {
            self.courses.get(release.index()).is_some_and(|course| course.shift != SongSpan::ZERO)
        };
        item.ends.is_none() && self.plan.releases_of(item.depends).iter().chain(&item.release).any(retimed)
    }

    /// Whether a message may leave now. If that is not known yet, it waits; if not, that is reported.
    pub(super) fn may_leave_now(&mut self, item: ItemIndex, timing: Timing, tell: EventSink<'_>) -> bool {
        match self.may_leave(item) {
            May::Leave => true,
            May::Wait if self.unsettled.len() < self.unsettled.capacity() => {
                self.unsettled.push(Unsettled { item, due: timing.due, until: timing.now + SETTLED });
                false
            }
            May::Wait | May::Not => {
                self.miss(item);
                say(tell, item, SendOutcome::OtherCourse, timing, None);
                false
            }
        }
    }

    /// Remembers that something that depends on a release was not sent.
    fn miss(&mut self, item: ItemIndex) {
        let plan = self.plan.clone();
        let Some(item) = plan.item(item) else { return };
        for release in plan.releases_of(item.depends).iter().chain(plan.releases_of(item.held)) {
            if let Some(course) = self.courses.get_mut(release.index()) {
                course.missed = true;
            }
        }
    }

    /// Whether chasing may send a message that sets a row: what depends on a release that has not gone is no state of the stage.
    pub(super) fn may_be_chased(&self, item: ItemIndex) -> bool {
        self.may_leave(item) == May::Leave
    }

    /// Sends or gives up what waits for a release. Returns when to look again.
    pub(super) fn settle_waiting(
        &mut self,
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) -> Option<MachineTime> {
        let mut at = 0;
        while let Some(waits) = self.unsettled.get(at).copied() {
            let timing = Timing { due: waits.due, now };
            match self.may_leave(waits.item) {
                May::Wait if now < waits.until => {
                    at += 1;
                    continue;
                }
                May::Leave => {
                    if let Err(why) = self.cue(waits.item, SendOutcome::Sent, waits.due, gate) {
                        say(tell, waits.item, why, timing, None);
                    }
                }
                May::Wait | May::Not => {
                    self.miss(waits.item);
                    say(tell, waits.item, SendOutcome::OtherCourse, timing, None);
                }
            }
            self.unsettled.remove(at);
        }
        (!self.unsettled.is_empty()).then_some(now + LOOKS)
    }

    /// Hears from the gate which releases left.
    pub(super) fn hear_settled(&mut self, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        while let Some((release, left)) = gate.take_settled() {
            let course = self.courses.get(release.index()).copied().unwrap_or_default();
            if course.fate != Fate::Given {
                continue;
            }
            if left {
                self.has_gone(release, now, gate, tell);
            } else {
                self.stays(release, now, gate, tell);
            }
        }
    }

    /// A release left, or a person saw that the fabric is down. What depends on it and was not sent is sent now.
    fn has_gone(&mut self, release: ReleaseIndex, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        let Some(course) = self.courses.get_mut(release.index()) else { return };
        let missed = std::mem::take(&mut course.missed);
        (course.fate, course.instead) = (Fate::Gone, None);
        tell(Event::Fate { release, fate: Fate::Gone, late: false, at: now });
        if missed && let Some(song) = self.song(now) {
            self.chase(Chase::Changed, (song, now), now, gate, tell);
        }
    }

    /// Settles the releases whose decision has come and that nobody has armed.
    pub(super) fn decide(&mut self, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        let Some(here) = self.song(now).filter(|_| self.mode == Mode::Perform) else { return };
        let plan = self.plan.clone();
        for (at, release) in plan.releases.iter().enumerate() {
            let index = ReleaseIndex::at(at);
            let course = self.courses[at];
            // Beyond a bend the song may never come to it.
            let reached = self.path.turn.is_none_or(|turn| release.send + course.shift < turn.at);
            let armed = matches!(self.locks[at].lock(), Lock::Armed { .. });
            if course.fate == Fate::Open && !armed && reached && here >= release.decision + course.shift {
                self.stays(index, now, gate, tell);
            }
        }
    }

    /// When the next release must be settled.
    pub(super) fn next_decision(&self, now: MachineTime) -> Option<MachineTime> {
        let here = self.song(now).filter(|_| self.mode == Mode::Perform)?;
        let all = self.plan.releases.iter().zip(&self.courses);
        let open = all.filter(|(_, course)| course.fate == Fate::Open);
        let ahead = open.map(|(release, course)| release.decision + course.shift).filter(|decision| *decision > here);
        self.machine(ahead.min()?)
    }

    /// A release is not sent: the fabric stays.
    pub(super) fn stays(&mut self, release: ReleaseIndex, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        if crate::planted!(NobodyDecides) {
            return;
        }
        self.withhold(release, now, tell);
        self.take_course(release, Course::Stays, Fate::Stays, now, gate, tell);
    }

    /// Nobody can arm a release any more, but by a second try.
    fn withhold(&mut self, release: ReleaseIndex, now: MachineTime, tell: EventSink<'_>) {
        let lock = &mut self.locks[release.index()];
        let grip = lock.grip();
        if lock.withhold() {
            self.closed(release, grip.unwrap_or_default(), DisarmReason::Stays, now, tell);
        }
    }

    /// A release takes another course: what that sends is sent at once.
    fn take_course(
        &mut self,
        release: ReleaseIndex,
        taken: Course,
        fate: Fate,
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        let song = self.place(now).song;
        let shift = self.courses[release.index()].shift;
        let plan = self.plan.clone();
        let Some(facts) = plan.release(release) else { return };
        let has_left = |item: &ItemIndex| {
            let due = plan.item(*item).map_or(SongTime::MAX, |item| item.due);
            due + shift < song
        };
        let late = taken == Course::Stays && facts.dependents.iter().any(has_left) && song < facts.send + shift;
        let course = &mut self.courses[release.index()];
        (course.fate, course.instead) = (fate, Some((taken, song)));
        tell(Event::Fate { release, fate, late, at: now });
        // What was stopped sends nothing more, but for light where people may be hurt.
        if matches!(self.state, State::Stands { .. }) && taken != Course::Early {
            return;
        }
        let timing = Timing { due: now, now };
        for item in facts.sent_instead(taken) {
            let is_light = plan.item(*item).is_some_and(|item| item.rank == Kind::Lighting.rank());
            // After an early fall people come before pictures: those wait for a key.
            if taken != Course::Early || is_light {
                self.whole(*item, SendOutcome::Sent, timing, gate, tell);
            }
        }
    }

    /// Sends a message, and what ends it right after it.
    pub(super) fn whole(
        &mut self,
        item: ItemIndex,
        outcome: SendOutcome,
        timing: Timing,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        let Some(facts) = self.plan.item(item).copied() else { return };
        if let Err(why) = self.cue(item, outcome, timing.due, gate) {
            say(tell, item, why, timing, None);
        } else if facts.ended_by.is_some() {
            let task = Task::End { begun: item };
            let _gone = gate.offer(facts.port, Payload::Plan(facts.bytes), task, facts.rank, timing.due);
        }
    }

    /// Carries out what a person chose for a release.
    pub(super) fn bend_release(
        &mut self,
        bend: Bend,
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) -> Answer {
        let Some(release) = bend.release().filter(|release| self.courses.get(release.index()).is_some()) else {
            return Answer::Refused(Refusal::Nothing);
        };
        let fate = self.courses[release.index()].fate;
        let rehearses = self.mode == Mode::Rehearse;
        // What was stopped stays stopped until a person starts; only where people may be hurt does light come at once.
        if matches!(self.state, State::Stands { .. }) && !matches!(bend, Bend::Early { .. }) {
            return Answer::Refused(Refusal::NotRunning);
        }
        let done = match bend {
            Bend::Stays { .. } if fate == Fate::Open => {
                self.stays(release, now, gate, tell);
                Ok(())
            }
            Bend::Stays { .. } if fate == Fate::Stays => Err(Refusal::Nothing),
            Bend::Stuck { part, .. } if matches!(fate, Fate::Stuck(_)) => {
                // Only what is written down changes: left, right or all.
                self.courses[release.index()].fate = Fate::Stuck(part);
                tell(Event::Fate { release, fate: Fate::Stuck(part), late: false, at: now });
                Ok(())
            }
            Bend::Stuck { part, .. } if matches!(fate, Fate::Given | Fate::Gone) => {
                self.take_course(release, Course::Stuck, Fate::Stuck(part), now, gate, tell);
                Ok(())
            }
            Bend::Stuck { .. } => Err(Refusal::NotSent),
            Bend::Early { .. } if matches!(fate, Fate::Open | Fate::Stays) => {
                self.fell_early(release, now, gate, tell);
                Ok(())
            }
            Bend::Stays { .. } | Bend::Early { .. } => Err(Refusal::Sent),
            Bend::Down { .. } => {
                // Nobody lets go what is down.
                self.withhold(release, now, tell);
                self.courses[release.index()].missed = true;
                self.has_gone(release, now, gate, tell);
                Ok(())
            }
            Bend::TryAt { .. } if rehearses => Err(Refusal::Rehearsing),
            Bend::TryAt { land, .. } => self.try_at(release, land, now, tell),
            _ => Err(Refusal::Nothing),
        };
        done.map_or_else(Answer::Refused, |()| Answer::Done)
    }

    /// The fabric fell before its time: everything stops, and light comes first.
    fn fell_early(&mut self, release: ReleaseIndex, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        self.stop(DisarmReason::Stopped, now, gate, tell);
        self.locks[release.index()].withhold();
        self.take_course(release, Course::Early, Fate::Early, now, gate, tell);
        self.hand.pictures = Some(release);
    }

    /// A release whose fabric stayed is tried once more, to land at a place ahead: with a window, a decision and a hold of its own.
    fn try_at(
        &mut self,
        release: ReleaseIndex,
        land: SongTime,
        now: MachineTime,
        tell: EventSink<'_>,
    ) -> Result<(), Refusal> {
        let here = self.song(now).ok_or(Refusal::NotRunning)?;
        let plan = self.plan.clone();
        let facts = plan.release(release).ok_or(Refusal::Nothing)?;
        if self.courses[release.index()].fate != Fate::Stays {
            return Err(Refusal::Sent);
        }
        if self.locks[release.index()].is_second_try() {
            return Err(Refusal::TriedTwice);
        }
        let shift = land - facts.land;
        let from = (facts.from + shift).max(here);
        let soon = facts.decision + shift - from < TO_ARM;
        if soon || self.path.turn.is_some_and(|turn| from < turn.at && turn.at <= land) {
            return Err(Refusal::NoTimeToArm);
        }
        if !self.locks[release.index()].begin_second_try(from, facts.to + shift) {
            return Err(Refusal::TriedTwice);
        }
        let own = plan.timed().iter().position(|item| item.release == Some(release) && item.ends.is_none());
        let again = facts.dependents.iter().copied().chain(own.map(ItemIndex::at));
        for item in again {
            if self.retimed.len() < self.retimed.capacity()
                && let Some(facts) = plan.item(item)
            {
                self.retimed.push((facts.due + shift, item));
            }
        }
        // The next one last.
        self.retimed.sort_unstable_by(|a, b| b.cmp(a));
        self.courses[release.index()] = ReleaseCourse { shift, ..ReleaseCourse::default() };
        tell(Event::SecondTry { release, at: now });
        tell(Event::Fate { release, fate: Fate::Open, late: false, at: now });
        Ok(())
    }
}

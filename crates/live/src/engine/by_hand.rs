//! By hand: when clock or playback fails, a person sends each group of cues that land together. Within a group every message leaves as long
//! before the common land as its lead asks for.

use super::state::{Engine, State};
use super::terms::{Chase, Timing};
use crate::bend::{Answer, Bend, Refusal};
use crate::event::{Event, EventSink, SendOutcome};
use crate::gate::Gate;
use crate::interlock::DisarmReason;
use crate::run_plan::HandGroup;
use crate::units::{ItemIndex, MachineSpan, MachineTime, ReleaseIndex};
use letfall_core::show::{Course, Kind};
use letfall_core::time::SongTime;

impl Engine {
    /// Carries out what a person chose to do by hand.
    pub(super) fn bend_by_hand(
        &mut self,
        bend: Bend,
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) -> Answer {
        match (bend, self.state) {
            (Bend::ByHand, State::ByHand { .. }) => Answer::Refused(Refusal::Nothing),
            (Bend::ByHand, _) => {
                let since = self.place(now).song;
                self.stop(DisarmReason::Stopped, now, gate, tell);
                self.state = State::ByHand { since };
                // The clock that failed must not take over again by itself, and no band is followed.
                (self.follows, self.unsure) = (false, false);
                self.hand.next = self.plan.groups.partition_point(|group| !self.is_ahead(group, since));
                self.hand.reached = since;
                // What still waited for its port was withdrawn: what it would have set is sent anew.
                self.chase(Chase::Changed, (since, now), now, gate, tell);
                self.begin_steps(now);
                Answer::Done
            }
            (Bend::Next, _) if self.hand.pictures.is_some() => {
                self.send_pictures(now, gate, tell);
                Answer::Done
            }
            (Bend::Next, State::ByHand { since }) => self.send_group(since, now, tell),
            _ => Answer::Refused(Refusal::NotRunning),
        }
    }

    /// Whether a group has a message that the clock has not sent.
    fn is_ahead(&self, group: &HandGroup, since: SongTime) -> bool {
        group.items.iter().filter_map(|item| self.plan.item(*item)).any(|item| item.due >= since)
    }

    fn send_group(&mut self, since: SongTime, now: MachineTime, tell: EventSink<'_>) -> Answer {
        let plan = self.plan.clone();
        let Some(group) = plan.groups.get(self.hand.next) else { return Answer::Refused(Refusal::Nothing) };
        let due = |item: &ItemIndex| plan.item(*item).map(|item| item.due).filter(|due| *due >= since);
        let Some(first) = group.items.iter().find_map(due) else { return Answer::Refused(Refusal::Nothing) };
        for item in &group.items {
            if let Some(due) = due(item)
                && self.hand.queue.len() < self.hand.queue.capacity()
            {
                self.hand.queue.push((now + MachineSpan::of_song(due - first), *item));
            }
        }
        self.hand.queue.sort_unstable_by(|a, b| b.cmp(a));
        tell(Event::Group { group: u32::try_from(self.hand.next).unwrap_or(u32::MAX), at: now });
        self.hand.next += 1;
        self.hand.reached = group.land;
        Answer::Done
    }

    /// Sends what is due of the groups that a hand has sent. Returns when something is due next.
    pub(super) fn send_by_hand(
        &mut self,
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) -> Option<MachineTime> {
        loop {
            let (due, item) = self.hand.queue.last().copied()?;
            if due > now {
                return Some(due);
            }
            self.hand.queue.pop();
            let timing = Timing { due, now };
            let Some(facts) = self.plan.item(item).copied() else { continue };
            if let Some(release) = facts.release {
                self.hand.leaving = Some(release);
                self.release(item, &facts, release, timing, gate, tell);
                self.hand.leaving = None;
            } else if self.may_leave_now(item, timing, tell) {
                self.whole(item, SendOutcome::Sent, timing, gate, tell);
            }
        }
    }

    /// Whether a message has left with its group.
    pub(super) fn has_gone_by_hand(&self, item: ItemIndex) -> bool {
        let group = self.plan.group_of.get(item.index()).copied().flatten();
        group.is_some_and(|group| group < self.hand.next) && !self.hand.queue.iter().any(|(_, waits)| *waits == item)
    }

    /// Whether a release is in the group that goes next, or in one that is leaving: then it can be armed.
    pub(super) fn is_at_hand(&self, release: ReleaseIndex) -> bool {
        let next = self.plan.groups.get(self.hand.next).is_some_and(|group| group.releases.contains(&release));
        let leaving = |(_, item): &(MachineTime, ItemIndex)| {
            self.plan.item(*item).is_some_and(|item| item.release == Some(release))
        };
        next || self.hand.leaving == Some(release) || self.hand.queue.iter().any(leaving)
    }

    /// After an early fall: the pictures, once people are looked after.
    fn send_pictures(&mut self, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        let Some(release) = self.hand.pictures.take() else { return };
        let plan = self.plan.clone();
        let Some(facts) = plan.release(release) else { return };
        for item in facts.sent_instead(Course::Early) {
            if plan.item(*item).is_some_and(|item| item.rank != Kind::Lighting.rank()) {
                self.whole(*item, SendOutcome::Sent, Timing { due: now, now }, gate, tell);
            }
        }
    }
}

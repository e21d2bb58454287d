//! What is due: messages of the plan, of a release that is tried once more, and ahead of a bend; timecode and clock; and the bends themselves.

use super::parts::OVERTAKING;
use super::state::{Engine, State};
use super::terms::Timing;
use crate::bend::Rate;
use crate::event::EventSink;
use crate::gate::Gate;
use crate::interlock::DisarmReason;
use crate::run_plan::OVERTAKES;
use crate::sync;
use crate::units::{ItemIndex, MachineSpan, MachineTime};
use letfall_core::time::{SongSpan, SongTime};

/// When steps are further apart than this, the machine slept or stalled, and locks close. Our own figure.
const STOOD_STILL: MachineSpan = MachineSpan::from_millis(1000);

/// What is due next.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Due {
    /// A message of the plan.
    Planned(ItemIndex),
    /// A message that leaves ahead of a bend, for what lands after it: its place in that list.
    Ahead(usize),
    /// A message of a release that is tried once more: its place in that list.
    Retimed(usize),
    Frame,
    Clock(i64),
}

impl Engine {
    /// Sends what is due. Returns when something is due next, by the machine's clock. `None` while stopped.
    pub fn step(&mut self, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) -> Option<MachineTime> {
        self.hear_ports(now, gate, tell);
        let since = self.stepped.map_or(MachineSpan::ZERO, |stepped| now - stepped);
        self.stepped = Some(now);
        if !matches!(self.state, State::Stands { .. }) && !(MachineSpan::ZERO..=STOOD_STILL).contains(&since) {
            self.close(DisarmReason::Slept, now, tell);
        }
        self.hear_let_go(now, tell);
        self.tick_locks(now, tell);
        self.hear_settled(now, gate, tell);
        self.decide(now, gate, tell);
        self.releases_due(now, gate);
        if let Some(due) = self.start_due.filter(|due| *due <= now) {
            self.start_due = None;
            self.send_start(due.max(now), gate);
        }
        let next = self.send_due(now, gate, tell);
        let by_hand = self.send_by_hand(now, gate, tell);
        let settles = self.settle_waiting(now, gate, tell);
        [next, by_hand, settles, self.start_due, self.next_decision(now)].into_iter().flatten().min()
    }

    fn send_due(&mut self, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) -> Option<MachineTime> {
        loop {
            let here = self.song(now)?;
            let machine = |engine: &Engine, place: SongTime| engine.machine(place).unwrap_or(now);
            let due = self.next_due();
            let turn = self.path.turn.map(|turn| turn.at);
            let leaves = [self.looped.map(|(_, to)| to), turn].into_iter().flatten().min();
            if let Some(leaves) = leaves
                && here >= leaves
                && due.is_none_or(|(due, _)| due >= leaves)
            {
                // What comes next starts exactly when the end was due, so that rounds do not drift.
                let at = machine(self, leaves);
                match self.looped.filter(|(_, to)| *to == leaves) {
                    Some((from, _)) => self.jump((from, at), now, gate, tell),
                    None => self.turn((leaves, at), now, gate, tell),
                }
                self.releases_due(now, gate);
                continue;
            }
            let ends = self.plan.timed().last().map_or(self.plan.end, |last| last.due.max(self.plan.end));
            match due {
                Some((song, what)) if song <= here => {
                    let timing = Timing { due: machine(self, song), now };
                    self.do_next(what, timing, gate, tell);
                }
                Some((song, _)) => {
                    let next = leaves.map_or(song, |leaves| song.min(leaves));
                    return Some(machine(self, next));
                }
                None if here > ends && leaves.is_none() => {
                    self.stop(DisarmReason::Stopped, now, gate, tell);
                }
                None => {
                    let after = ends + SongSpan::from_micros(1);
                    return Some(machine(self, leaves.unwrap_or(after)));
                }
            }
        }
    }

    /// The song time of whatever is due next, and what it is. The show's own messages go before timecode and clock.
    fn next_due(&self) -> Option<(SongTime, Due)> {
        let planned = self.next_planned().map(|(due, item)| (due, Due::Planned(item)));
        let ahead = self.next_ahead().map(|(due, at)| (due, Due::Ahead(at)));
        // The list ends with the first of the plan, which goes first of those that are due together.
        let retimed = self.retimed.iter().enumerate().rev();
        let retimed = retimed.map(|(at, (due, item))| (*due + self.pace(*item), Due::Retimed(at)));
        let retimed = retimed.min_by_key(|(due, _)| *due);
        let frame = self.frame_due().map(|due| (due, Due::Frame));
        let clock = self.clock.map(|n| (sync::clock_due(&self.plan.grid, n), Due::Clock(n)));
        // Of those that are due together, the first of this list goes first.
        [planned, ahead, retimed, frame, clock].into_iter().flatten().min_by_key(|(due, _)| *due)
    }

    /// The next message of the plan, and when it is due in the song. A band that goes faster or slower than planned changes how much song a
    /// lead takes, so that a later message may go first.
    fn next_planned(&self) -> Option<(SongTime, ItemIndex)> {
        let State::Runs { rate, .. } = self.state else { return None };
        let items = self.plan.timed().get(self.next..)?;
        let first = items.first()?;
        if rate == Rate::PLANNED && self.overtook.is_empty() {
            return Some((first.due, ItemIndex::at(self.next)));
        }
        let mut best: Option<(SongTime, ItemIndex)> = None;
        for (at, item) in items.iter().enumerate().take(OVERTAKING) {
            let index = ItemIndex::at(self.next + at);
            if best.is_some_and(|(due, _)| item.due > due + OVERTAKES) {
                break;
            }
            if self.overtook.contains(&index) {
                continue;
            }
            let due = item.due + self.pace(index);
            if best.is_none_or(|(known, _)| due < known) {
                best = Some((due, index));
            }
        }
        best
    }

    /// The next message that leaves ahead of a bend. What is due beyond it, because the band has become slower, leaves after it.
    fn next_ahead(&self) -> Option<(SongTime, usize)> {
        let turn = self.path.turn?;
        let all = self.path.ahead.iter().enumerate().filter(|(_, ahead)| !ahead.left);
        let due = all.map(|(at, ahead)| (ahead.due + self.pace(ahead.item), at)).filter(|(due, _)| *due < turn.at);
        due.min_by_key(|(due, _)| *due)
    }

    /// How much later in the song a message is due than planned, as the song goes now.
    fn pace(&self, item: ItemIndex) -> SongSpan {
        self.plan.pace(item, self.rate())
    }

    /// Takes a message of the plan off the list of what is to come.
    fn take_planned(&mut self, item: ItemIndex) {
        if item.index() != self.next && self.overtook.len() < self.overtook.capacity() {
            self.overtook.push(item);
        } else {
            self.next = self.next.max(item.index() + 1);
        }
        while let Some(at) = self.overtook.iter().position(|of| of.index() == self.next) {
            self.overtook.swap_remove(at);
            self.next += 1;
        }
        let next = self.next;
        self.overtook.retain(|of| of.index() > next);
    }

    /// Does what is due.
    fn do_next(&mut self, what: Due, timing: Timing, gate: &mut Gate, tell: EventSink<'_>) {
        match what {
            Due::Planned(item) => {
                self.take_planned(item);
                if self.is_on_path(item) && !self.is_retimed(item) {
                    self.message(item, timing, gate, tell);
                }
            }
            Due::Ahead(at) => {
                let Some(ahead) = self.path.ahead.get_mut(at) else { return };
                ahead.left = true;
                let item = ahead.item;
                self.message(item, timing, gate, tell);
            }
            Due::Retimed(at) => {
                let (_, item) = self.retimed.remove(at);
                self.message(item, timing, gate, tell);
            }
            Due::Frame => self.send_quarter_frame(timing.due, gate),
            Due::Clock(number) => self.send_clock(number, timing.due, gate),
        }
    }
}

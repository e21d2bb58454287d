//! Chasing: bringing receivers to the state that the plan has at a place, after a start within the song, a loop or a jump, and
//! when a port comes back.

use super::state::{Engine, State};
use super::terms::{Chase, Timing};
use crate::event::{EventSink, SendOutcome};
use crate::gate::Gate;
use crate::units::{ItemIndex, MachineTime};
use letfall_core::time::SongTime;

impl Engine {
    /// Sends the state that the plan has at a song time: for each row of the stage, the last message that sets it. Neither a
    /// release nor the end of a message sets a row. `due` is when the song is at that time. Messages that are due later leave after these, even if they are
    /// late already.
    pub(super) fn chase(
        &mut self,
        what: Chase,
        (song, due): (SongTime, MachineTime),
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        self.holds.fill(None);
        let until = self.plan.timed().partition_point(|i| i.due < song);
        for (place, item) in self.plan.timed().iter().enumerate() {
            // What is sent in the first round of a vamp only is there in all others.
            let is_there = match self.state {
                State::ByHand { since } => item.due < since || self.has_gone_by_hand(ItemIndex::at(place)),
                _ => place < until || item.once && self.path.was_round(item.land),
            };
            if is_there
                && let Some(row) = item.sets
                && self.may_be_chased(ItemIndex::at(place))
                && let Some(holds) = self.holds.get_mut(row as usize)
            {
                *holds = Some(ItemIndex::at(place));
            }
        }
        // Where a hand has set a row since, the plan's state is the hand's: the last message before it would undo that.
        let hands = if crate::planted!(HandUndone) { &[] } else { &self.plan.by_hand[..] };
        for hand in hands.iter().take_while(|hand| hand.due < song) {
            if let Some(holds) = self.holds.get_mut(hand.row as usize)
                && holds.and_then(|at| self.plan.item(at)).is_some_and(|item| item.due <= hand.due)
            {
                *holds = None;
            }
        }
        self.hold_instead(song);
        // What was planned last is also sent last, as it would have been.
        self.holds.sort_unstable();
        let due = due.min(now);
        let timing = Timing { due, now };
        for at in 0..self.holds.len() {
            let held = self.holds[at].and_then(|at| Some((at, self.plan.item(at).copied()?)));
            let Some((place, item, row)) = held.and_then(|(at, item)| Some((at, item, item.sets?))) else {
                continue;
            };
            let wanted = match what {
                Chase::All => true,
                Chase::Changed => {
                    let sent = gate.last_of_row(row as usize);
                    !self.has_the_same_message(sent, place) || self.was_set_by_hand(row, sent, now)
                }
                Chase::Port(port) => gate.leaves_by(item.port, port),
            };
            if !wanted {
                continue;
            }
            // Its planned end may be in the past, so it is ended at once.
            self.whole(place, SendOutcome::Chased, timing, gate, tell);
        }
    }

    /// What was sent when a release took another course holds until the plan sets its row again.
    fn hold_instead(&mut self, song: SongTime) {
        for (release, course) in self.plan.releases.iter().zip(&self.courses) {
            let Some((taken, since)) = course.instead.filter(|(_, since)| *since <= song) else { continue };
            for item in release.sent_instead(taken) {
                let row = self.plan.item(*item).and_then(|facts| facts.sets);
                let Some(holds) = row.and_then(|row| self.holds.get_mut(row as usize)) else { continue };
                let planned = holds.and_then(|at| self.plan.item(at)).map(|facts| facts.due);
                // Another message of the same kind has no time of its own.
                if planned.is_none_or(|due| due < since || due == SongTime::MAX) {
                    *holds = Some(*item);
                }
            }
        }
    }

    /// Whether a hand has set a row after what was last sent for it: then that says nothing of what is there.
    fn was_set_by_hand(&self, row: u32, sent: Option<ItemIndex>, now: MachineTime) -> bool {
        let State::Runs { .. } = self.state else { return false };
        let left = self.song(now).unwrap_or(SongTime::ZERO);
        let since = sent.and_then(|at| self.plan.item(at)).map(|item| item.due);
        let passed = |due: SongTime| due < left && since.is_none_or(|since| since <= due);
        self.plan.by_hand.iter().any(|hand| hand.row == row && passed(hand.due))
    }

    fn has_the_same_message(&self, sent: Option<ItemIndex>, wanted: ItemIndex) -> bool {
        let bytes = |at: ItemIndex| self.plan.item(at).map(|item| (item.port, self.plan.bytes(item.bytes)));
        sent.is_some_and(|sent| bytes(sent) == bytes(wanted))
    }
}

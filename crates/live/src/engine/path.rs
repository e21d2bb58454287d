//! Where the song leaves the straight line: waits, vamps and cuts.
//!
//! What lands after a bend belongs to what comes after it, even where its message leaves before. So before a bend nothing is sent that lands
//! beyond it, and what leads into the place where the song goes on is sent as long before the bend.

use super::parts::{Ahead, Then, Turn};
use super::state::{Engine, State};
use super::terms::Chase;
use crate::bend::{Answer, Bend, Rate, Refusal};
use crate::event::{Event, EventSink};
use crate::gate::{Gate, Payload, Task};
use crate::interlock::DisarmReason;
use crate::run_plan::MarkDoes;
use crate::units::{ItemIndex, MachineSpan, MachineTime};
use letfall_core::time::{SongSpan, SongTime};

/// A vamp or a cut shorter than this is refused. Our own figure, as for loops.
const LEAST: SongSpan = SongSpan::from_millis(1000);

impl Engine {
    /// Whether a message of the plan belongs to the way that the song takes.
    pub(super) fn is_on_path(&self, item: ItemIndex) -> bool {
        let Some(item) = self.plan.item(item) else { return false };
        if item.ends.is_some() {
            return true;
        }
        let beyond = self.path.turn.is_some_and(|turn| item.land >= turn.at) && !crate::planted!(SentBeyondABend);
        let before = self.path.begun.is_some_and(|begun| item.due < begun && item.land < begun);
        !(beyond || before || item.once && self.path.was_round(item.land))
    }

    /// The vamp at a place of the song, if it is not being left.
    fn vamp_at(&self, song: SongTime) -> Option<(SongTime, SongTime)> {
        let marked = self.plan.marks.iter().filter_map(|mark| match mark.does {
            MarkDoes::Vamp(to) => Some((mark.at, to)),
            MarkDoes::Wait | MarkDoes::Cut(_) => None,
        });
        let all = marked.chain(self.path.vamp);
        all.filter(|(from, to)| *from <= song && song < *to && self.path.left != Some(*to)).min_by_key(|(_, to)| *to)
    }

    /// Works out where the song leaves the straight line next.
    pub(super) fn look_ahead(&mut self, song: SongTime) {
        let turn = self.next_turn(song);
        if turn == self.path.turn {
            return;
        }
        self.path.turn = turn;
        self.path.ahead.clear();
        let Some(Turn { at, then: Then::Round(to) | Then::GoOn(to) }) = turn else { return };
        let again = to <= at;
        for item in self.plan.may_lead_into(to) {
            let Some(facts) = self.plan.item(item) else { continue };
            if !(facts.once && again) && self.path.ahead.len() < self.path.ahead.capacity() {
                self.path.ahead.push(Ahead { item, due: at + (facts.due - to), left: false });
            }
        }
    }

    /// How much of the song, as it goes now, the first message leaves before a place that belongs to what lands from there on.
    fn lead_into(&self, place: SongTime) -> SongSpan {
        self.plan.lead_into(place, self.rate())
    }

    fn next_turn(&self, song: SongTime) -> Option<Turn> {
        // Another clock knows nothing of bends, and a loop is a rehearsal of one part.
        if self.led || self.looped.is_some() {
            return None;
        }
        let path = &self.path;
        let marked = self.plan.marks.iter().filter_map(|mark| match mark.does {
            MarkDoes::Wait => Some(Turn { at: mark.at, then: Then::Wait }),
            MarkDoes::Vamp(to) => Some(Turn { at: to, then: Then::Round(mark.at) }),
            MarkDoes::Cut(_) => None,
        });
        let wait = path.wait.map(|at| Turn { at, then: Then::Wait });
        let vamp = path.vamp.map(|(from, to)| Turn { at: to, then: Then::Round(from) });
        let cut = path.cut.map(|(at, to)| Turn { at, then: Then::GoOn(to) });
        let ahead = |turn: &Turn| match turn.then {
            Then::Wait => turn.at > song || turn.at == song && path.waited != Some(song),
            Then::Round(_) => turn.at > song && path.left != Some(turn.at),
            Then::GoOn(_) => turn.at >= song,
        };
        // Of those at one place, what somebody chose just now goes first.
        cut.into_iter().chain(wait).chain(vamp).chain(marked).filter(ahead).min_by_key(|turn| turn.at)
    }

    /// The song has come to where it leaves the straight line.
    pub(super) fn turn(
        &mut self,
        (song, at): (SongTime, MachineTime),
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        let Some(turn) = self.path.turn.take() else { return };
        self.close(DisarmReason::Located, now, tell);
        match turn.then {
            Then::Wait => {
                gate.end_all(now);
                self.path.ahead.clear();
                self.path.wait = self.path.wait.filter(|at| *at != song);
                self.path.waited = Some(song);
                self.state = State::Waits { song };
                self.send_stop(now, gate);
                tell(Event::Waits { song, at });
            }
            Then::Round(to) => {
                let known = self.path.rounds.filter(|(from, end, _)| (*from, *end) == (to, song));
                let round = known.map_or(1, |(_, _, round)| round) + 1;
                self.path.rounds = Some((to, song, round));
                if std::mem::take(&mut self.path.leaving) {
                    self.path.left = Some(song);
                }
                self.bend_to((song, to, at), now, gate, tell);
                tell(Event::Turned { from: song, to, round: Some(round), turns: self.turns, at });
            }
            Then::GoOn(to) => {
                self.path.cut = None;
                self.bend_to((song, to, at), now, gate, tell);
                tell(Event::Turned { from: song, to, round: None, turns: self.turns, at });
            }
        }
    }

    /// The song goes on elsewhere, without a break. What was sent ahead for it stays.
    fn bend_to(
        &mut self,
        (from, to, at): (SongTime, SongTime, MachineTime),
        now: MachineTime,
        gate: &mut Gate,
        tell: EventSink<'_>,
    ) {
        self.end_across(from, to, now, gate);
        self.state = State::Runs { song: to, at, rate: self.rate() };
        self.turns = self.turns.wrapping_add(1);
        self.chase(Chase::Changed, (to, at), now, gate, tell);
        self.seek(to);
        self.take_over_ahead();
        self.announce(to, now, gate);
        self.send_start(now, gate);
        self.path.begun = Some(to);
        self.look_ahead(to);
    }

    /// After a bend: what left ahead of it is not sent again, and what a band that has become slower left over is still to come.
    fn take_over_ahead(&mut self) {
        let mut ahead = std::mem::take(&mut self.path.ahead);
        let left_over = ahead.iter().filter(|ahead| !ahead.left).map(|ahead| ahead.item.index());
        self.next = left_over.min().map_or(self.next, |first| first.min(self.next));
        let next = self.next;
        self.overtook
            .extend(ahead.iter().filter(|ahead| ahead.left && ahead.item.index() >= next).map(|ahead| ahead.item));
        ahead.clear();
        self.path.ahead = ahead;
    }

    /// Ends the notes whose end lies beyond a bend, so that it is never reached. Those that were begun ahead for what comes after the bend
    /// go on.
    fn end_across(&mut self, from: SongTime, to: SongTime, now: MachineTime, gate: &mut Gate) {
        for place in 0..self.plan.timed {
            let Some(item) = self.plan.items.get(place).copied().filter(|item| item.due < from) else { break };
            let Some(end) = item.ended_by.and_then(|end| self.plan.item(end)).copied() else { continue };
            let leads_in = item.due < to && item.land >= to;
            if end.due >= from && !leads_in && item.release.is_none() {
                let task = Task::End { begun: ItemIndex::at(place) };
                let _gone = gate.offer(end.port, Payload::Plan(end.bytes), task, end.rank, now);
            }
        }
    }

    /// Carries out what a person chose for the song's way.
    pub(super) fn bend_path(&mut self, bend: Bend, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) -> Answer {
        if self.led {
            return Answer::Refused(Refusal::Led);
        }
        let done = match (bend, self.state) {
            (Bend::GoOn, State::Waits { song }) => {
                self.go_on(song, now, gate, tell);
                Ok(Answer::Done)
            }
            (Bend::GoOn, _) => Err(Refusal::Nothing),
            (_, State::Runs { .. }) => match self.song(now) {
                Some(song) => self.choose(bend, song),
                None => Err(Refusal::NotRunning),
            },
            (Bend::Cut { from, to }, State::Waits { song }) if from == song && to > song => {
                // While it waits, a part is left out at once.
                self.state = State::Waits { song: to };
                self.turns = self.turns.wrapping_add(1);
                self.chase(Chase::Changed, (to, now), now, gate, tell);
                tell(Event::Turned { from: song, to, round: None, turns: self.turns, at: now });
                Ok(Answer::Done)
            }
            _ => Err(Refusal::NotRunning),
        };
        done.unwrap_or_else(Answer::Refused)
    }

    fn choose(&mut self, bend: Bend, song: SongTime) -> Result<Answer, Refusal> {
        let into = Engine::lead_into;
        // What must leave ahead of the next bend has begun to leave: the song is bound for it.
        let bound = self.path.is_bound();
        let mut answer = Answer::Done;
        match bend {
            Bend::Wait { at } => {
                self.may_turn(at, song)?;
                self.path.wait = Some(at);
            }
            Bend::Vamp { from, to } => {
                if to - from < LEAST {
                    return Err(Refusal::Short);
                }
                let inside = from <= song && song < to;
                if !inside && song >= from {
                    return Err(Refusal::TooLate);
                }
                self.may_turn(to, song)?;
                if song > to - into(self, from) {
                    return Err(Refusal::TooLate);
                }
                (self.path.vamp, self.path.left) = (Some((from, to)), None);
            }
            Bend::Cut { from, to } => {
                if to - from < LEAST {
                    return Err(Refusal::Short);
                }
                self.may_turn(from, song)?;
                if song > from - into(self, to) {
                    return Err(Refusal::TooLate);
                }
                self.path.cut = Some((from, to));
            }
            Bend::Leave { at: Some(at) } => {
                let (_, to) = self.vamp_at(song).ok_or(Refusal::Nothing)?;
                if at >= to || at <= song || bound || song > at - into(self, to).max(into(self, at)) {
                    return Err(Refusal::TooLate);
                }
                (self.path.cut, self.path.left) = (Some((at, to)), Some(to));
            }
            Bend::Leave { at: None } => {
                let (_, to) = self.vamp_at(song).ok_or(Refusal::Nothing)?;
                if bound || song > to - into(self, to) {
                    // What must leave ahead of its end can no longer leave in time, or what leads into the next round has left.
                    self.path.leaving = true;
                    answer = Answer::OnceMore;
                } else {
                    (self.path.left, self.path.leaving) = (Some(to), false);
                }
            }
            Bend::TakeBack => {
                let path = &mut self.path;
                let any = path.wait.is_some()
                    || path.cut.is_some()
                    || path.vamp.is_some()
                    || path.leaving
                    || path.left.is_some();
                if !any {
                    return Err(Refusal::Nothing);
                }
                if bound {
                    return Err(Refusal::TooLate);
                }
                (path.wait, path.cut, path.vamp, path.leaving) = (None, None, None, false);
                path.left = path.left.filter(|left| *left <= song);
            }
            _ => return Err(Refusal::Nothing),
        }
        self.look_ahead(song);
        Ok(answer)
    }

    /// Whether the song can still leave the straight line at a place: nothing that lands from there on has left, and nothing has left for
    /// another bend before it.
    fn may_turn(&self, at: SongTime, song: SongTime) -> Result<(), Refusal> {
        let bound = self.path.is_bound() && self.path.turn.is_some_and(|turn| at <= turn.at);
        if at <= song || song > at - self.lead_into(at) || bound {
            return Err(Refusal::TooLate);
        }
        Ok(())
    }

    /// The song goes on after a wait: as soon as what leads into its place can have left in time.
    fn go_on(&mut self, song: SongTime, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        let lead = self.lead_into(song);
        let at = now + MachineSpan::of_song(lead);
        self.state = State::Runs { song, at, rate: Rate::PLANNED };
        self.seek(song);
        self.announce(song, now, gate);
        self.start_due = Some(at);
        // Begin with what leads in. What lands before has been sent.
        self.next = self.plan.timed().partition_point(|item| item.due < song - lead);
        (self.path.begun, self.path.waited) = (Some(song), Some(song));
        self.look_ahead(song);
        self.begin_steps(now);
        tell(Event::GoesOn { song, at });
    }
}

//! An engine on made-up wires, with a clock that the test turns.

use super::made_up::{Fake, at};
use letfall_core::show::Kind;
use letfall_live::{Command, Engine, Event, HolderId, ReleaseIndex, RunPlan, SendOutcome, SyncPlan};
use std::sync::Arc;

pub struct Desk {
    pub engine: Engine,
    pub wires: Fake,
    pub events: Vec<Event>,
    pub now: i64,
}

impl Desk {
    pub fn new(plan: &Arc<RunPlan>, sync: SyncPlan) -> Desk {
        Desk { engine: Engine::new(plan.clone(), sync), wires: Fake::default(), events: Vec::new(), now: 1_000_000 }
    }

    pub fn give(&mut self, command: Command) {
        self.wires.now = self.now;
        let events = &mut self.events;
        self.engine.command(command, at(self.now), &mut self.wires, &mut |e| events.push(e));
    }

    /// Goes on to a time of the clock, stopping wherever something is due; a hand may hold a release all the while.
    pub fn run_to(&mut self, until: i64, hold: Option<(u16, u16)>) {
        loop {
            self.wires.now = self.now;
            let events = &mut self.events;
            let next = self.engine.step(at(self.now), &mut self.wires, &mut |e| events.push(e));
            if let Some((release, holder)) = hold {
                self.give(Command::Hold { release: ReleaseIndex(release), holder: HolderId(holder) });
            }
            if self.now >= until {
                return;
            }
            self.now = next
                .map_or(i64::MAX, letfall_live::MachineTime::micros)
                .min(until)
                .min(self.now + 100_000)
                .max(self.now + 1);
        }
    }

    pub fn start(&mut self, song: i64, chase: bool) {
        self.give(Command::Start { song: super::made_up::song(song), at: at(self.now), chase });
    }

    pub fn fates(&self, plan: &RunPlan, kind: Kind) -> Vec<SendOutcome> {
        let of = |e: &Event| match e {
            Event::Message { item, outcome, .. } => {
                let item = &plan.items[item.index()];
                (item.label.kind == kind && item.ends.is_none()).then_some(*outcome)
            }
            _ => None,
        };
        self.events.iter().filter_map(of).collect()
    }
}

//! The sending thread: takes from rings, steps the engine, pumps the gate, waits. No lock, and nothing made or thrown away.

use super::clocks::Clock;
use super::shared::PortChange;
use crate::command::Command;
use crate::engine::Engine;
use crate::event::Event;
use crate::gate::Gate;
use crate::orders::Orders;
use crate::units::{MachineSpan, MachineTime};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// What is due later than this is nothing to be late for yet.
const NEAR: MachineSpan = MachineSpan::from_millis(50);
/// How long the thread rests at most where nothing is near: a command wakes it.
const REST: MachineSpan = MachineSpan::from_millis(40);
/// Rounds of deciding and handing over in one turn: what one hands over, the next may answer.
const ROUNDS: usize = 2;

/// Everything that the sending thread has.
pub struct Sending {
    /// What decides.
    pub engine: Engine,
    /// What lets pass, paces and hands over.
    pub gate: Gate,
    /// Stops, letting go, and where the run is.
    pub orders: Arc<Orders>,
    /// What people and clocks command, each with the number of stops ordered before it.
    pub commands: rtrb::Consumer<(u64, Command)>,
    /// Ports that come and go.
    pub changes: rtrb::Consumer<PortChange>,
    /// What the engine tells.
    pub events: rtrb::Producer<Event>,
    /// Events that found no room.
    pub missed: Arc<AtomicU64>,
    /// The run is over.
    pub quit: Arc<AtomicBool>,
    /// The machine's clock.
    pub clock: Clock,
    /// Stop-alls and stops that were obeyed.
    pub obeyed: (u64, u64),
}

impl Sending {
    /// Runs until told to quit. A panic ends it like a quit: every lock is closed, since nothing is decided any more, and the threads
    /// of the ports pay what is owed.
    pub fn run(mut self) {
        let turned = catch_unwind(AssertUnwindSafe(|| {
            while !self.quit.load(Ordering::Acquire) {
                let now = self.clock.now();
                let next = self.turn(now);
                match next.filter(|next| *next <= now + NEAR) {
                    Some(next) => self.clock.wait_until(next),
                    None => self.clock.rest_until(next.unwrap_or(now + REST).min(now + REST)),
                }
            }
            self.turn(self.clock.now());
        }));
        self.end(turned.is_err());
    }

    /// The thread is no more. Nothing is decided from now on, so every lock is closed, and the threads of the ports see that nobody is
    /// left and pay what is owed. Where it `broke`, what was handed over does not leave either.
    pub fn end(self, broke: bool) {
        self.orders.end();
        if broke {
            self.orders.order_stop_all();
        }
    }

    /// Does what is due. Gives when something is due next.
    pub fn turn(&mut self, now: MachineTime) -> Option<MachineTime> {
        let Sending { engine, gate, events, missed, .. } = self;
        let mut tell = |event: Event| {
            if events.push(event).is_err() {
                missed.fetch_add(1, Ordering::Relaxed);
            }
        };
        while let Ok(change) = self.changes.pop() {
            match change {
                PortChange::Add(port, link) => gate.add_port(port, link),
                PortChange::Assign(port, physical) => {
                    // Whatever is armed on the old port closes, and so does what is armed on the new one.
                    engine.port_assigned(gate, port, now, &mut tell);
                    if gate.assign(port, physical, now, &mut tell) {
                        engine.port_assigned(gate, port, now, &mut tell);
                        if let Some(physical) = physical {
                            engine.port_moved(gate, (port, physical), now, &mut tell);
                        } else {
                            tell(Event::PortLost { port, at: now });
                        }
                    }
                }
                PortChange::Missing(port) => gate.port_is_missing(port, now, &mut tell),
            }
        }
        obey(&mut self.obeyed, &self.orders, engine, gate, now, &mut tell);
        while let Ok((generation, command)) = self.commands.pop() {
            // A stop that was ordered before this command comes before it.
            obey(&mut self.obeyed, &self.orders, engine, gate, now, &mut tell);
            let outdated = generation != self.obeyed.0.wrapping_add(self.obeyed.1) && !crate::planted!(OldStartRuns);
            if !(outdated && is_outdated_by_a_stop(&command)) {
                engine.command(command, now, gate, &mut tell);
            }
        }
        let mut next = None;
        for _ in 0..ROUNDS {
            let due = engine.step(now, gate, &mut tell);
            let free = gate.pump(now, &mut tell);
            next = [due, free].into_iter().flatten().min();
        }
        self.orders.publish(engine.place(now));
        next
    }
}

/// Stops that were ordered since the last time.
fn obey(
    obeyed: &mut (u64, u64),
    orders: &Orders,
    engine: &mut Engine,
    gate: &mut Gate,
    now: MachineTime,
    tell: &mut dyn FnMut(Event),
) {
    let (stops_all, stops) = (orders.stops_all(), orders.stops());
    if stops_all != obeyed.0 {
        obeyed.0 = stops_all;
        engine.stop_all(now, gate, tell);
    }
    if stops != obeyed.1 {
        obeyed.1 = stops;
        gate.begin_epoch();
        engine.command(Command::Stop, now, gate, tell);
    }
}

/// Whether a command that was given before a stop must not be obeyed after it.
const fn is_outdated_by_a_stop(command: &Command) -> bool {
    match command {
        Command::Start { .. }
        | Command::FollowStart { .. }
        | Command::Follow { .. }
        | Command::Locate { .. }
        | Command::Hold { .. }
        | Command::SecondTry { .. } => true,
        Command::Stop | Command::Loop(_) | Command::Mode(_) | Command::NewRun | Command::Slept => false,
    }
}

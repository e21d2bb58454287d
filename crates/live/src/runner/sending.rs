//! The sending thread: it reads the ring buffers, steps the engine, pumps the gate and waits. It takes no locks and does not
//! allocate or free memory.

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

/// Whatever is due further ahead than this does not need exact waiting yet.
const NEAR: MachineSpan = MachineSpan::from_millis(50);
/// The longest rest when nothing is due soon. A command wakes the thread.
const REST: MachineSpan = MachineSpan::from_millis(40);
/// How many rounds of engine and gate make one turn. The engine may react in one round to what the gate did in the round
/// before.
const ROUNDS: usize = 2;

/// The state of the sending thread.
pub struct Sending {
    /// Decides what is sent when.
    pub engine: Engine,
    /// Checks, paces and hands over messages.
    pub gate: Gate,
    /// Stops, letting go, and where the run is.
    pub orders: Arc<Orders>,
    /// Commands from people and external clocks, each with the number of stops ordered before it.
    pub commands: rtrb::Consumer<(u64, Command)>,
    /// Ports that come and go.
    pub changes: rtrb::Consumer<PortChange>,
    /// Events from the engine.
    pub events: rtrb::Producer<Event>,
    /// How many events were lost because the queue was full.
    pub missed: Arc<AtomicU64>,
    /// The run is over.
    pub quit: Arc<AtomicBool>,
    /// The machine's clock.
    pub clock: Clock,
}

impl Sending {
    /// Runs until told to quit. A panic ends it as well. After that no release can leave, and the threads of the ports send
    /// what is owed.
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

    /// The thread ends. No release can leave from now on, and the threads of the ports notice that it has ended and send what
    /// is owed. If it `broke`, messages that were already handed over do not leave either.
    pub fn end(self, broke: bool) {
        self.orders.end();
        if broke {
            self.orders.order_stop_all();
        }
    }

    /// Does what is due. Returns when something is due next.
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
                    // Close the locks of releases armed on the old port, then those on the new one.
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
        engine.obey_stops(now, gate, &mut tell);
        while let Ok((generation, command)) = self.commands.pop() {
            // Obey a stop that was ordered before this command first.
            engine.obey_stops(now, gate, &mut tell);
            let outdated = !engine.has_obeyed(generation) && !crate::planted!(OldStartRuns);
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

/// Whether a command must be ignored if a stop was ordered after it was given.
const fn is_outdated_by_a_stop(command: &Command) -> bool {
    match command {
        Command::Start { .. }
        | Command::FollowStart { .. }
        | Command::Follow { .. }
        | Command::Heard { .. }
        | Command::Locate { .. }
        | Command::Hold { .. }
        | Command::SecondTry { .. }
        | Command::Band(_)
        | Command::BandEnds
        | Command::Bend { .. } => true,
        Command::Stop | Command::Loop(_) | Command::Mode(_) | Command::NewRun | Command::Slept => false,
    }
}

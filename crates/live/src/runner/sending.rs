//! The sending thread: takes from rings, steps, waits. No lock, and nothing made or thrown away.

use super::clocks::Clock;
use super::shared::PortChange;
use crate::command::Command;
use crate::engine::{Engine, MidiSink};
use crate::event::Event;
use crate::ports::{Gone, PortOut};
use crate::units::{MachineSpan, MachineTime, ShowPort};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// What is due later than this is nothing to be late for yet.
const NEAR: MachineSpan = MachineSpan::from_millis(50);
/// How long the thread rests at most where nothing is near: a command calls it.
const REST: MachineSpan = MachineSpan::from_millis(40);

/// Open ports by their places in the show's list; the sending thread owns them.
pub struct OpenPorts(Vec<Option<Box<dyn PortOut>>>);

impl OpenPorts {
    /// Room for so many ports, none open.
    pub fn new(count: usize) -> OpenPorts {
        OpenPorts((0..count).map(|_| None).collect())
    }
}

impl MidiSink for OpenPorts {
    fn send(&mut self, port: ShowPort, bytes: &[u8]) -> Result<(), Gone> {
        self.0.get_mut(port.index()).and_then(Option::as_mut).ok_or(Gone)?.send(bytes)
    }
}

/// Everything that the sending thread has.
pub struct Sending {
    /// What decides.
    pub engine: Engine,
    /// Where messages leave.
    pub ports: OpenPorts,
    /// What people and clocks command.
    pub commands: rtrb::Consumer<Command>,
    /// Ports that come and go.
    pub changes: rtrb::Consumer<PortChange>,
    /// Ports that went, to be thrown away elsewhere.
    pub old: rtrb::Producer<Box<dyn PortOut>>,
    /// What the engine tells.
    pub events: rtrb::Producer<Event>,
    /// Events that found no room.
    pub missed: Arc<AtomicU64>,
    /// Stop-all is wanted.
    pub stop_all: Arc<AtomicBool>,
    /// The run is over.
    pub quit: Arc<AtomicBool>,
    /// The machine's clock.
    pub clock: Clock,
}

impl Sending {
    /// Runs until told to quit.
    pub fn run(mut self) {
        while !self.quit.load(Ordering::Acquire) {
            let now = self.clock.now();
            let next = self.turn(now);
            match next.filter(|next| *next <= now + NEAR) {
                Some(next) => self.clock.wait_until(next),
                None => self.clock.rest_until(now + REST),
            }
        }
        self.turn(self.clock.now());
    }

    fn turn(&mut self, now: MachineTime) -> Option<MachineTime> {
        let Sending { engine, ports, events, missed, .. } = self;
        let mut tell = |event: Event| {
            if events.push(event).is_err() {
                missed.fetch_add(1, Ordering::Relaxed);
            }
        };
        while let Ok(change) = self.changes.pop() {
            let (port, out, physical) = match change {
                PortChange::Assign(port, physical) => {
                    engine.command(Command::Assign { port, physical }, now, ports, &mut tell);
                    continue;
                }
                PortChange::Open(port, out, physical) => (port, Some(out), Some(physical)),
                PortChange::Close(port) => (port, None, None),
            };
            if let Some(slot) = ports.0.get_mut(port.index()) {
                let there = out.is_some();
                if let Some(old) = std::mem::replace(slot, out) {
                    // What is thrown away is thrown away elsewhere.
                    drop(self.old.push(old));
                }
                if let Some(physical) = physical {
                    engine.command(Command::Assign { port, physical }, now, ports, &mut tell);
                }
                engine.command(Command::Port { port, there }, now, ports, &mut tell);
            }
        }
        if self.stop_all.swap(false, Ordering::AcqRel) {
            engine.command(Command::StopAll, now, ports, &mut tell);
        }
        while let Ok(command) = self.commands.pop() {
            engine.command(command, now, ports, &mut tell);
        }
        engine.step(now, ports, &mut tell)
    }
}

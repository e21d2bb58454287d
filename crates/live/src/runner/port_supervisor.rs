//! The thread beside the sending one: it writes the log, looks which ports are there, opens those that came, and notices that the
//! machine slept.

use super::clocks::Clock;
use super::runner_event::RunnerEvent;
use super::shared::{CommandQueue, PortChange, SharedList};
use crate::command::Command;
use crate::event::Event;
use crate::log::{ClockPair, LogFile, LogRecord};
use crate::ports::{PortOut, Ports};
use crate::run_plan::RunPlan;
use crate::units::{MachineSpan, PhysicalPort, ShowPort};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::Sender;
use std::thread::{self, JoinHandle, Thread};
use std::time::{Duration, Instant};

/// How often ports are looked for.
const LOOK: Duration = Duration::from_millis(400);
/// The wall clock and the other may drift apart by this between two looks; by more, the machine slept or was set.
const APART: MachineSpan = MachineSpan::from_millis(1500);
/// How long it sleeps between two turns.
const TURN: Duration = Duration::from_millis(4);

/// What the supervisor keeps of the ports.
#[derive(Default)]
struct PortStates {
    /// Ports of the show that are open, and the machine's names of them.
    open: BTreeMap<ShowPort, String>,
    /// The machine's names of all ports that were ever wanted: their places are the numbers of the machine's ports.
    known: Vec<String>,
    /// The machine ports that the engine was told, by port of the show.
    assigned: Vec<Option<PhysicalPort>>,
    /// What was last said of ports that are not there.
    failed: BTreeMap<ShowPort, String>,
}

impl PortStates {
    /// The number of one of the machine's ports.
    fn physical(&mut self, name: Option<&String>) -> Option<PhysicalPort> {
        let name = name?;
        let at = self.known.iter().position(|known| known == name).unwrap_or_else(|| {
            self.known.push(name.clone());
            self.known.len() - 1
        });
        Some(PhysicalPort::at(at))
    }
}

/// What the supervisor is made with.
pub struct Parts {
    /// What is sent.
    pub plan: Arc<RunPlan>,
    /// The machine's ports.
    pub ports: Box<dyn Ports>,
    /// For each port of the show, the machine's name of it.
    pub names: SharedList<Option<String>>,
    /// Whether other ports were chosen since they were last looked for.
    pub reassigned: Arc<AtomicBool>,
    /// Commands to the engine.
    pub commands: CommandQueue,
    /// Ports that come and go, for the sending thread.
    pub changes: rtrb::Producer<PortChange>,
    /// Ports that the sending thread is done with.
    pub old: rtrb::Consumer<Box<dyn PortOut>>,
    /// What the engine told.
    pub events: rtrb::Consumer<Event>,
    /// How many events found no room.
    pub missed: Arc<AtomicU64>,
    /// The run is over.
    pub quit: Arc<AtomicBool>,
    /// The machine's clocks.
    pub clock: Clock,
    /// The sending thread, to be woken.
    pub sender: Thread,
    /// Names of those who hold releases.
    pub holders: SharedList<String>,
    /// Where the log is kept.
    pub log: Option<PathBuf>,
    /// To the screen.
    pub tell: Sender<RunnerEvent>,
    /// Called when there is something to hear.
    pub wake: Arc<dyn Fn() + Send + Sync>,
    /// Ends of earlier runs, to be waited for.
    pub after: Vec<JoinHandle<()>>,
}

/// The thread.
pub struct PortSupervisor {
    with: Parts,
    states: PortStates,
    log: Option<LogFile>,
}

impl PortSupervisor {
    /// A supervisor that has not looked yet.
    pub fn new(with: Parts) -> PortSupervisor {
        PortSupervisor { with, states: PortStates::default(), log: None }
    }

    /// Runs until the run is over.
    pub fn run(mut self) {
        for end in self.with.after.drain(..) {
            drop(end.join());
        }
        if let Some(path) = self.with.log.take() {
            match LogFile::create(&path) {
                Ok(log) => self.log = Some(log),
                Err(why) => self.say(RunnerEvent::LogFailed(format!("{}: {why}", path.display()))),
            }
        }
        let mut looked: Option<Instant> = None;
        let (mut mono, mut wall) = (self.with.clock.now(), self.with.clock.wall());
        loop {
            let last = self.with.quit.load(Ordering::Acquire);
            if looked.is_none_or(|at| at.elapsed() >= LOOK) || self.with.reassigned.swap(false, Ordering::AcqRel) {
                self.look();
                looked = Some(Instant::now());
            }
            let (mono_now, wall_now) = (self.with.clock.now(), self.with.clock.wall());
            let slept = (wall_now.since(wall) - (mono_now - mono)).abs() > APART;
            if slept && self.with.commands.give(Command::Slept) {
                self.with.sender.unpark();
            }
            (mono, wall) = (mono_now, wall_now);
            self.events();
            while self.with.old.pop().is_ok() {}
            if last {
                break;
            }
            thread::sleep(TURN);
        }
    }

    fn say(&self, event: RunnerEvent) {
        drop(self.with.tell.send(event));
        (self.with.wake)();
    }

    /// The log is given up where the disk takes no more; the run goes on.
    fn logged(&mut self, done: Result<(), std::io::Error>) {
        if let Err(why) = done {
            self.log = None;
            self.say(RunnerEvent::LogFailed(format!(
                "the log can no longer be written ({why}); the run goes on without"
            )));
        }
    }

    /// Writes and passes on what the engine told.
    fn events(&mut self) {
        let mut any = false;
        while let Ok(event) = self.with.events.pop() {
            any = true;
            if let Event::PortLost { port, .. } = event {
                // It failed while it was sent to: it is looked for anew.
                self.states.open.remove(&port);
            }
            let now = ClockPair { machine: self.with.clock.now(), wall: self.with.clock.wall() };
            let plan = &self.with.plan;
            let record = self.with.holders.with(|holders| LogRecord::of(&event, plan, holders, now));
            let written = self.log.as_mut().map_or(Ok(()), |log| log.write(&record));
            self.logged(written);
            drop(self.with.tell.send(RunnerEvent::Engine(event)));
        }
        if any {
            let flushed = self.log.as_mut().map_or(Ok(()), LogFile::flush);
            self.logged(flushed);
            (self.with.wake)();
        }
        let missed = self.with.missed.swap(0, Ordering::Relaxed);
        if missed > 0 {
            self.say(RunnerEvent::Missed(missed));
        }
    }

    /// Looks which ports are there, opens those that came and tells of those that went.
    fn look(&mut self) {
        let wanted = self.with.names.with(|names| names.clone());
        let listed = self.with.ports.outputs();
        if !self.assign(&wanted) {
            return;
        }
        for (at, name) in wanted.iter().enumerate() {
            let port = ShowPort::at(at);
            let show_name = self.with.plan.ports.get(at).cloned().unwrap_or_default();
            let open = self.states.open.get(&port).cloned();
            let there = name.as_ref().is_some_and(|n| listed.as_ref().is_ok_and(|l| l.contains(n)));
            match (open, name) {
                (Some(open), Some(name)) if open == *name && there => {}
                // Another that was chosen takes its place at once: nothing is lost between the two.
                (_, Some(name)) if there => self.open(port, name, &show_name),
                (Some(open), name) => {
                    self.states.open.remove(&port);
                    let what = if name.as_ref() == Some(&open) { "is gone" } else { "is no longer chosen" };
                    let words = format!("{show_name}: \"{open}\" {what}; what is sent to it is lost until it is back");
                    self.missing(port, open, words);
                }
                (None, Some(name)) => {
                    let why = match &listed {
                        Err(why) => why.clone(),
                        Ok(_) => format!("\"{name}\" is not there; plug it in or choose another"),
                    };
                    self.missing(port, name.clone(), format!("{show_name}: {why}"));
                }
                (None, None) => {
                    self.missing(port, String::new(), format!("{show_name}: no MIDI port is chosen for it"));
                }
            }
        }
    }

    fn open(&mut self, port: ShowPort, name: &String, show_name: &str) {
        let out = match self.with.ports.open(name) {
            Ok(out) => out,
            Err(why) => {
                self.states.open.remove(&port);
                return self.missing(port, name.clone(), format!("{show_name}: {why}"));
            }
        };
        let physical = self.states.physical(Some(name));
        if self.with.changes.push(PortChange::Open(port, out, physical)).is_err() {
            return;
        }
        if let Some(told) = self.states.assigned.get_mut(port.index()) {
            *told = physical;
        }
        self.with.sender.unpark();
        self.states.open.insert(port, name.clone());
        self.states.failed.remove(&port);
        let words = format!("{show_name}: \"{name}\" is there");
        self.say(RunnerEvent::Port { port, name: name.clone(), there: true, words });
    }

    /// Tells the engine which of the machine's ports stand for those of the show that are not open: one that cannot be opened may
    /// be another's connection all the same. Whether it could be told.
    fn assign(&mut self, wanted: &[Option<String>]) -> bool {
        self.states.assigned.resize(wanted.len(), None);
        for (at, name) in wanted.iter().enumerate() {
            let (port, physical) = (ShowPort::at(at), self.states.physical(name.as_ref()));
            if self.states.open.contains_key(&port) || self.states.assigned[at] == physical {
                continue;
            }
            if self.with.changes.push(PortChange::Assign(port, physical)).is_err() {
                return false;
            }
            self.states.assigned[at] = physical;
        }
        true
    }

    /// Says what is missing, once; and the engine learns of it.
    fn missing(&mut self, port: ShowPort, name: String, words: String) {
        if self.states.failed.get(&port) != Some(&words) {
            self.states.failed.insert(port, words.clone());
            if self.with.changes.push(PortChange::Close(port)).is_ok() {
                self.with.sender.unpark();
            }
            self.say(RunnerEvent::Port { port, name, there: false, words });
        }
    }
}

//! The second thread of a run. It writes the log, checks which ports are there, opens new ones and gives each its own thread.
//! It also notices when the machine slept and when the sending thread has ended.

use super::clocks::Clock;
use super::port_worker::{Connection, PortWorker, WorkerEnds, WorkerParts};
use super::runner_event::RunnerEvent;
use super::shared::{CommandQueue, PortChange, SharedList, SpawnWorker};
use crate::command::Command;
use crate::contact_keeper::ContactKeeper;
use crate::event::Event;
use crate::gate::PortLink;
use crate::log::{ClockPair, LogFile, LogRecord};
use crate::orders::Orders;
use crate::ports::{Ports, interface_of, is_own_port};
use crate::run_plan::RunPlan;
use crate::units::{MachineSpan, MachineTime, PhysicalPort, ShowPort};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::sync::mpsc::Sender;
use std::thread::{self, JoinHandle, Thread};
use std::time::Duration;

/// The interval at which ports are looked for.
const LOOK: MachineSpan = MachineSpan::from_millis(400);
/// The interval while a contact is closed. A port that is pulled out and put back between two looks is not noticed, and what was sent
/// to it meanwhile is lost. Nobody does that within this time.
const LOOK_CLOSELY: MachineSpan = MachineSpan::from_millis(100);
/// The machine slept if its clock that counts sleep and the one that does not differ by more than this from one check to the
/// next.
const ASLEEP: MachineSpan = MachineSpan::from_millis(200);
/// How long the thread sleeps between two turns.
const TURN: Duration = Duration::from_millis(4);
/// How long ports are still looked for after the end of a run if a lost one owes something.
const MOST_TO_PAY: MachineSpan = MachineSpan::from_millis(1500);
/// How many packets may be on their way from the gate to the thread of a port.
const ON_THE_WAY: usize = 512;

/// What the supervisor knows of a machine port.
struct Known {
    name: String,
    /// To the port's thread. `None` if it could not be given one.
    connections: Option<Sender<Connection>>,
    open: bool,
    /// How much is owed there.
    owes: Arc<AtomicUsize>,
    /// Whether a contact there is closed.
    closed: Arc<AtomicBool>,
    /// Set by its thread when the port failed or was closed.
    lost: Arc<AtomicBool>,
    /// Whether it was ever open.
    was_open: bool,
    /// Why it could not be opened, in words.
    why: String,
}

/// What a supervisor is made with.
pub struct Parts {
    /// What is sent.
    pub plan: Arc<RunPlan>,
    /// Stops, letting go, and whether sending has ended.
    pub orders: Arc<Orders>,
    /// The machine's ports.
    pub ports: Box<dyn Ports>,
    /// Gives a port's worker its thread.
    pub spawn: SpawnWorker,
    /// For each port of the show, the name of its machine port.
    pub names: SharedList<Option<String>>,
    /// Whether other ports were chosen since the last look.
    pub reassigned: Arc<AtomicBool>,
    /// Commands to the engine.
    pub commands: CommandQueue,
    /// Ports that come and go, for the sending thread.
    pub changes: rtrb::Producer<PortChange>,
    /// Events from the engine.
    pub events: rtrb::Consumer<Event>,
    /// How many events were lost because the queue was full.
    pub missed: Arc<AtomicU64>,
    /// The run is over.
    pub quit: Arc<AtomicBool>,
    /// The machine's clocks.
    pub clock: Clock,
    /// The keeper that opens contacts if this program dies.
    pub keeper: Option<Arc<ContactKeeper>>,
    /// Names of those who hold releases.
    pub holders: SharedList<String>,
    /// Where the log is kept.
    pub log: Option<PathBuf>,
    /// To the screen.
    pub tell: Sender<RunnerEvent>,
    /// Called when there are new events.
    pub wake: Arc<dyn Fn() + Send + Sync>,
    /// Threads that end earlier runs, to be joined first.
    pub after: Vec<JoinHandle<()>>,
}

/// The thread.
pub struct PortSupervisor {
    with: Parts,
    /// The sending thread, so that it can be woken. `None` where something else drives it.
    sender: Option<Thread>,
    /// All machine ports that were ever chosen. Their indices are their numbers.
    known: Vec<Known>,
    interfaces: Vec<String>,
    /// For each port of the show, the machine port that the engine was last told.
    assigned: Vec<Option<PhysicalPort>>,
    /// What was last reported about each port of the show.
    said: BTreeMap<ShowPort, String>,
    log: Option<LogFile>,
    looked: Option<MachineTime>,
    asleep: MachineSpan,
    told_the_end: bool,
}

impl PortSupervisor {
    /// A supervisor that has not looked yet.
    pub fn new(with: Parts) -> PortSupervisor {
        let asleep = with.clock.asleep();
        PortSupervisor {
            with,
            sender: None,
            known: Vec::new(),
            interfaces: Vec::new(),
            assigned: Vec::new(),
            said: BTreeMap::new(),
            log: None,
            looked: None,
            asleep,
            told_the_end: false,
        }
    }

    /// Gives every chosen port its number and its thread before anybody can start the run. Messages that are sent before the
    /// system has opened a port then wait for it.
    pub fn prepare(&mut self) {
        let wanted = self.with.names.with(|names| names.clone());
        let numbers = self.numbers(&wanted);
        self.assign(&numbers);
    }

    fn numbers(&mut self, wanted: &[Option<String>]) -> Vec<Option<PhysicalPort>> {
        wanted.iter().map(|name| self.number(name.as_ref(), wanted)).collect()
    }

    /// Runs until the run is over. `sender` is the sending thread, which is woken when there is something for it.
    pub fn run(mut self, sender: Thread) {
        self.sender = Some(sender);
        for end in self.with.after.drain(..) {
            drop(end.join());
        }
        if let Some(path) = self.with.log.take() {
            match LogFile::create(&path) {
                Ok(log) => self.log = Some(log),
                Err(why) => self.say(RunnerEvent::LogFailed(format!("{}: {why}", path.display()))),
            }
        }
        let mut ended = self.with.clock.now();
        loop {
            let last = self.with.quit.load(Ordering::Acquire);
            self.turn(self.with.clock.now());
            let owes = self.known.iter().any(|known| known.owes.load(Ordering::Relaxed) > 0);
            if last && (!owes || self.with.clock.now() - ended > MOST_TO_PAY) {
                break;
            }
            if !last {
                ended = self.with.clock.now();
            }
            thread::sleep(TURN);
        }
    }

    /// Does one turn: checks the ports, watches for sleep, and passes on events.
    pub fn turn(&mut self, now: MachineTime) {
        for at in 0..self.known.len() {
            // Its thread lost the port, so look for it again.
            if self.known[at].lost.swap(false, Ordering::AcqRel) && self.known[at].open {
                self.known[at].open = false;
                self.looked = None;
                self.failed(PhysicalPort::at(at));
            }
        }
        let closed = self.known.iter().any(|known| known.closed.load(Ordering::Relaxed));
        let interval = if closed { LOOK_CLOSELY } else { LOOK };
        let due = self.looked.is_none_or(|at| now - at >= interval);
        if due || self.with.reassigned.swap(false, Ordering::AcqRel) {
            self.look();
            self.looked = Some(now);
        }
        let asleep = self.with.clock.asleep();
        if (asleep - self.asleep).abs() > ASLEEP && self.with.commands.give(Command::Slept) {
            self.wake_sender();
        }
        self.asleep = asleep;
        self.events();
        if self.with.keeper.as_ref().is_some_and(|keeper| !keeper.is_alive()) {
            self.with.keeper = None;
            self.say(RunnerEvent::KeeperGone("it has ended".to_owned()));
        }
        if self.with.orders.has_ended() && !self.told_the_end && !self.with.quit.load(Ordering::Acquire) {
            self.told_the_end = true;
            self.say(RunnerEvent::SendingEnded);
        }
    }

    fn say(&self, event: RunnerEvent) {
        drop(self.with.tell.send(event));
        (self.with.wake)();
    }

    /// Reports that a port failed while we sent to it. Its return is reported once it is open again.
    fn failed(&mut self, physical: PhysicalPort) {
        for at in 0..self.assigned.len() {
            if self.assigned[at] == Some(physical) {
                let name = self.known[physical.index()].name.clone();
                let show_name = self.with.plan.ports.get(at).cloned().unwrap_or_default();
                let words = format!("{show_name}: \"{name}\" failed while it was sent to");
                self.said.insert(ShowPort::at(at), words.clone());
                self.say(RunnerEvent::Port { port: ShowPort::at(at), name, there: false, words });
            }
        }
    }

    fn wake_sender(&self) {
        if let Some(sender) = &self.sender {
            sender.unpark();
        }
    }

    /// Gives the log up if writing failed, for example on a full disk. The run continues.
    fn logged(&mut self, done: Result<(), std::io::Error>) {
        if let Err(why) = done {
            self.log = None;
            self.say(RunnerEvent::LogFailed(format!(
                "the log can no longer be written ({why}); the run goes on without"
            )));
        }
    }

    /// Logs the engine's events and passes them on.
    fn events(&mut self) {
        let mut any = false;
        while let Ok(event) = self.with.events.pop() {
            any = true;
            if let Event::Opening { .. } = event {
                // A driver may accept messages for a missing device, so check the ports again when somebody begins to hold a
                // release.
                self.looked = None;
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

    /// Checks which ports are there, opens new ones and reports missing ones.
    fn look(&mut self) {
        let wanted = self.with.names.with(|names| names.clone());
        let listed = self.with.ports.outputs();
        let numbers = self.numbers(&wanted);
        if !self.assign(&numbers) {
            return;
        }
        for at in 0..self.known.len() {
            let chosen = numbers.contains(&Some(PhysicalPort::at(at)));
            self.open_or_close(PhysicalPort::at(at), chosen, &listed);
        }
        for (at, name) in wanted.iter().enumerate() {
            let show_name = self.with.plan.ports.get(at).cloned().unwrap_or_default();
            let open = numbers[at].is_some_and(|number| self.known[number.index()].open);
            let (name, words) = match (name, &listed) {
                (Some(name), _) if open => (name.clone(), format!("{show_name}: \"{name}\" is there")),
                (Some(name), Err(why)) => (name.clone(), format!("{show_name}: {why}")),
                (Some(name), Ok(listed)) => {
                    let known = numbers[at].map(|number| &self.known[number.index()]);
                    let why = match known.filter(|_| is_listed(listed, name)) {
                        Some(known) => {
                            format!("cannot be opened ({}); close what else uses it, or choose another", known.why)
                        }
                        None if known.is_some_and(|known| known.was_open) => {
                            "is gone; what is sent to it is lost until it is back".to_owned()
                        }
                        None => "is not there; plug it in or choose another".to_owned(),
                    };
                    (name.clone(), format!("{show_name}: \"{name}\" {why}"))
                }
                (None, _) => (String::new(), format!("{show_name}: no MIDI port is chosen for it")),
            };
            let port = ShowPort::at(at);
            if self.said.get(&port) != Some(&words) {
                self.said.insert(port, words.clone());
                self.say(RunnerEvent::Port { port, name, there: open, words });
            }
        }
    }

    /// The number of a machine port. It gets its number and thread when it is first chosen.
    fn number(&mut self, name: Option<&String>, wanted: &[Option<String>]) -> Option<PhysicalPort> {
        let name = name?;
        let at = self.known.iter().position(|known| known.name == *name);
        Some(PhysicalPort::at(at.unwrap_or_else(|| self.add(name, wanted))))
    }

    fn add(&mut self, name: &str, wanted: &[Option<String>]) -> usize {
        let physical = PhysicalPort::at(self.known.len());
        let shows: Vec<ShowPort> =
            (0..wanted.len()).filter(|at| wanted[*at].as_deref() == Some(name)).map(ShowPort::at).collect();
        let interface = interface_of(name);
        let interface = self.interfaces.iter().position(|of| of == interface).unwrap_or_else(|| {
            self.interfaces.push(interface.to_owned());
            self.interfaces.len() - 1
        });
        let (worker, WorkerEnds { link, connections, owes, closed, lost }) = PortWorker::new(WorkerParts {
            plan: self.with.plan.clone(),
            orders: self.with.orders.clone(),
            shows,
            physical,
            name: name.to_owned(),
            interface: u16::try_from(interface).unwrap_or(u16::MAX),
            room: ON_THE_WAY,
            keeper: self.with.keeper.clone(),
        });
        let connections = match (self.with.spawn)(worker) {
            Ok(thread) => {
                let added = self.with.changes.push(PortChange::Add(physical, PortLink { thread, ..link })).is_ok();
                added.then_some(connections)
            }
            Err(why) => {
                self.say(RunnerEvent::LogFailed(why));
                None
            }
        };
        self.known.push(Known {
            name: name.to_owned(),
            connections,
            open: false,
            owes,
            closed,
            lost,
            was_open: false,
            why: String::new(),
        });
        self.known.len() - 1
    }

    /// Tells the engine which machine port each show port uses. Returns whether the queue had room for it.
    fn assign(&mut self, numbers: &[Option<PhysicalPort>]) -> bool {
        self.assigned.resize(numbers.len(), None);
        for (at, number) in numbers.iter().enumerate() {
            if self.assigned[at] != *number {
                if self.with.changes.push(PortChange::Assign(ShowPort::at(at), *number)).is_err() {
                    return false;
                }
                self.assigned[at] = *number;
                if let Some(known) = number.and_then(|number| self.known.get(number.index())) {
                    // Its thread must know which ports of the show use it, because their releases decide what may be silenced.
                    if let Some(connections) = &known.connections {
                        drop(connections.send(Connection::Serves(ShowPort::at(at))));
                    }
                }
            }
        }
        self.wake_sender();
        true
    }

    fn open_or_close(&mut self, physical: PhysicalPort, chosen: bool, listed: &Result<Vec<String>, String>) {
        let known = &mut self.known[physical.index()];
        let Some(connections) = &known.connections else { return };
        let is_there = listed.as_ref().is_ok_and(|listed| is_listed(listed, &known.name));
        // A port that is no longer chosen is opened again if it still owes something.
        let pays = !chosen && !known.open && known.owes.load(Ordering::Relaxed) > 0;
        let there = (chosen || pays) && is_there;
        let told = match (known.open, there) {
            (true, true) => return,
            (false, true) => match self.with.ports.open(&known.name) {
                Ok(out) => {
                    (known.open, known.was_open) = (chosen, true);
                    let opened = connections.send(Connection::Open(out));
                    if pays { connections.send(Connection::Leave) } else { opened }
                }
                Err(why) => {
                    known.why = why;
                    drop(self.with.changes.push(PortChange::Missing(physical)));
                    Ok(())
                }
            },
            (open, false) => {
                known.open = false;
                drop(self.with.changes.push(PortChange::Missing(physical)));
                match (open, is_there) {
                    (true, true) => connections.send(Connection::Leave),
                    (true, false) => connections.send(Connection::Closed),
                    (false, _) => Ok(()),
                }
            }
        };
        drop(told);
        self.wake_sender();
    }
}

/// Whether a port of this name is there. The whole name must match: "Box 1" is not "Box 10".
fn is_listed(listed: &[String], name: &str) -> bool {
    if is_own_port(name) {
        return true;
    }
    if crate::planted!(PortByPrefix) {
        return listed.iter().any(|listed| listed.starts_with(name));
    }
    listed.iter().any(|listed| listed == name)
}

//! The engine on the machine's own clock, in a thread of its own; and the thread beside it that writes the log, looks after the
//! ports and watches for sleep.

use crate::engine::{Command, Engine, Event, Wires};
use crate::log::{Line, LogFile};
use crate::ports::{Gone, Out, Ports};
use crate::programme::Programme;
use crate::sync::SyncPlan;
use crate::wakes::Wakes;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle, Thread};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// The machine's clocks.
pub trait Clocks: Send + Sync {
    /// Microseconds of a clock that never goes back.
    fn now(&self) -> i64;
    /// Microseconds of the wall clock, since 1970.
    fn wall(&self) -> i64;
    /// Waits until a time of [`Clocks::now`] as exactly as it can, or less where something calls.
    fn wait_until(&self, at: i64);
    /// Waits until about a time of [`Clocks::now`], or less where something calls.
    fn rest_until(&self, at: i64);
}

/// A clock that is shared.
pub type Clock = Arc<dyn Clocks>;

/// The system's own clocks.
pub struct SystemClocks {
    begin: Instant,
    /// What [`Wakes`] knows, kept by the one thread that waits.
    margin: AtomicI64,
    woke: AtomicI64,
    owed: AtomicI64,
}

impl Default for SystemClocks {
    fn default() -> SystemClocks {
        let Wakes { margin, woke, owed } = Wakes::NEW;
        let begin = Instant::now();
        SystemClocks { begin, margin: margin.into(), woke: woke.into(), owed: owed.into() }
    }
}

impl SystemClocks {
    /// Sleeps until a time that is to be met, or about one.
    fn sleep(&self, wakes: Wakes, until: i64, exact: bool) {
        let began = self.now();
        let left = until - began;
        if left > 0 {
            thread::park_timeout(Duration::from_micros(left.unsigned_abs()));
        }
        let Wakes { margin, woke, owed } = wakes.after(began, exact.then_some(until), self.now());
        self.margin.store(margin, Ordering::Relaxed);
        self.woke.store(woke, Ordering::Relaxed);
        self.owed.store(owed, Ordering::Relaxed);
    }

    fn wakes(&self) -> Wakes {
        let of = |atomic: &AtomicI64| atomic.load(Ordering::Relaxed);
        Wakes { margin: of(&self.margin), woke: of(&self.woke), owed: of(&self.owed) }
    }
}

impl Clocks for SystemClocks {
    fn now(&self) -> i64 {
        i64::try_from(self.begin.elapsed().as_micros()).unwrap_or(i64::MAX)
    }

    fn wall(&self) -> i64 {
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        i64::try_from(since.as_micros()).unwrap_or(i64::MAX)
    }

    fn wait_until(&self, at: i64) {
        let wakes = self.wakes();
        if let Some(wanted) = wakes.sleep_until(at, self.now()) {
            return self.sleep(wakes, wanted, true);
        }
        while self.now() < at {
            std::hint::spin_loop();
        }
    }

    fn rest_until(&self, at: i64) {
        self.sleep(self.wakes(), at, false);
    }
}

/// Whether the sending thread goes before others.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Priority {
    /// The system lets it.
    Raised,
    /// The system does not; why.
    Usual(String),
}

/// Asks the system to let this thread go before others.
fn raise() -> Priority {
    #[cfg(unix)]
    {
        use thread_priority::{
            RealtimeThreadSchedulePolicy, ThreadPriority, ThreadPriorityValue, ThreadSchedulePolicy,
            set_thread_priority_and_policy, thread_native_id,
        };
        let value = ThreadPriorityValue::try_from(60u8).unwrap_or_default();
        let policy = ThreadSchedulePolicy::Realtime(RealtimeThreadSchedulePolicy::Fifo);
        match set_thread_priority_and_policy(thread_native_id(), ThreadPriority::Crossplatform(value), policy) {
            Ok(()) => Priority::Raised,
            Err(why) => Priority::Usual(format!("{why:?}")),
        }
    }
    #[cfg(not(unix))]
    match thread_priority::set_current_thread_priority(thread_priority::ThreadPriority::Max) {
        Ok(()) => Priority::Raised,
        Err(why) => Priority::Usual(format!("{why:?}")),
    }
}

/// Ports in their places; the sending thread owns them.
struct Slots(Vec<Option<Box<dyn Out>>>);

impl Wires for Slots {
    fn send(&mut self, port: u16, bytes: &[u8]) -> Result<(), Gone> {
        self.0.get_mut(usize::from(port)).and_then(Option::as_mut).ok_or(Gone)?.send(bytes)
    }
}

/// What the screen hears.
#[derive(Debug, Clone, PartialEq)]
pub enum Told {
    /// What the engine says.
    Event(Event),
    /// How the sending thread is run.
    Priority(Priority),
    /// A port of the show is there, or is not: in words.
    Port {
        /// By its place in the show's list.
        port: u16,
        /// The machine's name for it.
        name: String,
        /// Whether it is there.
        there: bool,
        /// In words.
        words: String,
    },
    /// The log cannot be written; the run goes on.
    LogFailed(String),
    /// So many events were lost to a screen and log that did not keep up.
    Missed(u64),
}

/// How a run is set up.
pub struct Runner {
    /// What is sent.
    pub programme: Arc<Programme>,
    /// What keeps others in time.
    pub sync: SyncPlan,
    /// The machine's ports.
    pub ports: Box<dyn Ports>,
    /// For each port of the show, the machine's name of it; `None` is not connected.
    pub names: Vec<Option<String>>,
    /// Where the log is kept.
    pub log: Option<PathBuf>,
    /// The machine's clocks.
    pub clock: Clock,
    /// Called when there is something to hear.
    pub wake: Arc<dyn Fn() + Send + Sync>,
}

/// A run that goes on.
pub struct Handle {
    commands: Arc<Mutex<rtrb::Producer<Command>>>,
    stop_all: Arc<AtomicBool>,
    quit: Arc<AtomicBool>,
    sender: Thread,
    /// What is heard of it.
    pub told: Receiver<Told>,
    clock: Clock,
    names: Arc<Mutex<Vec<Option<String>>>>,
    anew: Arc<AtomicBool>,
    holders: Holders,
    threads: Vec<JoinHandle<()>>,
}

/// Events that may wait for the log; 1000 messages due at once and all their fates fit many times.
const EVENTS: usize = 1 << 16;
/// How often ports are looked for.
const LOOK: Duration = Duration::from_millis(400);
/// The wall clock and the other may drift apart by this between two looks, µs; by more, the machine slept or was set.
const APART: i64 = 1_500_000;

/// Names of those who hold releases open, by number.
type Holders = Arc<Mutex<Vec<String>>>;

/// What changes about a port of the show, by its place. Wire and line change in one go and before any command: nothing is sent by
/// a port that is taken for another.
enum Change {
    /// It is not open; which of the machine's ports stands for it.
    Line(u16, Option<u16>),
    /// It is open, on a line.
    Open(u16, Box<dyn Out>, Option<u16>),
    /// It is open no longer.
    Close(u16),
}

impl Runner {
    /// Starts the threads. Nothing is sent until a command says so.
    ///
    /// # Errors
    /// When the system has no threads to give, in words.
    pub fn start(self) -> Result<Handle, String> {
        let Runner { programme, sync, ports, names, log, clock, wake } = self;
        let holders = Arc::new(Mutex::new(Vec::new()));
        let (commands, taken) = rtrb::RingBuffer::new(4096);
        let (changes, changed) = rtrb::RingBuffer::<Change>::new(256 + 2 * programme.ports.len());
        let (old, waste) = rtrb::RingBuffer::<Box<dyn Out>>::new(256);
        let (events, heard) = rtrb::RingBuffer::new(EVENTS);
        let commands = Arc::new(Mutex::new(commands));
        let [stop_all, quit] = [(); 2].map(|()| Arc::new(AtomicBool::new(false)));
        let missed = Arc::new(AtomicU64::new(0));
        let (tell, told) = channel();
        let sending = Sending {
            engine: Engine::new(programme.clone(), sync),
            slots: Slots((0..programme.ports.len()).map(|_| None).collect()),
            commands: taken,
            changes: changed,
            old,
            events,
            missed: missed.clone(),
            stop_all: stop_all.clone(),
            quit: quit.clone(),
            clock: clock.clone(),
        };
        let priority = tell.clone();
        let no_thread = |e: std::io::Error| format!("the system has no thread for sending ({e}); close other programs");
        let sender = thread::Builder::new()
            .name("send".into())
            .spawn(move || {
                drop(priority.send(Told::Priority(raise())));
                sending.run();
            })
            .map_err(no_thread)?;
        let thread = sender.thread().clone();
        let (names, anew) = (Arc::new(Mutex::new(names)), Arc::new(AtomicBool::new(false)));
        let beside = Beside {
            programme,
            ports,
            names: names.clone(),
            open: BTreeMap::new(),
            known: Vec::new(),
            lines: Vec::new(),
            anew: anew.clone(),
            failed: BTreeMap::new(),
            commands: commands.clone(),
            changes,
            waste,
            events: heard,
            missed,
            quit: quit.clone(),
            clock: clock.clone(),
            sender: thread.clone(),
            holders: holders.clone(),
            log,
            tell,
            wake,
        };
        let beside = thread::Builder::new().name("log".into()).spawn(move || beside.run()).map_err(no_thread)?;
        Ok(Handle {
            commands,
            stop_all,
            quit,
            sender: thread,
            told,
            clock,
            names,
            anew,
            holders,
            threads: vec![sender, beside],
        })
    }
}

impl Handle {
    /// Gives a command. `false` if so many wait that it was not taken: give it again.
    pub fn command(&self, command: Command) -> bool {
        if command == Command::StopAll {
            // Never in a queue.
            self.stop_all.store(true, Ordering::Release);
            self.sender.unpark();
            return true;
        }
        let taken = self.commands.lock().unwrap_or_else(PoisonError::into_inner).push(command).is_ok();
        self.sender.unpark();
        taken
    }

    /// Gives commands from elsewhere, such as what listens to a port.
    pub fn commander(&self) -> impl Fn(Command) -> bool + Send + use<> {
        let (commands, sender) = (self.commands.clone(), self.sender.clone());
        move |command| {
            let taken = commands.lock().unwrap_or_else(PoisonError::into_inner).push(command).is_ok();
            sender.unpark();
            taken
        }
    }

    /// The machine's clock.
    pub fn clock(&self) -> Clock {
        self.clock.clone()
    }

    /// Time of the machine's clock.
    pub fn now(&self) -> i64 {
        self.clock.now()
    }

    /// The number of a person who holds a release open.
    pub fn holder(&self, name: &str) -> u16 {
        let mut holders = self.holders.lock().unwrap_or_else(PoisonError::into_inner);
        let at = holders.iter().position(|h| h == name).unwrap_or_else(|| {
            holders.push(name.to_owned());
            holders.len() - 1
        });
        u16::try_from(at).unwrap_or(u16::MAX)
    }

    /// Connects the show's ports to others of the machine.
    pub fn connect(&self, names: Vec<Option<String>>) {
        *self.names.lock().unwrap_or_else(PoisonError::into_inner) = names;
        self.anew.store(true, Ordering::Release);
    }
}

impl Drop for Handle {
    /// Everything stops and ends before the threads do.
    fn drop(&mut self) {
        self.stop_all.store(true, Ordering::Release);
        self.sender.unpark();
        thread::sleep(Duration::from_millis(5));
        self.quit.store(true, Ordering::Release);
        self.sender.unpark();
        for thread in self.threads.drain(..) {
            drop(thread.join());
        }
    }
}

/// The sending thread: takes from rings, steps, waits. No lock, and nothing made or thrown away.
struct Sending {
    engine: Engine,
    slots: Slots,
    commands: rtrb::Consumer<Command>,
    changes: rtrb::Consumer<Change>,
    old: rtrb::Producer<Box<dyn Out>>,
    events: rtrb::Producer<Event>,
    missed: Arc<AtomicU64>,
    stop_all: Arc<AtomicBool>,
    quit: Arc<AtomicBool>,
    clock: Clock,
}

impl Sending {
    fn run(mut self) {
        while !self.quit.load(Ordering::Acquire) {
            let now = self.clock.now();
            let next = self.turn(now);
            // What is far off, or nothing at all, is nothing to be late for; a command calls.
            match next.filter(|next| *next <= now + 50_000) {
                Some(next) => self.clock.wait_until(next),
                None => self.clock.rest_until(now + 40_000),
            }
        }
        self.turn(self.clock.now());
    }

    fn turn(&mut self, now: i64) -> Option<i64> {
        let Sending { engine, slots, events, missed, .. } = self;
        let mut tell = |event: Event| {
            if events.push(event).is_err() {
                missed.fetch_add(1, Ordering::Relaxed);
            }
        };
        while let Ok(change) = self.changes.pop() {
            let (port, out, line) = match change {
                Change::Line(port, line) => {
                    engine.command(Command::Line { port, line }, now, slots, &mut tell);
                    continue;
                }
                Change::Open(port, out, line) => (port, Some(out), Some(line)),
                Change::Close(port) => (port, None, None),
            };
            if let Some(slot) = slots.0.get_mut(usize::from(port)) {
                let there = out.is_some();
                if let Some(old) = std::mem::replace(slot, out) {
                    // What is thrown away is thrown away elsewhere.
                    drop(self.old.push(old));
                }
                if let Some(line) = line {
                    engine.command(Command::Line { port, line }, now, slots, &mut tell);
                }
                engine.command(Command::Port { port, there }, now, slots, &mut tell);
            }
        }
        if self.stop_all.swap(false, Ordering::AcqRel) {
            engine.command(Command::StopAll, now, slots, &mut tell);
        }
        while let Ok(command) = self.commands.pop() {
            engine.command(command, now, slots, &mut tell);
        }
        engine.step(now, slots, &mut tell)
    }
}

/// The thread beside: log, ports, sleep.
struct Beside {
    programme: Arc<Programme>,
    ports: Box<dyn Ports>,
    names: Arc<Mutex<Vec<Option<String>>>>,
    /// Ports that are open, by place, and the machine's names of them.
    open: BTreeMap<u16, String>,
    /// The machine's names of all ports that were ever wanted: their places are the lines.
    known: Vec<String>,
    /// The lines that the engine was told, by port.
    lines: Vec<Option<u16>>,
    /// Whether other ports were chosen since they were last looked for.
    anew: Arc<AtomicBool>,
    /// What was last said of ports that are not there.
    failed: BTreeMap<u16, String>,
    commands: Arc<Mutex<rtrb::Producer<Command>>>,
    changes: rtrb::Producer<Change>,
    waste: rtrb::Consumer<Box<dyn Out>>,
    events: rtrb::Consumer<Event>,
    missed: Arc<AtomicU64>,
    quit: Arc<AtomicBool>,
    clock: Clock,
    sender: Thread,
    holders: Holders,
    log: Option<PathBuf>,
    tell: Sender<Told>,
    wake: Arc<dyn Fn() + Send + Sync>,
}

impl Beside {
    fn run(mut self) {
        let mut log = self.log.take().and_then(|path| match LogFile::create(&path) {
            Ok(log) => Some(log),
            Err(why) => {
                self.say(Told::LogFailed(format!("{}: {why}", path.display())));
                None
            }
        });
        let mut looked: Option<Instant> = None;
        let (mut mono, mut wall) = (self.clock.now(), self.clock.wall());
        loop {
            let last = self.quit.load(Ordering::Acquire);
            if looked.is_none_or(|at| at.elapsed() >= LOOK) || self.anew.swap(false, Ordering::AcqRel) {
                self.look();
                looked = Some(Instant::now());
            }
            let (mono_now, wall_now) = (self.clock.now(), self.clock.wall());
            let slept = ((wall_now - wall) - (mono_now - mono)).abs() > APART;
            if slept && self.commands.lock().unwrap_or_else(PoisonError::into_inner).push(Command::Slept).is_ok() {
                self.sender.unpark();
            }
            (mono, wall) = (mono_now, wall_now);
            self.events(&mut log);
            while self.waste.pop().is_ok() {}
            if last {
                break;
            }
            thread::sleep(Duration::from_millis(4));
        }
    }

    fn say(&self, told: Told) {
        drop(self.tell.send(told));
        (self.wake)();
    }

    /// Writes and passes on what the engine told.
    fn events(&mut self, log: &mut Option<LogFile>) {
        let mut any = false;
        while let Ok(event) = self.events.pop() {
            any = true;
            if let Event::PortLost { port, .. } = event {
                // It failed while it was sent to: it is looked for anew.
                self.open.remove(&port);
            }
            let apart = self.clock.wall() - self.clock.now();
            let line = {
                let holders = self.holders.lock().unwrap_or_else(PoisonError::into_inner);
                Line::of(&event, &self.programme, &holders, apart)
            };
            if let Some(open) = log
                && let Err(why) = open.write(&line)
            {
                *log = None;
                self.say(Told::LogFailed(format!("the log can no longer be written ({why}); the run goes on without")));
            }
            drop(self.tell.send(Told::Event(event)));
        }
        if any {
            if let Some(open) = log
                && let Err(why) = open.flush()
            {
                *log = None;
                self.say(Told::LogFailed(format!("the log can no longer be written ({why}); the run goes on without")));
            }
            (self.wake)();
        }
        let missed = self.missed.swap(0, Ordering::Relaxed);
        if missed > 0 {
            self.say(Told::Missed(missed));
        }
    }

    /// Looks which ports are there, opens those that came and tells of those that went.
    fn look(&mut self) {
        let wanted = self.names.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let listed = self.ports.outputs();
        if !self.tell_lines(&wanted) {
            return;
        }
        for (port, name) in (0u16..).zip(&wanted) {
            let show_name = self.programme.ports.get(usize::from(port)).cloned().unwrap_or_default();
            let open = self.open.get(&port).cloned();
            let there = name.as_ref().is_some_and(|n| listed.as_ref().is_ok_and(|l| l.contains(n)));
            match (open, name) {
                (Some(open), Some(name)) if open == *name && there => {}
                // Another that was chosen takes its place at once: nothing is lost between the two.
                (_, Some(name)) if there => match self.ports.open(name) {
                    Ok(out) => {
                        let line = self.line(Some(name));
                        if self.changes.push(Change::Open(port, out, line)).is_ok() {
                            if let Some(told) = self.lines.get_mut(usize::from(port)) {
                                *told = line;
                            }
                            self.sender.unpark();
                            self.open.insert(port, name.clone());
                            self.failed.remove(&port);
                            let words = format!("{show_name}: \"{name}\" is there");
                            self.say(Told::Port { port, name: name.clone(), there: true, words });
                        }
                    }
                    Err(why) => {
                        self.open.remove(&port);
                        self.missing(port, name.clone(), format!("{show_name}: {why}"));
                    }
                },
                (Some(open), name) => {
                    self.open.remove(&port);
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

    /// The line of one of the machine's ports.
    fn line(&mut self, name: Option<&String>) -> Option<u16> {
        let name = name?;
        let at = self.known.iter().position(|known| known == name).unwrap_or_else(|| {
            self.known.push(name.clone());
            self.known.len() - 1
        });
        u16::try_from(at).ok()
    }

    /// Tells the engine which of the machine's ports stand for those of the show that are not open: one that cannot be opened may
    /// be another's wire all the same. Whether it could be told.
    fn tell_lines(&mut self, wanted: &[Option<String>]) -> bool {
        self.lines.resize(wanted.len(), None);
        for (port, name) in (0u16..).zip(wanted) {
            let (at, line) = (usize::from(port), self.line(name.as_ref()));
            if self.open.contains_key(&port) || self.lines[at] == line {
                continue;
            }
            if self.changes.push(Change::Line(port, line)).is_err() {
                return false;
            }
            self.lines[at] = line;
        }
        true
    }

    /// Says what is missing, once; and the engine learns of it.
    fn missing(&mut self, port: u16, name: String, words: String) {
        if self.failed.get(&port) != Some(&words) {
            self.failed.insert(port, words.clone());
            if self.changes.push(Change::Close(port)).is_ok() {
                self.sender.unpark();
            }
            self.say(Told::Port { port, name, there: false, words });
        }
    }
}

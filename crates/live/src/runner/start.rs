//! Sets a run up: its queues and threads, and which thread gets which end of each queue.

use super::clocks::Clock;
use super::handle::Handle;
use super::port_supervisor::{Parts, PortSupervisor};
use super::runner_event::RunnerEvent;
use super::sending::Sending;
use super::shared::{CommandQueue, PortChange, PortThreads, SharedList, SpawnWorker};
use crate::contact_keeper::ContactKeeper;
use crate::engine::Engine;
use crate::gate::Gate;
use crate::orders::Orders;
use crate::ports::Ports;
use crate::run_plan::RunPlan;
use crate::sync::SyncPlan;
use letfall_platform::{Urgency, raise_thread_priority};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::{self, JoinHandle};

/// How many commands may wait for the engine.
const COMMANDS: usize = 4096;
/// How many events may wait for the log. That is room for the events of 1000 simultaneous messages many times over.
const EVENTS: usize = 1 << 16;

/// How a run is set up.
pub struct Runner {
    /// What is sent.
    pub plan: Arc<RunPlan>,
    /// Which ports get timecode and clock.
    pub sync: SyncPlan,
    /// The machine's ports.
    pub ports: Box<dyn Ports>,
    /// For each port of the show, the name of its machine port. `None` if it is not connected.
    pub names: Vec<Option<String>>,
    /// Where the log is kept.
    pub log: Option<PathBuf>,
    /// The machine's clocks.
    pub clock: Clock,
    /// The program's own executable, to be started as contact keeper. `None` starts no keeper.
    pub keeper: Option<PathBuf>,
    /// Called when there are new events.
    pub wake: Arc<dyn Fn() + Send + Sync>,
    /// Threads that end earlier runs. No port is opened before they are done.
    pub after: Vec<JoinHandle<()>>,
}

/// A run before it has threads: what decides, what manages the ports, and what others hold of them.
pub struct SetUp {
    /// For the sending thread.
    pub sending: Sending,
    /// For the second thread.
    pub supervisor: PortSupervisor,
    /// Commands to the engine.
    pub commands: CommandQueue,
    /// Stops, letting go, and where the run is.
    pub orders: Arc<Orders>,
    /// Set to end the run.
    pub quit: Arc<AtomicBool>,
    /// For each port of the show, the name of its machine port.
    pub names: SharedList<Option<String>>,
    /// Set when other ports were chosen.
    pub reassigned: Arc<AtomicBool>,
    /// Names of those who hold releases.
    pub holders: SharedList<String>,
    /// What the threads report to the screen.
    pub told: Receiver<RunnerEvent>,
    /// For whatever else has something to report.
    pub tell: Sender<RunnerEvent>,
}

impl Runner {
    /// Makes everything but the threads. `spawn` gives a port's worker its thread. At most `commands` and `events` may wait for
    /// the engine and for the log.
    pub fn set_up(self, spawn: SpawnWorker, commands: usize, events: usize) -> SetUp {
        let Runner { plan, sync, ports, names, log, clock, keeper, wake, after } = self;
        let holders = SharedList::default();
        let orders = Arc::new(Orders::new(plan.releases.len()));
        let (commands, taken) = CommandQueue::new(commands, orders.clone());
        let (changes, changed) = rtrb::RingBuffer::<PortChange>::new(256 + 4 * plan.ports.len());
        let (events, heard) = rtrb::RingBuffer::new(events);
        let quit = Arc::new(AtomicBool::new(false));
        let missed = Arc::new(AtomicU64::new(0));
        let (tell, told) = channel();
        let sending = Sending {
            engine: Engine::new(plan.clone(), orders.clone(), sync),
            gate: Gate::new(plan.clone(), orders.clone()),
            orders: orders.clone(),
            commands: taken,
            changes: changed,
            events,
            missed: missed.clone(),
            quit: quit.clone(),
            clock: clock.clone(),
        };
        // A keeper is needed only if there is a contact that this program must open again.
        let keeper = keeper.filter(|_| plan.releases.iter().any(|release| release.pulse.is_some()));
        let keeper = keeper.and_then(|program| match ContactKeeper::start(&program) {
            Ok(keeper) => Some(Arc::new(keeper)),
            Err(why) => {
                drop(tell.send(RunnerEvent::KeeperGone(why)));
                None
            }
        });
        let (names, reassigned) = (SharedList::new(names), Arc::new(AtomicBool::new(false)));
        let mut supervisor = PortSupervisor::new(Parts {
            plan,
            orders: orders.clone(),
            ports,
            spawn,
            names: names.clone(),
            reassigned: reassigned.clone(),
            commands: commands.clone(),
            changes,
            events: heard,
            missed,
            quit: quit.clone(),
            clock,
            keeper,
            holders: holders.clone(),
            log,
            tell: tell.clone(),
            wake,
            after,
        });
        supervisor.prepare();
        SetUp { sending, supervisor, commands, orders, quit, names, reassigned, holders, told, tell }
    }

    /// Starts the threads. Nothing is sent before a command to do so.
    ///
    /// # Errors
    /// When the system cannot start a thread, in words.
    pub fn start(self) -> Result<Handle, String> {
        let (clock, ports) = (self.clock.clone(), PortThreads::default());
        let spawn = spawn_threads(ports.clone(), clock.clone());
        let SetUp { sending, supervisor, commands, orders, quit, names, reassigned, holders, told, tell } =
            self.set_up(spawn, COMMANDS, EVENTS);
        let no_thread = |e: std::io::Error| format!("the system has no thread for sending ({e}); close other programs");
        let sender = thread::Builder::new()
            .name("send".into())
            .spawn(move || {
                drop(tell.send(RunnerEvent::Priority(raise_thread_priority(Urgency::Deciding))));
                sending.run();
            })
            .map_err(no_thread)?;
        let thread = sender.thread().clone();
        let woken = thread.clone();
        let supervisor =
            thread::Builder::new().name("log".into()).spawn(move || supervisor.run(woken)).map_err(no_thread)?;
        Ok(Handle {
            commands,
            orders,
            quit,
            sender: thread,
            ports,
            events: told,
            clock,
            names,
            reassigned,
            holders,
            threads: vec![sender, supervisor],
        })
    }
}

/// Gives each port its own thread. The thread ends by itself once nothing is owed. It is not joined, because one that is stuck
/// in its driver must not block the others.
fn spawn_threads(threads: PortThreads, clock: Clock) -> SpawnWorker {
    Box::new(move |worker| {
        let clock = clock.clone();
        let spawned = thread::Builder::new().name("port".into()).spawn(move || {
            drop(raise_thread_priority(Urgency::HandingOver));
            worker.run(&clock);
        });
        let thread = spawned.map_err(|e| format!("the system has no thread for a port ({e}); close other programs"))?;
        let woken = thread.thread().clone();
        threads.add(thread);
        Ok(Some(woken))
    })
}

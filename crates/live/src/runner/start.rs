//! Setting a run up: rings, threads, and who has which end.

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
use std::sync::mpsc::channel;
use std::thread::{self, JoinHandle};

/// Events that may wait for the log; 1000 messages due at once and all their fates fit many times.
const EVENTS: usize = 1 << 16;

/// How a run is set up.
pub struct Runner {
    /// What is sent.
    pub plan: Arc<RunPlan>,
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
    /// The program's own file, which can be started as a keeper of contacts; `None` starts none.
    pub keeper: Option<PathBuf>,
    /// Called when there is something to hear.
    pub wake: Arc<dyn Fn() + Send + Sync>,
    /// Ends of earlier runs: no port is opened before they are over.
    pub after: Vec<JoinHandle<()>>,
}

impl Runner {
    /// Starts the threads. Nothing is sent until a command says so.
    ///
    /// # Errors
    /// When the system has no threads to give, in words.
    pub fn start(self) -> Result<Handle, String> {
        let Runner { plan, sync, ports, names, log, clock, keeper, wake, after } = self;
        let holders = SharedList::default();
        let orders = Arc::new(Orders::new(plan.releases.len()));
        let (commands, taken) = CommandQueue::new(4096, orders.clone());
        let (changes, changed) = rtrb::RingBuffer::<PortChange>::new(256 + 4 * plan.ports.len());
        let (events, heard) = rtrb::RingBuffer::new(EVENTS);
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
            obeyed: (0, 0),
        };
        // Only a contact that this program itself must open again needs a keeper.
        let keeper = keeper.filter(|_| plan.releases.iter().any(|release| release.pulse.is_some()));
        let keeper = keeper.and_then(|program| match ContactKeeper::start(&program) {
            Ok(keeper) => Some(Arc::new(keeper)),
            Err(why) => {
                drop(tell.send(RunnerEvent::KeeperGone(why)));
                None
            }
        });
        let port_threads = PortThreads::default();
        let priority = tell.clone();
        let (names, reassigned) = (SharedList::new(names), Arc::new(AtomicBool::new(false)));
        let mut supervisor = PortSupervisor::new(Parts {
            plan,
            orders: orders.clone(),
            ports,
            spawn: spawn_threads(port_threads.clone(), clock.clone()),
            names: names.clone(),
            reassigned: reassigned.clone(),
            commands: commands.clone(),
            changes,
            events: heard,
            missed,
            quit: quit.clone(),
            clock: clock.clone(),
            keeper,
            holders: holders.clone(),
            log,
            tell,
            wake,
            after,
        });
        supervisor.prepare();
        let no_thread = |e: std::io::Error| format!("the system has no thread for sending ({e}); close other programs");
        let sender = thread::Builder::new()
            .name("send".into())
            .spawn(move || {
                drop(priority.send(RunnerEvent::Priority(raise_thread_priority(Urgency::Deciding))));
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
            ports: port_threads,
            events: told,
            clock,
            names,
            reassigned,
            holders,
            threads: vec![sender, supervisor],
        })
    }
}

/// Gives each port a thread of its own. Nobody waits for its end: it ends when everything is paid, and one that is stuck in its driver
/// must hold nobody up.
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

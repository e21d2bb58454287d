//! Setting a run up: rings, threads, and who has which end.

use super::clocks::Clock;
use super::handle::Handle;
use super::port_supervisor::{Parts, PortSupervisor};
use super::runner_event::RunnerEvent;
use super::sending::{OpenPorts, Sending};
use super::shared::{CommandQueue, PortChange, SharedList};
use crate::engine::Engine;
use crate::ports::{PortOut, Ports};
use crate::run_plan::RunPlan;
use crate::sync::SyncPlan;
use letfall_platform::raise_thread_priority;
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
        let Runner { plan, sync, ports, names, log, clock, wake, after } = self;
        let holders = SharedList::default();
        let (commands, taken) = CommandQueue::new(4096);
        let (changes, changed) = rtrb::RingBuffer::<PortChange>::new(256 + 2 * plan.ports.len());
        let (old, waste) = rtrb::RingBuffer::<Box<dyn PortOut>>::new(256);
        let (events, heard) = rtrb::RingBuffer::new(EVENTS);
        let [stop_all, quit] = [(); 2].map(|()| Arc::new(AtomicBool::new(false)));
        let missed = Arc::new(AtomicU64::new(0));
        let (tell, told) = channel();
        let sending = Sending {
            engine: Engine::new(plan.clone(), sync),
            ports: OpenPorts::new(plan.ports.len()),
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
                drop(priority.send(RunnerEvent::Priority(raise_thread_priority())));
                sending.run();
            })
            .map_err(no_thread)?;
        let thread = sender.thread().clone();
        let (names, reassigned) = (SharedList::new(names), Arc::new(AtomicBool::new(false)));
        let supervisor = PortSupervisor::new(Parts {
            plan,
            ports,
            names: names.clone(),
            reassigned: reassigned.clone(),
            commands: commands.clone(),
            changes,
            old: waste,
            events: heard,
            missed,
            quit: quit.clone(),
            clock: clock.clone(),
            sender: thread.clone(),
            holders: holders.clone(),
            log,
            tell,
            wake,
            after,
        });
        let supervisor =
            thread::Builder::new().name("log".into()).spawn(move || supervisor.run()).map_err(no_thread)?;
        Ok(Handle {
            commands,
            stop_all,
            quit,
            sender: thread,
            events: told,
            clock,
            names,
            reassigned,
            holders,
            threads: vec![sender, supervisor],
        })
    }
}

//! The engine on the machine's own clock, in a thread of its own; and the thread beside it that writes the log, looks after the
//! ports and watches for sleep.

mod clocks;
mod handle;
mod port_supervisor;
mod port_worker;
mod runner_event;
mod sending;
mod shared;
mod spin_budget;
mod start;

pub use clocks::{Clock, Clocks, SystemClocks};
pub use handle::Handle;
pub use runner_event::RunnerEvent;
pub use start::Runner;

/// The machines behind the threads of a run, for whoever turns them on a clock of its own, as the simulation does.
pub mod machines {
    pub use super::port_supervisor::{Parts as SupervisorParts, PortSupervisor};
    pub use super::port_worker::{Connection, PortWorker, WorkerParts};
    pub use super::sending::Sending;
    pub use super::shared::{CommandQueue, PortChange, SharedList, SpawnWorker};
}

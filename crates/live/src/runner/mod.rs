//! Runs the engine on the machine's clock, in its own thread. A second thread writes the log, manages the ports and notices
//! when the machine slept.

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

/// The state machines behind the threads of a run, for callers that drive them on their own clock, such as the simulation.
pub mod machines {
    pub use super::port_supervisor::PortSupervisor;
    pub use super::port_worker::{Connection, PortWorker, WorkerEnds, WorkerParts};
    pub use super::sending::Sending;
    pub use super::shared::{CommandQueue, PortChange, SharedList, SpawnWorker};
    pub use super::start::SetUp;
}

//! The engine on the machine's own clock, in a thread of its own; and the thread beside it that writes the log, looks after the
//! ports and watches for sleep.

mod clocks;
mod handle;
mod port_supervisor;
mod runner_event;
mod sending;
mod shared;
mod spin_budget;
mod start;

pub use clocks::{Clock, Clocks, SystemClocks};
pub use handle::Handle;
pub use runner_event::RunnerEvent;
pub use start::Runner;

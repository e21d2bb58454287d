//! The schedule, sent: the same messages at the same times that screen, file and paper show.
//!
//! The engine is a plain state machine over a clock that is given to it; the runner gives it the real one, in a thread that
//! neither allocates nor waits for the screen. Ports and clocks stand behind traits, so that all of it runs on made-up ones.
//!
//! What is sent was sent, and no more: nothing here knows whether a fabric fell.

mod after;
mod engine;
mod follow;
mod interlock;
mod log;
mod ports;
mod programme;
mod record;
mod runner;
mod sync;
mod wakes;

pub use after::{Lateness, Measured, Summary, corrected, summary};
pub use engine::{Command, Engine, Event, Holder, Mode, What, Wires};
pub use follow::{Follow, Follower, Says};
pub use interlock::{HEARTBEAT, HOLD, Interlock, Lapse, Lock};
pub use log::{Line, LogFile, read_log};
pub use ports::{Gone, Heard, Input, NoPorts, Out, Ports, SystemPorts};
pub use programme::{Item, Programme, Release};
pub use record::{Struck, place};
pub use runner::{Clock, Clocks, Handle, Priority, Runner, SystemClocks, Told};
pub use sync::{SyncPlan, quarter_frame, song_position};

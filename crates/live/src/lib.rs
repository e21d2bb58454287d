//! Sends the schedule: the same messages at the same times as on screen, in the file and on paper.
//!
//! The engine is a plain state machine that gets the time from its caller. The runner drives it with the real clock, in a
//! thread that neither allocates nor waits for the screen. Ports and clocks are behind traits, so that tests can use fake
//! ones.
//!
//! "Sent" means no more than that. Nothing here knows whether a fabric fell.

mod account;
mod after;
mod band;
mod bend;
mod command;
mod contact_keeper;
mod engine;
mod event;
mod follow;
mod gate;
mod interlock;
mod log;
mod orders;
mod pad_hit;
#[doc(hidden)]
pub mod planted;
mod ports;
mod run_plan;
mod runner;
mod script;
mod sent_late;
mod sync;
#[cfg(feature = "device")]
mod system_ports;
mod units;

pub use account::{bend_words, performed};
pub use after::{Lateness, Measured, Summary, corrected, summary};
pub use band::Band;
pub use bend::{Answer, BandPlace, Bend, Part, Rate, Refusal};
pub use command::{Command, Mode};
pub use contact_keeper::{ContactKeeper, KEEPER_COMMAND, keep_contacts};
pub use engine::Engine;
pub use event::{Event, EventSink, Fate, SendOutcome};
pub use follow::{Follow, Follower, FollowerEvent};
pub use gate::{Debt, Gate, Packet, Payload, PortLink, Report, Task};
pub use interlock::{DisarmReason, HEARTBEAT, HOLD, Interlock, Lock};
pub use letfall_platform::Priority;
pub use log::{ClockPair, LogFile, LogRecord, read_log};
pub use orders::{Grip, Moves, Orders, Place};
pub use pad_hit::{PadHit, place};
#[cfg(not(feature = "device"))]
pub use ports::NoPorts as SystemPorts;
pub use ports::{
    Gone, HAS_OWN_PORTS, InputCallback, NoPorts, OWN_PORT, PortInput, PortOut, Ports, interface_of, is_own_port,
    port_identity, port_make, port_names,
};
pub use run_plan::{
    ByteRange, HandGroup, LoopRefusal, MarkDoes, ReleaseGuard, ReleaseSet, RunItem, RunMark, RunPlan, RunRelease,
};
pub use runner::{Clock, Clocks, Handle, Runner, RunnerEvent, SystemClocks, machines};
pub use script::{Does, Script, ScriptError, ScriptPart, Step, rehearse};
pub use sent_late::sent_late;
pub use sync::SyncPlan;
#[cfg(feature = "device")]
pub use system_ports::SystemPorts;
pub use units::{HolderId, ItemIndex, MachineSpan, MachineTime, PhysicalPort, ReleaseIndex, ShowPort, UnixTime};

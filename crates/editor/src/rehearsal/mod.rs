//! Sending the schedule: the current run, its set-up, and cues recorded from pads. Does not depend on any screen; screens send
//! it requests and draw its state.

mod band;
mod bending;
mod bends;
pub mod choices;
mod following;
mod hand;
mod leads;
mod port_choices;
mod ready;
mod recorder;
mod request;
mod run;
mod session;

pub use bends::Bends;
pub use port_choices::PortChoices;
pub use recorder::{Recorder, RecorderOptions};
pub use request::{RehearsalOptions, RehearsalRequest};
pub use run::{GuideBend, PortStatus, ReleaseStatus, Run};
pub use session::Rehearsal;

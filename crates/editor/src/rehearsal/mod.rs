//! The schedule, sent: the run that goes on, what it was set up with, what is played in on pads. Knows no screen; screens send it
//! requests and draw what it holds.

mod port_choices;
mod recorder;
mod request;
mod run;
mod session;

pub use port_choices::PortChoices;
pub use recorder::{Recorder, RecorderOptions};
pub use request::{RehearsalOptions, RehearsalRequest};
pub use run::{PortStatus, ReleaseStatus, Run};
pub use session::Rehearsal;

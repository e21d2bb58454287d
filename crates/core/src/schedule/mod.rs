//! The finished schedule of one service: what is sent when, so that it lands when it must.
//!
//! Screen, file, paper and wire all read this and nothing else, so they cannot disagree. It is rebuilt whole.

mod breaths;
mod build;
mod calls;
mod certainty;
mod fires;
mod queue;
pub mod wire;
mod words;

pub use breaths::{Breath, Said, SaidFor, breaths, names as spoken_names, said_for};
pub use build::{Fault, Lead, Row, Schedule, ScheduleError};
pub use calls::{SpokenCall, calls};
pub use certainty::{Certainty, Term, certainty};
pub use fires::Fires;
pub use queue::{Port as PortLoad, PortUse};
pub use wire::{Wire, WireError};
pub use words::{describe, message_words, place_words, release_land_words};

//! What is wrong with a plan: each check with a code, a severity, a place and a remedy.
//!
//! A problem is data, never an error. The checks report what they found; they never say that something is safe.

mod bends;
mod context;
mod desk;
mod fabric;
mod guide;
mod lights;
mod marks;
mod messages;
mod people;
mod problem;
mod release;
mod reveal;
mod rig;
mod room;
mod run;
mod services;
mod staging;
mod timing;
mod unchecked;
mod words;

pub(crate) use context::Checks;
pub(crate) use guide::guide;
pub use problem::{Code, Problem, Severity};
pub(crate) use run::{rig_problems, service_problems};
pub use unchecked::not_checked;

//! The gate alone: what it hands over to a port's thread and when, what it refuses, and how it handles reports.

#![allow(clippy::unwrap_used, missing_docs)]

mod bench;
#[path = "../made_up/mod.rs"]
mod made_up;
mod waiting;
mod wires;

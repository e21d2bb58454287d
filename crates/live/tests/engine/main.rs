//! What is sent, on a made-up clock and made-up ports, against the schedule of the demo show.

#![allow(clippy::unwrap_used)]

mod long_runs;
#[path = "../made_up/mod.rs"]
mod made_up;
mod positions;
mod releases;

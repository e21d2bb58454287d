//! Compares what is sent, on a fake clock and fake ports, with the schedule of the demo show.

#![allow(clippy::unwrap_used)]

mod band_ways;
mod changes;
mod courses;
mod long_runs;
#[path = "../made_up/mod.rs"]
mod made_up;
mod positions;
mod releases;
mod ways;

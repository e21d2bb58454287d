//! The tune of the demo shows: our own score, played by our own small band on whatever grid a show has. The same score and grid
//! give the same samples on every machine.

mod band;
mod score;
mod tune;

pub use band::{Band, SAMPLE_RATE, Voice};
pub use score::{Score, ScoreError};

//! What changes in a film, where and when.

mod change;
mod course;
mod fall;
mod propose;
mod region;
mod series;

pub use change::{AROUND, Seen, Unseen, Wanted, change};
pub use fall::{Fall, REACH as FALL_REACH, fall};
pub use propose::{Kind, Proposed, Sighting, Watcher};
pub use region::{Region, RegionError, Regions};
pub use series::{Cells, Recorder, Still};

/// Points of a frame as it is looked at, whatever the film has: across and down. Three bytes each, red, green and blue, by rows.
pub const WIDE: usize = 192;
/// Points of a frame, down.
pub const HIGH: usize = 144;

/// One frame.
#[derive(Debug, Clone, Copy)]
pub struct Frame<'a> {
    /// Its stamp, seconds of the film's clock.
    pub at: f64,
    /// [`WIDE`] times [`HIGH`] points.
    pub rgb: &'a [u8],
}

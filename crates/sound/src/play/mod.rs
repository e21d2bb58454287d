//! Playing a guide: what is heard, and where the playhead is by the clock of the device that plays it.
//!
//! A thread beside reads, stretches and resamples into a ring; the device's own callback only takes from it. Nothing there
//! allocates, locks or waits.

mod clock;
mod device;
mod feed;
mod player;
mod spool;
mod stretch;

pub use clock::DeviceClock;
pub use device::{Device, Fill, NoDevice, Running, System};
pub use feed::{Click, Feed, Mark, Part, Sound, place};
pub use player::{Player, Request, Told};
pub use spool::Spool;

//! Playing a guide: what is heard, and where the playhead is by the clock of the device that plays it.
//!
//! A thread beside reads, stretches and resamples into a ring; the device's own callback only takes from it. Nothing there
//! allocates, locks or waits.

mod clock;
mod decoded_cache;
mod device;
mod player;
mod renderer;
mod stretch;

pub use clock::DeviceClock;
pub use decoded_cache::DecodedCache;
pub use device::{Device, Fill, NoDevice, Running, System};
pub use player::{Player, PlayerEvent, Request};
pub use renderer::{Click, Mark, Part, Renderer, Sound, place};

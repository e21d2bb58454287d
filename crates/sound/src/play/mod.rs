//! Playing a guide: what is heard, and where the playhead is according to the clock of the device that plays it.
//!
//! A separate thread reads, stretches and resamples into a ring buffer. The device's callback only takes samples from it, and
//! never allocates, locks or waits.

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

//! What the audience sees at an instant: what every output shows, where the fabric is, which preset is up.
//!
//! Worked out from a finished schedule, assuming that every cue lands as planned. The screen draws it and the checks walk it.

mod bodies;
mod lights;
mod picture;
mod slot;

pub(crate) use bodies::{ends, levels};
pub(crate) use lights::LightWalk;
pub use lights::{BehindLight, Light};
pub use picture::{Falling, Lit, Playing, Showing, Stage, is_lit};
pub use slot::{LightSlot, light_slot};

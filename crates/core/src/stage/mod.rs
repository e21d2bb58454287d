//! What the audience sees at an instant: what every output shows, where the fabric is, which preset is up.
//!
//! Worked from a finished schedule with every cue landing as planned. Drawn by the screen, walked by the checks.

mod bodies;
mod picture;

pub(crate) use bodies::{ends, levels};
pub use picture::{Falling, Lit, Playing, Showing, Stage, is_lit};

//! What is sent when: a plain machine over a clock that is given to it. Nothing here allocates once it was made, and nothing
//! waits.

mod chase;
mod position;
mod send;
mod state;
mod sync_out;

pub use state::{Engine, MidiSink};

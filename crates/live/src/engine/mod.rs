//! What is sent when: a plain state machine over a clock that is given to it. It decides; the [gate](crate::Gate) lets pass or
//! refuses. Nothing here allocates once it was made, and nothing waits.

mod chase;
mod position;
mod release;
mod send;
mod state;
mod sync_out;
mod terms;

pub use state::Engine;

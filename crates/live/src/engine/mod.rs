//! Decides what is sent when. It is a plain state machine that gets the time from its caller. The [gate](crate::Gate) then
//! passes or refuses each message. Nothing here allocates once the engine is made, and nothing waits.

mod by_hand;
mod chase;
mod fate;
mod parts;
mod path;
mod position;
mod release;
mod send;
mod state;
mod step;
mod sync_out;
mod terms;

pub use state::Engine;

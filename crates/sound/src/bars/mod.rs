//! Finds the bar grid of a recording: how much each moment sounds like a beat, the row of beats, which of them begin bars, and
//! as few marks as explain them. A [`Hearing`] is made once, so that the user's choices can be tried on it at once.

mod at_one_tempo;
mod attacks;
mod bar_error;
mod beats;
mod downbeats;
mod fit;
mod follow;
mod gaps;
mod given;
mod hearing;
mod net;
mod search_limits;
mod spectrum;
mod steady;
mod taps;
mod tempo_range;

pub use bar_error::BarError;
pub use fit::{Placed, plan};
pub use given::GivenBar;
pub use hearing::{BarsError, Choice, Found, FoundBar, Hearing, WEAK};
pub use spectrum::{BANDS, Bands, FRAME_RATE, Listener};
pub use taps::{TapError, Taps};
pub use tempo_range::TempoRange;

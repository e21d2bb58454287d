//! Bars by ear: found in the guide recording or tapped along to it, and tried out before the song uses them. Does not depend on
//! any screen.

mod known_bar;
mod offer;
mod request;
mod take_over;

pub use known_bar::KnownBar;
pub use offer::ByEar;
pub use request::EarRequest;

//! Guide recordings: decoded block by block, and their peaks for drawing.
//!
//! Nothing here knows of files on disk or of a screen: a recording comes as something that can be read and sought in.

pub mod bars;
mod decode;
mod edit_list;
mod peaks;
pub mod play;
pub mod song;

pub use decode::{Decoder, Facts, SoundError};
pub use peaks::Peaks;
pub use symphonia::core::io::MediaSource;

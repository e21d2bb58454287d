//! Guide recordings: decoding them block by block, and their peaks for drawing.
//!
//! Nothing here depends on files on disk or on a screen: a recording is anything that can be read and sought in.

pub mod bars;
mod decode;
mod edit_list;
mod peaks;
pub mod play;
pub mod song;

pub use decode::{Decoder, Facts, SoundError};
pub use peaks::Peaks;
pub use symphonia::core::io::MediaSource;

//! MIDI as bytes and nothing more: encoding and decoding messages, timecode and clock, and which messages a device may confuse.
//!
//! The schedule, the exporters and the live engine all use this module; none of them builds MIDI bytes itself.

mod decode;
mod encode;
mod release_trigger;
pub mod show_control;
mod sync;

pub use decode::{MidiInput, is_channel_message, is_one_message, split_messages};
pub(crate) use encode::show_control_data;
pub use encode::{EXCLUSIVE_MAX, EncodeError, EncodedMessage, encode, encode_release};
pub use release_trigger::{Doubt, ReleaseTrigger};
pub use sync::{
    CLOCK_TICKS, CONTINUE, SONG_POSITION_TICKS, START, STOP, TIMING_CLOCK, full_frame, quarter_frame, silence,
    song_position,
};

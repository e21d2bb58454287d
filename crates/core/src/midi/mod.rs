//! MIDI as bytes, and nothing else: messages encoded and decoded, time code and clock, and what a device may take for what.
//!
//! The schedule, the exporters and the live engine all use these; none of them has MIDI bytes of its own.

mod decode;
mod encode;
mod sync;
mod triggers;

pub use decode::{MidiInput, is_channel_message, split_messages};
pub(crate) use encode::show_control_data;
pub use encode::{EncodeError, EncodedMessage, encode};
pub use sync::{
    CLOCK_TICKS, CONTINUE, SONG_POSITION_TICKS, START, STOP, TIMING_CLOCK, full_frame, quarter_frame, silence,
    song_position,
};
pub use triggers::may_trigger;

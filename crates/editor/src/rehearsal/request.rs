//! What a screen may ask of a rehearsal, as values.

use super::recorder::RecorderOptions;
use letfall_live::{Follow, Mode};

/// How a run is set up.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(clippy::struct_excessive_bools)] // each is a box to tick
pub struct RehearsalOptions {
    /// What should hold where it starts is sent first.
    pub chase: bool,
    /// It plays the section at the playhead again and again.
    pub looped: bool,
    /// The guide plays along.
    pub with_guide: bool,
    /// MIDI time code is sent to all ports.
    pub timecode: bool,
    /// MIDI clock and song position are sent to all ports.
    pub clock: bool,
    /// What is followed.
    pub follow: Follow,
    /// The machine's port that is listened to; empty for none.
    pub input: String,
}

/// What a screen asks for.
#[derive(Debug, Clone, PartialEq)]
pub enum RehearsalRequest {
    /// Start from the playhead, or stop.
    Toggle,
    /// Stop everything.
    StopAll,
    /// Rehearse or perform.
    Mode(Mode),
    /// A hand is on the key or button that arms (in every frame while it is), or on neither.
    Hold(bool),
    /// The name of the person who holds.
    Holder(String),
    /// Another set-up.
    Options(RehearsalOptions),
    /// One of the machine's ports stands for one of the show's.
    Connect {
        /// The show's port, by name.
        show: String,
        /// The machine's port, by name.
        machine: String,
    },
    /// Look again which ports the machine has.
    LookForPorts,
    /// How pads and keys become cues.
    Recorder(RecorderOptions),
}

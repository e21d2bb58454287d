//! What a screen can ask of a rehearsal, as values.

use super::recorder::RecorderOptions;
use letfall_live::{Bend, Follow, Mode, ReleaseIndex};

/// The set-up of a run.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(clippy::struct_excessive_bools)] // each is a checkbox
pub struct RehearsalOptions {
    /// When starting in mid-song, first send what should already be in effect there.
    pub chase: bool,
    /// Loop the section at the playhead.
    pub looped: bool,
    /// Play the guide along with the run.
    pub with_guide: bool,
    /// Follow a live band by taps.
    pub band: bool,
    /// Cues at clock times keep their time of day if a performance starts late; otherwise they move with the song.
    pub keep_times: bool,
    /// Send MIDI timecode to all ports.
    pub timecode: bool,
    /// Send MIDI clock and song position to all ports.
    pub clock: bool,
    /// What to follow.
    pub follow: Follow,
    /// The machine's port to listen to; empty for none.
    pub input: String,
}

/// What a screen can ask for.
#[derive(Debug, Clone, PartialEq)]
pub enum RehearsalRequest {
    /// Start from the playhead, or stop.
    Toggle,
    /// Stop everything.
    StopAll,
    /// Esc was pressed, in any window, at a time of the screen's clock in seconds: the first press locks every release, a second one
    /// soon after stops all.
    Escape(f64),
    /// Switch between rehearsing and performing.
    Mode(Mode),
    /// Whether the key or button that arms is held down; sent in every frame while it is.
    Hold(bool),
    /// A release that has left is to be tried once more.
    SecondTry(ReleaseIndex),
    /// A person bends the run.
    Bend(Bend),
    /// A tap on a beat of the live band.
    BandTap,
    /// The live band is at this bar, on its downbeat.
    BandAt(i32),
    /// The live band is so many beats further than supposed.
    BandNudge(i32),
    /// Start from the playhead so that song time 0 comes at this time of day, in microseconds after midnight.
    StartAt(i64),
    /// The name of the person who holds the release.
    Holder(String),
    /// Change the set-up.
    Options(RehearsalOptions),
    /// Use one of the machine's ports for one of the show's.
    Connect {
        /// The show's port, by name.
        show: String,
        /// The machine's port, by name.
        machine: String,
    },
    /// Look again for the machine's ports.
    LookForPorts,
    /// How hits on pads and keys become cues.
    Recorder(RecorderOptions),
}

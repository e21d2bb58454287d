//! Why a service cannot be written as a MIDI file.

use letfall_core::show::Label;

/// Why a service cannot be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MidiError {
    /// Releases were asked for and the safety sheet is not filled in.
    #[error(
        "release messages need a complete safety sheet, and it does not say {0}; fill it in, or leave --with-releases out"
    )]
    SafetySheet(String),
    /// A release whose kind is not known.
    #[error("release {0} does not say whether power opens or holds it; record its kind, or leave --with-releases out")]
    ReleaseKind(String),
    /// Something else sends a message that might fire a release, so playing the file could let the fabric go.
    #[error("{cue} might fire release \"{release}\": {why}; give the contact a port or channel of its own")]
    FiresRelease {
        /// The cue.
        cue: Label,
        /// The release's name.
        release: String,
        /// Why it might.
        why: &'static str,
    },
    /// Longer than a file can count.
    #[error(
        "the song is too long for a MIDI file at this resolution (at most 2^28 ticks between events); choose a coarser one"
    )]
    TooLong,
    /// More tracks than a header can count.
    #[error("a MIDI file can have 65535 tracks at most and this show has more receivers; split the show")]
    TooManyTracks,
}

//! Requests about bars by ear, as values.

use super::known_bar::KnownBar;

/// What the user can ask for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EarRequest {
    /// Find the bars.
    Find,
    /// Stop looking for bars.
    StopListening,
    /// Half the tempo.
    Half,
    /// Twice the tempo.
    Double,
    /// Count this many beats where there were so many others: three for two, or two for three.
    Recount(u8, u8),
    /// Move bar lines one beat earlier or later.
    Shift(i32),
    /// Count half a beat later, throughout.
    HalfBeat,
    /// Use this many beats in a bar.
    Bars(u8),
    /// Use the bars that were found.
    Use,
    /// Discard them.
    Leave,
    /// The offer has been on screen.
    Shown,
    /// What the user says about one bar.
    Known(KnownBar),
    /// The number of beats in a tapped bar.
    TappedBeats(u8),
    /// Use the bars that were tapped.
    UseTaps,
    /// Pin the bars that were tapped; the rest of the song stays.
    PinTaps,
    /// Start or stop taking taps from pads or keys on a MIDI port.
    Pads,
    /// Discard the taps.
    ForgetTaps,
}

//! What a person asks of what was heard, as values.

use super::known_bar::KnownBar;

/// What a person asks of what was heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EarRequest {
    /// Look for bars.
    Find,
    /// Look no longer.
    StopListening,
    /// Half the tempo.
    Half,
    /// Twice the tempo.
    Double,
    /// So many beats for as many others: three for two, two for three.
    Recount(u8, u8),
    /// Bar lines one beat earlier or later.
    Shift(i32),
    /// So many beats in a bar.
    Bars(u8),
    /// Take the bars that were found.
    Use,
    /// Forget them.
    Leave,
    /// The offer has been on screen.
    Shown,
    /// What a person says of one bar.
    Known(KnownBar),
    /// So many beats in a bar that is tapped.
    TappedBeats(u8),
    /// Take the bars that were tapped.
    UseTaps,
    /// Pin the bars that were tapped; the others stay.
    PinTaps,
    /// Let pads or keys on a MIDI port tap too, or no longer.
    Pads,
    /// Forget the taps.
    ForgetTaps,
}

//! Why a bar that a person gave is none.

use super::search_limits::{BAR_LASTS, FASTEST, SLOWEST};

/// Why a bar or a tempo cannot be what a person says of it.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum BarError {
    /// Too short, too long or backwards.
    #[error("a bar must end {} to {} s after it begins", BAR_LASTS.start(), BAR_LASTS.end())]
    Length,
    /// It leaves the recording.
    #[error("{at:.3} s is not within the recording, which is {ends:.1} s long")]
    Outside {
        /// Seconds of the end that does.
        at: f64,
        /// Seconds of the recording's end.
        ends: f64,
    },
    /// No tempo in which beats are looked for, in beats a minute.
    #[error("{0:.0} beats a minute are more or fewer than anybody counts; beats are looked for from {from:.0} to {to:.0} a minute",
        from = SLOWEST, to = FASTEST)]
    Pace(f64),
    /// Faster or slower than beats are looked for.
    #[error("{beats} beats in {secs:.2} s are {bpm:.0} a minute; beats are looked for from {from:.0} to {to:.0} a minute",
        from = SLOWEST, to = FASTEST)]
    Tempo {
        /// How many.
        beats: u8,
        /// The bar's length.
        secs: f64,
        /// Beats a minute.
        bpm: f64,
    },
}

//! Why a bar given by the user cannot be used.

use super::search_limits::{BAR_LASTS, FASTEST, SLOWEST};

/// Why a bar or a tempo cannot be what the user says.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum BarError {
    /// Too short, too long or backwards.
    #[error("a bar must end {} to {} s after it begins", BAR_LASTS.start(), BAR_LASTS.end())]
    Length,
    /// It extends beyond the recording.
    #[error("{at:.3} s is not within the recording, which is {ends:.1} s long")]
    Outside {
        /// The end of the bar that lies outside, in seconds.
        at: f64,
        /// The end of the recording, in seconds.
        ends: f64,
    },
    /// Not a tempo at which beats are looked for, in beats a minute.
    #[error("{0:.0} beats a minute are more or fewer than anybody counts; beats are looked for from {from:.0} to {to:.0} a minute",
        from = SLOWEST, to = FASTEST)]
    Pace(f64),
    /// The bar's tempo is faster or slower than the search allows.
    #[error("{beats} beats in {secs:.2} s are {bpm:.0} a minute; beats are looked for from {from:.0} to {to:.0} a minute",
        from = SLOWEST, to = FASTEST)]
    Tempo {
        /// The number of beats in the bar.
        beats: u8,
        /// The bar's length in seconds.
        secs: f64,
        /// The resulting tempo in beats a minute.
        bpm: f64,
    },
}

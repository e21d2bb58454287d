//! The tempos that the search for beats allows.

use super::bar_error::BarError;
use super::search_limits::{FASTEST, SLOWEST, STEPS};

/// Limits of the search, in beats a minute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TempoRange {
    /// The slowest tempo.
    pub from: f64,
    /// The fastest tempo.
    pub to: f64,
}

impl Default for TempoRange {
    fn default() -> Self {
        TempoRange { from: SLOWEST, to: FASTEST }
    }
}

/// How far a song's tempo may move from the one that the user gave, as a factor.
const NEAR: f64 = 1.3;

impl TempoRange {
    /// The tempos allowed for a song that the user says goes at about this many beats a minute.
    ///
    /// # Errors
    /// [`BarError::Pace`] for a tempo outside the search limits.
    pub fn near(bpm: f64) -> Result<TempoRange, BarError> {
        let all = TempoRange::default();
        if all.has(bpm) { Ok(around(60.0 * STEPS / bpm, NEAR, all)) } else { Err(BarError::Pace(bpm)) }
    }

    /// Whether a tempo in beats a minute is within it.
    pub(super) fn has(&self, bpm: f64) -> bool {
        (self.from..=self.to).contains(&bpm)
    }
}

/// The tempos that a song with this interval in steps may reach, within the allowed range.
pub(super) fn around(interval: f64, within: f64, range: TempoRange) -> TempoRange {
    let bpm = 60.0 * STEPS / interval;
    TempoRange { from: (bpm / within).max(range.from), to: (bpm * within).min(range.to) }
}

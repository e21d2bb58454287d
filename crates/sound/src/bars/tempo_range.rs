//! The tempos that beats are looked for in.

use super::bar_error::BarError;
use super::search_limits::{FASTEST, SLOWEST, STEPS};

/// Limits of the search, in beats a minute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TempoRange {
    /// No slower.
    pub from: f64,
    /// No faster.
    pub to: f64,
}

impl Default for TempoRange {
    fn default() -> Self {
        TempoRange { from: SLOWEST, to: FASTEST }
    }
}

/// How far the tempo of a song may go from the one that a person said of it.
const NEAR: f64 = 1.3;

impl TempoRange {
    /// The tempos that a song may have that a person says goes at about so many beats a minute.
    ///
    /// # Errors
    /// [`BarError::Pace`] for a tempo that beats are not looked for in.
    pub fn near(bpm: f64) -> Result<TempoRange, BarError> {
        let all = TempoRange::default();
        if all.has(bpm) { Ok(around(60.0 * STEPS / bpm, NEAR, all)) } else { Err(BarError::Pace(bpm)) }
    }

    /// Whether a tempo in beats a minute is within it.
    pub(super) fn has(&self, bpm: f64) -> bool {
        (self.from..=self.to).contains(&bpm)
    }
}

/// The tempos that a song may move through whose interval is so many steps, within what was allowed.
pub(super) fn around(interval: f64, within: f64, range: TempoRange) -> TempoRange {
    let bpm = 60.0 * STEPS / interval;
    TempoRange { from: (bpm / within).max(range.from), to: (bpm * within).min(range.to) }
}

//! Within which limits beats and bars are looked for.

use std::ops::RangeInclusive;

/// Steps a second in which beats are placed.
pub(super) const STEPS: f64 = 100.0;
/// Shortest and longest interval in steps: 250 to 36 beats a minute.
pub(super) const SHORTEST: usize = 24;
pub(super) const LONGEST: usize = 167;
/// The same in beats a minute.
pub(super) const SLOWEST: f64 = 60.0 * STEPS / LONGEST as f64;
pub(super) const FASTEST: f64 = 60.0 * STEPS / SHORTEST as f64;
/// Seconds that a bar may last.
pub(super) const BAR_LASTS: RangeInclusive<f64> = 0.2..=30.0;

//! The limits of the search for beats and bars.

use std::ops::RangeInclusive;

/// Time steps a second at which beats can be placed.
pub(super) const STEPS: f64 = 100.0;
/// The shortest and longest interval in steps: 250 to 36 beats a minute.
pub(super) const SHORTEST: usize = 24;
pub(super) const LONGEST: usize = 167;
/// The same in beats a minute.
pub(super) const SLOWEST: f64 = 60.0 * STEPS / LONGEST as f64;
pub(super) const FASTEST: f64 = 60.0 * STEPS / SHORTEST as f64;
/// How long a bar may last, in seconds.
pub(super) const BAR_LASTS: RangeInclusive<f64> = 0.2..=30.0;

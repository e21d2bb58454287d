//! The song's own clock: a point on it, and a length between two points.

use super::TimeError;
use std::fmt;
use std::ops::{Add, Neg, Sub};

/// A point on the song's clock, in whole microseconds after its start (the guide's first sample, or the grid's origin).
///
/// Negative values are the count-in. The distance between two points is a [`SongSpan`], never a `SongTime`.
/// Addition stops at the ends of the range; [`SongTime::checked_add`] returns an error instead.
///
/// # Example
/// ```
/// use letfall_core::time::SongTime;
/// assert_eq!(SongTime::from_micros(83_456_789)?.to_string(), "1:23.457");
/// # Ok::<(), letfall_core::time::TimeError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct SongTime(i64);

/// A length of time, in whole microseconds. May be negative if it has a direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct SongSpan(i64);

/// 24 hours.
const LIMIT: i64 = 24 * 3600 * 1_000_000;

impl SongTime {
    /// The start of song time.
    pub const ZERO: SongTime = SongTime(0);
    /// 24 h before the start.
    pub const MIN: SongTime = SongTime(-LIMIT);
    /// 24 h after the start.
    pub const MAX: SongTime = SongTime(LIMIT);

    /// A point this many microseconds after the start.
    ///
    /// # Errors
    /// [`TimeError::OutOfRange`] outside [`SongTime::MIN`]`..=`[`SongTime::MAX`].
    pub fn from_micros(micros: i64) -> Result<SongTime, TimeError> {
        if (-LIMIT..=LIMIT).contains(&micros) { Ok(SongTime(micros)) } else { Err(TimeError::OutOfRange { micros }) }
    }

    /// Like [`SongTime::from_micros`], but clamped to the range.
    pub const fn saturating(micros: i64) -> SongTime {
        SongTime(if micros < -LIMIT {
            -LIMIT
        } else if micros > LIMIT {
            LIMIT
        } else {
            micros
        })
    }

    /// Microseconds after the start.
    pub const fn micros(self) -> i64 {
        self.0
    }

    /// Seconds after the start, exact to the microsecond.
    pub fn secs_f64(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// The point `span` later, or an error if it is out of range.
    pub fn checked_add(self, span: SongSpan) -> Result<SongTime, TimeError> {
        SongTime::from_micros(self.0.saturating_add(span.0))
    }
}

impl SongSpan {
    /// Zero length.
    pub const ZERO: SongSpan = SongSpan(0);

    /// A length of this many microseconds, clamped to ±24 h.
    pub const fn from_micros(micros: i64) -> SongSpan {
        SongSpan(SongTime::saturating(micros).0)
    }

    /// A length of this many milliseconds, clamped to ±24 h.
    pub const fn from_millis(millis: i64) -> SongSpan {
        SongSpan::from_micros(millis.saturating_mul(1000))
    }

    /// The length nearest to this many seconds, clamped to ±24 h.
    pub fn from_secs_f64(secs: f64) -> SongSpan {
        SongSpan::from_micros(super::round::nearest(secs * 1e6))
    }

    /// Microseconds.
    pub const fn micros(self) -> i64 {
        self.0
    }

    /// Seconds.
    pub fn secs_f64(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// The same length, never negative.
    #[must_use]
    pub const fn abs(self) -> SongSpan {
        SongSpan(self.0.abs())
    }
}

impl Add<SongSpan> for SongTime {
    type Output = SongTime;
    fn add(self, span: SongSpan) -> SongTime {
        SongTime::saturating(self.0 + span.0)
    }
}

impl Sub<SongSpan> for SongTime {
    type Output = SongTime;
    fn sub(self, span: SongSpan) -> SongTime {
        SongTime::saturating(self.0 - span.0)
    }
}

impl Sub for SongTime {
    type Output = SongSpan;
    fn sub(self, other: SongTime) -> SongSpan {
        SongSpan::from_micros(self.0 - other.0)
    }
}

impl Add for SongSpan {
    type Output = SongSpan;
    fn add(self, other: SongSpan) -> SongSpan {
        SongSpan::from_micros(self.0 + other.0)
    }
}

impl Sub for SongSpan {
    type Output = SongSpan;
    fn sub(self, other: SongSpan) -> SongSpan {
        SongSpan::from_micros(self.0 - other.0)
    }
}

impl Neg for SongSpan {
    type Output = SongSpan;
    fn neg(self) -> SongSpan {
        SongSpan(-self.0)
    }
}

impl fmt::Display for SongTime {
    /// Minutes, seconds and milliseconds (`3:07.250`, `-0:01.500`), or with `{:.1}` tenths, with `{:.6}` microseconds; hours when there are
    /// any.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (unit, width) = match f.precision() {
            Some(1) => (100_000, 1),
            Some(6) => (1, 6),
            _ => (1000, 3),
        };
        let parts = super::round::div_nearest(i128::from(self.0.abs()), unit);
        let a_second = 1_000_000 / unit;
        let sign = if self.0 < 0 && parts > 0 { "-" } else { "" };
        let (secs, part) = (parts / a_second, parts % a_second);
        let (mins, secs) = (secs / 60, secs % 60);
        if mins >= 60 {
            write!(f, "{sign}{}:{:02}:{secs:02}.{part:0width$}", mins / 60, mins % 60)
        } else {
            write!(f, "{sign}{mins}:{secs:02}.{part:0width$}")
        }
    }
}

impl fmt::Display for SongSpan {
    /// Seconds to the millisecond with a unit: `1.250 s`, `-0.120 s`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let millis = super::round::div_nearest(i128::from(self.0.abs()), 1000);
        let sign = if self.0 < 0 && millis > 0 { "-" } else { "" };
        f.pad(&format!("{sign}{}.{:03} s", millis / 1000, millis % 1000))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_as_people_write_it() {
        let show = |us| SongTime::saturating(us).to_string();
        assert_eq!(show(0), "0:00.000");
        assert_eq!(show(-1_500_000), "-0:01.500");
        assert_eq!(show(-400), "0:00.000"); // no minus sign on a rounded zero
        assert_eq!(show(3_599_999_600), "1:00:00.000");
        assert_eq!(format!("{:.1}", SongTime::saturating(83_456_789)), "1:23.5");
        assert_eq!(format!("{:.1}", SongTime::saturating(59_960_000)), "1:00.0");
    }

    #[test]
    fn range_is_24_hours_either_way() {
        assert!(SongTime::from_micros(LIMIT).is_ok());
        assert_eq!(SongTime::from_micros(LIMIT + 1), Err(TimeError::OutOfRange { micros: LIMIT + 1 }));
        assert!(SongTime::MAX.checked_add(SongSpan::from_micros(1)).is_err());
        assert_eq!(SongTime::MAX + SongSpan::from_micros(1), SongTime::MAX);
    }
}

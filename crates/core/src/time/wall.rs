//! Time of day.

use super::{SongTime, TimeError};
use std::fmt;
use std::str::FromStr;

/// A time of day, in microseconds after midnight. Wraps at midnight, as clocks do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WallTime(i64);

const DAY: i64 = 86_400 * 1_000_000;

/// The same difference between two times of day, in microseconds, nearest to nothing: a start at five past midnight is late for half past
/// eleven, not early.
pub const fn nearest_in_a_day(micros: i64) -> i64 {
    let within = micros.rem_euclid(DAY);
    if within > DAY / 2 { within - DAY } else { within }
}

impl WallTime {
    /// A time of day in whole seconds; wraps at midnight.
    pub const fn from_secs(secs: i64) -> WallTime {
        WallTime((secs * 1_000_000).rem_euclid(DAY))
    }

    /// Microseconds after midnight.
    pub const fn micros(self) -> i64 {
        self.0
    }

    /// The time of day at a song time, for a song that starts at `self`.
    #[must_use]
    pub const fn at(self, song: SongTime) -> WallTime {
        WallTime((self.0 + song.micros()).rem_euclid(DAY))
    }
}

impl fmt::Display for WallTime {
    /// As a wall clock shows it, rounded down to the second: `19:30:05`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let secs = self.0 / 1_000_000;
        f.pad(&format!("{:02}:{:02}:{:02}", secs / 3600, secs / 60 % 60, secs % 60))
    }
}

impl FromStr for WallTime {
    type Err = TimeError;

    fn from_str(text: &str) -> Result<WallTime, TimeError> {
        let fail = || TimeError::unreadable(text, "a time of day", "\"19:30\" or \"19:30:05\"");
        let mut parts = text.split(':');
        let mut field = |below: i64| {
            let part = parts.next()?;
            let two = part.len() == 2 && part.bytes().all(|b| b.is_ascii_digit());
            part.parse::<i64>().ok().filter(|n| two && *n < below)
        };
        let (h, m) = (field(24).ok_or_else(fail)?, field(60).ok_or_else(fail)?);
        let s = if text.len() > 5 { field(60).ok_or_else(fail)? } else { 0 };
        if parts.next().is_some() {
            return Err(fail());
        }
        Ok(WallTime::from_secs(h * 3600 + m * 60 + s))
    }
}

#[cfg(test)]
mod tests {
    use super::nearest_in_a_day;

    #[test]
    fn a_start_after_midnight_is_late_and_not_a_day_early() {
        let minutes = |m: i64| m * 60_000_000;
        assert_eq!(nearest_in_a_day(minutes(5) - minutes(23 * 60 + 30)), minutes(35));
        assert_eq!(nearest_in_a_day(minutes(23 * 60 + 30) - minutes(5)), -minutes(35));
        assert_eq!(nearest_in_a_day(minutes(12)), minutes(12));
    }

    use super::*;

    #[test]
    fn wraps_at_midnight_and_reads_back() {
        let late: WallTime = "23:59:30".parse().expect("a time");
        assert_eq!(late.at(SongTime::saturating(45_000_000)).to_string(), "00:00:15");
        assert_eq!(late.at(SongTime::saturating(29_600_000)).to_string(), "23:59:59");
        assert_eq!("19:30".parse::<WallTime>().expect("a time").to_string(), "19:30:00");
        for text in ["", "7:30", "24:00", "19:60", "19:30:", "19:30:05:00", "19:30:5"] {
            assert!(text.parse::<WallTime>().is_err(), "{text}");
        }
    }
}

//! Where a cue lands, and how long it lasts.

use crate::text_form::text_form;
use crate::time::{BarBeat, Grid, SongSpan, SongTime, TickSpan, TimeError};
use std::fmt;
use std::str::FromStr;

/// What a cue's land is anchored to.
///
/// In the file: bar, beat, ticks and nudge as separate numbers, or a song time (see the schema). As text: `33 b2 +480t`, with a nudge
/// `33 b2 -0.12s`, or on the clock `83.456789s`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Anchor {
    /// A place in the bars, and a nudge in time from there. Moves when tempo or metre change.
    Grid {
        /// The place.
        place: BarBeat,
        /// How much later (or earlier) than the place.
        nudge: SongSpan,
    },
    /// A song time. Stays when tempo or metre change.
    Clock(SongTime),
}

impl Anchor {
    /// At the downbeat of a bar.
    pub const fn bar(bar: i32) -> Anchor {
        Anchor::at(BarBeat::downbeat(bar))
    }

    /// At a place in the bars.
    pub const fn at(place: BarBeat) -> Anchor {
        Anchor::Grid { place, nudge: SongSpan::ZERO }
    }

    /// The song time it means on a grid, to the microsecond.
    pub fn time(self, grid: &Grid) -> SongTime {
        match self {
            Anchor::Grid { place, nudge } => grid.time_at(grid.tick_of(place)) + nudge,
            Anchor::Clock(time) => time,
        }
    }
}

/// How long a cue lasts.
///
/// In the file: `3840t` (ticks of 1/960 quarter; follows the tempo) or `2.5s`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Length {
    /// Musical.
    Ticks(TickSpan),
    /// By the clock.
    Time(SongSpan),
}

impl Length {
    /// When something that starts at `start` ends.
    pub fn end(self, start: SongTime, grid: &Grid) -> SongTime {
        match self {
            Length::Time(span) => start + span,
            Length::Ticks(span) => {
                let from = grid.ticks_at(start.micros() as f64);
                let to = grid.micros_at_fraction(from + span.get() as f64);
                SongTime::saturating(crate::time::round::nearest(to))
            }
        }
    }
}

/// Microseconds as the shortest decimal number of seconds.
fn secs_text(micros: i64) -> String {
    let sign = if micros < 0 { "-" } else { "" };
    let text = format!("{sign}{}.{:06}", micros.unsigned_abs() / 1_000_000, micros.unsigned_abs() % 1_000_000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Reads a decimal number of seconds as whole microseconds.
fn read_secs(text: &str) -> Option<i64> {
    let text = text.strip_suffix('s')?;
    let (negative, digits) = match text.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text.strip_prefix('+').unwrap_or(text)),
    };
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let plain = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() || whole.len() > 6 || part.len() > 6 || !plain(whole) || !plain(part) {
        return None;
    }
    let mut micros = whole.parse::<i64>().ok()?;
    for at in 0..6 {
        micros = micros * 10 + i64::from(part.as_bytes().get(at).map_or(0, |b| b - b'0'));
    }
    Some(if negative { -micros } else { micros })
}

impl fmt::Display for Anchor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Anchor::Grid { place, nudge } if nudge.micros() == 0 => write!(f, "{place}"),
            Anchor::Grid { place, nudge } => {
                let sign = if nudge.micros() > 0 { "+" } else { "" };
                write!(f, "{place} {sign}{}s", secs_text(nudge.micros()))
            }
            Anchor::Clock(time) => write!(f, "{}s", secs_text(time.micros())),
        }
    }
}

impl FromStr for Anchor {
    type Err = TimeError;

    fn from_str(text: &str) -> Result<Anchor, TimeError> {
        let fail = || {
            let example = "\"33\", \"33 b2\", \"33 b2 -0.12s\" or \"83.5s\"";
            TimeError::unreadable(text, "where a cue can land", example)
        };
        // What ends with seconds is a nudge after a place, or a song time.
        let (place, nudge) = match text.rsplit_once(' ').filter(|(_, nudge)| nudge.ends_with('s')) {
            Some((place, nudge)) => (place, read_secs(nudge).ok_or_else(fail)?),
            None if text.ends_with('s') => {
                return SongTime::from_micros(read_secs(text).ok_or_else(fail)?).map(Anchor::Clock);
            }
            None => (text, 0),
        };
        SongTime::from_micros(nudge)?; // a nudge has the same range
        Ok(Anchor::Grid { place: place.parse()?, nudge: SongSpan::from_micros(nudge) })
    }
}

impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Length::Ticks(span) => write!(f, "{}t", span.get()),
            Length::Time(span) => write!(f, "{}s", secs_text(span.micros())),
        }
    }
}

impl FromStr for Length {
    type Err = TimeError;

    fn from_str(text: &str) -> Result<Length, TimeError> {
        let fail = || TimeError::unreadable(text, "a length", "\"3840t\" (ticks of 1/960 quarter) or \"2.5s\"");
        if let Some(ticks) = text.strip_suffix('t') {
            let ticks: i64 = ticks.parse().map_err(|_| fail())?;
            return if (0..=1 << 40).contains(&ticks) { Ok(Length::Ticks(TickSpan::new(ticks))) } else { Err(fail()) };
        }
        let micros = read_secs(text).filter(|m| *m >= 0).ok_or_else(fail)?;
        SongTime::from_micros(micros)?;
        Ok(Length::Time(SongSpan::from_micros(micros)))
    }
}

text_form!(Length, "Length", "a length: 3840t (ticks of 1/960 quarter) or 2.5s", r"^(\d+t|\d+(\.\d{1,6})?s)$");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_round_trip() {
        for text in ["33 b2", "33 b2 +480t", "33 b2 -0.12s", "-1 b4 +3t +1.5s", "83.456789s", "-2s", "0s"] {
            assert_eq!(text.parse::<Anchor>().expect(text).to_string(), text);
        }
        for (old, new) in [
            ("33|2+480", "33 b2 +480t"),
            ("33|2 -0.12s", "33 b2 -0.12s"),
            ("-1|4+3 +1.5s", "-1 b4 +3t +1.5s"),
            ("33", "33 b1"),
        ] {
            assert_eq!(old.parse::<Anchor>().expect(old).to_string(), new);
        }
        for text in ["3840t", "0t", "2.5s", "0s"] {
            assert_eq!(text.parse::<Length>().expect(text).to_string(), text);
        }
    }

    #[test]
    fn refusals() {
        for text in ["", "s", "33|2 x", "1e5s", "100000s", "0.1234567s", "--1s", "33|2 -99999s", "NaNs"] {
            assert!(text.parse::<Anchor>().is_err(), "{text}");
        }
        for text in ["", "t", "-1t", "-1s", "99999999999999t"] {
            assert!(text.parse::<Length>().is_err(), "{text}");
        }
    }
}

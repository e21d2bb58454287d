//! A place in the bars: bar, counted beat, ticks.
//!
//! On screen and in commands it is written in a short form of our own, `33 b2`: bar 33, beat 2. In the show file the three are separate
//! numbers. The form of older files, `33|2+480`, is still read.

use super::TimeError;
use std::fmt;
use std::str::FromStr;

/// Bar, counted beat and ticks after that beat, such as `33 b2` or `33 b2 +480t`.
///
/// Bar 1 is the first; bar 0 and below are the count-in. Beats count from 1. A beat or tick past the end of its bar is kept as
/// written; the place then lies in a later bar. So if a bar is shortened and restored, its cues come back unchanged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BarBeat {
    /// Bar number; 1 is the first bar.
    pub bar: i32,
    /// Counted beat in the bar, from 1.
    pub beat: u16,
    /// Ticks of 1/960 quarter after the beat.
    pub tick: u32,
}

impl BarBeat {
    /// Highest bar number, positive or negative. 24 h at 1000 quarter notes a minute, in bars of one quarter, stay below it.
    pub const MAX_BAR: i32 = 2_000_000;
    /// Most ticks after a beat: the longest bar we allow, 64/1.
    pub const MAX_TICK: u32 = 64 * 4 * 960;

    /// Whether bar, beat and ticks are within the bounds that a show may have.
    pub const fn is_sane(self) -> bool {
        self.bar.unsigned_abs() <= BarBeat::MAX_BAR.unsigned_abs()
            && 1 <= self.beat
            && self.beat <= 64
            && self.tick <= BarBeat::MAX_TICK
    }

    /// The downbeat of a bar.
    pub const fn downbeat(bar: i32) -> BarBeat {
        BarBeat { bar, beat: 1, tick: 0 }
    }

    /// For display: the ticks as a simple fraction of the beat if possible (`33 b2 +1/3`; half of a beat is its `and`), otherwise as ticks
    /// (`33 b2 +137t`). `beat_ticks` is how long the beat lasts.
    pub fn plain(self, beat_ticks: i64) -> String {
        let BarBeat { bar, beat, tick } = self;
        if tick == 0 {
            return format!("{bar} b{beat}");
        }
        let fraction = [2u32, 3, 4, 6, 8].into_iter().find_map(|den| {
            let scaled = i64::from(tick) * i64::from(den);
            (beat_ticks > 0 && scaled % beat_ticks == 0 && scaled / beat_ticks < i64::from(den))
                .then(|| format!("{}/{den}", scaled / beat_ticks))
        });
        match fraction {
            Some(fraction) if fraction == "1/2" => format!("{bar} b{beat} and"),
            Some(fraction) => format!("{bar} b{beat} +{fraction}"),
            None => format!("{bar} b{beat} +{tick}t"),
        }
    }
}

impl fmt::Display for BarBeat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.tick == 0 {
            f.pad(&format!("{} b{}", self.bar, self.beat))
        } else {
            f.pad(&format!("{} b{} +{}t", self.bar, self.beat, self.tick))
        }
    }
}

impl FromStr for BarBeat {
    type Err = TimeError;

    fn from_str(text: &str) -> Result<BarBeat, TimeError> {
        let fail = || {
            let example = "\"33\" (its first beat), \"33 b2\" or \"33 b2 +480t\" (and 480 ticks of 1/960 quarter)";
            TimeError::unreadable(text, "a place in the bars", example)
        };
        let (place, tick) = text.split_once('+').map_or((text, "0"), |(place, tick)| (place, tick));
        let place = place.trim().strip_prefix("bar").unwrap_or(place).trim();
        // "33 b2", "33, beat 2", "33 2", and in older files "33|2".
        let at = place.find(|c: char| !c.is_ascii_digit() && c != '-').unwrap_or(place.len());
        let (bar, rest) = place.split_at(at);
        let beat = rest.trim_start_matches([' ', '|', ',']);
        let beat = ["beat", "b"].into_iter().find_map(|word| beat.strip_prefix(word)).unwrap_or(beat).trim();
        let beat = if rest.is_empty() { "1" } else { beat };
        let number = |text: &str| -> Option<u32> {
            text.bytes().all(|digit| digit.is_ascii_digit()).then(|| text.parse().ok()).flatten()
        };
        let place = BarBeat {
            bar: bar.parse().map_err(|_| fail())?,
            beat: number(beat).and_then(|beat| u16::try_from(beat).ok()).ok_or_else(fail)?,
            tick: number(tick.trim().trim_end_matches('t')).ok_or_else(fail)?,
        };
        if place.is_sane() { Ok(place) } else { Err(fail()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_fractions() {
        let at = |tick| BarBeat { bar: 33, beat: 2, tick };
        assert_eq!(at(0).plain(960), "33 b2");
        assert_eq!(at(480).plain(960), "33 b2 and");
        assert_eq!(at(320).plain(960), "33 b2 +1/3");
        assert_eq!(at(720).plain(960), "33 b2 +3/4");
        assert_eq!(at(137).plain(960), "33 b2 +137t");
        assert_eq!(at(480).plain(1440), "33 b2 +1/3");
    }

    #[test]
    fn text_round_trip_and_refusals() {
        for text in ["33 b2", "-3 b1 +17t", "0 b4", "1 b1 +480t"] {
            assert_eq!(text.parse::<BarBeat>().expect(text).to_string(), text);
        }
        // What people type, and what older files hold.
        for text in
            ["33|2+480", "33 b2 +480t", "33 b2+480", "33b2 + 480", "bar 33, beat 2 +480t", "33 2 +480", "33, 2+480t"]
        {
            assert_eq!(text.parse(), Ok(BarBeat { bar: 33, beat: 2, tick: 480 }), "{text}");
        }
        for text in ["33", "bar 33", "33|1", " 33 b1 "] {
            assert_eq!(text.parse(), Ok(BarBeat::downbeat(33)), "{text}");
        }
        for text in [
            "",
            "33|",
            "33 b",
            "b2",
            "33 b2 and",
            "33.5",
            "33 b-2",
            "x33",
            "33|0",
            "33|65",
            "33|2+",
            "33|2+-1",
            "9999999|1",
            "1|1+999999999",
            "-2147483648|1",
        ] {
            assert!(text.parse::<BarBeat>().is_err(), "{text}");
        }
    }
}

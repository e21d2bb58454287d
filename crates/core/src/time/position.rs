//! A place in the bars: bar, counted beat, ticks.

use super::TimeError;
use std::fmt;
use std::str::FromStr;

/// Bar, counted beat and ticks after that beat, such as `33|2` or `33|2+480`.
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

    /// The downbeat of a bar.
    pub const fn downbeat(bar: i32) -> BarBeat {
        BarBeat { bar, beat: 1, tick: 0 }
    }

    /// For display: the ticks as a simple fraction of the beat if possible (`33|2+1/2`), otherwise as ticks (`33|2+137t`).
    /// `beat_ticks` is how long the beat lasts.
    pub fn plain(self, beat_ticks: i64) -> String {
        let BarBeat { bar, beat, tick } = self;
        if tick == 0 {
            return format!("{bar}|{beat}");
        }
        let fraction = [2u32, 3, 4, 6, 8].into_iter().find_map(|den| {
            let scaled = i64::from(tick) * i64::from(den);
            (beat_ticks > 0 && scaled % beat_ticks == 0 && scaled / beat_ticks < i64::from(den))
                .then(|| format!("{}/{den}", scaled / beat_ticks))
        });
        match fraction {
            Some(fraction) => format!("{bar}|{beat}+{fraction}"),
            None => format!("{bar}|{beat}+{tick}t"),
        }
    }
}

impl fmt::Display for BarBeat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.tick == 0 {
            f.pad(&format!("{}|{}", self.bar, self.beat))
        } else {
            f.pad(&format!("{}|{}+{}", self.bar, self.beat, self.tick))
        }
    }
}

impl FromStr for BarBeat {
    type Err = TimeError;

    fn from_str(text: &str) -> Result<BarBeat, TimeError> {
        let fail = || TimeError::unreadable(text, "a place in the bars", "\"33|2\" or \"33|2+480\" (bar|beat+ticks)");
        let (bar, rest) = text.split_once('|').ok_or_else(fail)?;
        let (beat, tick) = rest.split_once('+').unwrap_or((rest, "0"));
        let place = BarBeat {
            bar: bar.parse().map_err(|_| fail())?,
            beat: beat.parse().map_err(|_| fail())?,
            tick: tick.parse().map_err(|_| fail())?,
        };
        let fits =
            place.bar.abs() <= BarBeat::MAX_BAR && (1..=64).contains(&place.beat) && place.tick <= BarBeat::MAX_TICK;
        if fits { Ok(place) } else { Err(fail()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_fractions() {
        let at = |tick| BarBeat { bar: 33, beat: 2, tick };
        assert_eq!(at(480).plain(960), "33|2+1/2");
        assert_eq!(at(320).plain(960), "33|2+1/3");
        assert_eq!(at(720).plain(960), "33|2+3/4");
        assert_eq!(at(137).plain(960), "33|2+137t");
        assert_eq!(at(480).plain(1440), "33|2+1/3");
    }

    #[test]
    fn text_round_trip_and_refusals() {
        for text in ["33|2", "-3|1+17", "0|4", "1|1+480"] {
            assert_eq!(text.parse::<BarBeat>().expect(text).to_string(), text);
        }
        for text in ["", "33", "33|", "33|0", "33|65", "33|2+", "33|2+-1", "9999999|1", "1|1+999999999"] {
            assert!(text.parse::<BarBeat>().is_err(), "{text}");
        }
    }
}

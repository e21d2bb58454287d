//! Metre: how many units a bar has, and how they are counted.

use super::{PPQ, TimeError};
use std::fmt;
use std::str::FromStr;

/// A metre such as 4/4, 6/8 or 7/8 counted 2+2+3.
///
/// A *unit* is the note that the lower figure names; a *beat* is what is counted: one unit or a group of them. Compound metres
/// (6/8, 9/8, 12/8, 6/16 …) are counted in groups of three unless stated otherwise.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Metre {
    units: u8,
    unit: u8,
    groups: Vec<u8>,
}

impl Metre {
    /// A metre of `units` notes of 1/`unit`, counted the usual way.
    ///
    /// # Errors
    /// [`TimeError::Metre`] unless `units` is 1 to 64 and `unit` is 1, 2, 4, 8, 16, 32 or 64.
    pub fn new(units: u8, unit: u8) -> Result<Metre, TimeError> {
        let compound = units >= 6 && units.is_multiple_of(3) && unit >= 8;
        let groups = if compound { vec![3; usize::from(units / 3)] } else { vec![1; usize::from(units)] };
        Metre::counted(units, unit, groups)
    }

    /// A metre counted in the given groups of units, such as 7/8 as 2+2+3.
    ///
    /// # Errors
    /// [`TimeError::Metre`] for figures out of range or groups that do not add up to the bar.
    pub fn counted(units: u8, unit: u8, groups: Vec<u8>) -> Result<Metre, TimeError> {
        let fail = |why| Err(TimeError::Metre { text: format!("{units}/{unit}"), why });
        if !(1..=64).contains(&units) {
            return fail("the upper figure must be 1 to 64");
        }
        if !unit.is_power_of_two() || unit > 64 {
            return fail("the lower figure must be 1, 2, 4, 8, 16, 32 or 64");
        }
        if groups.contains(&0) || groups.iter().map(|&g| u32::from(g)).sum::<u32>() != u32::from(units) {
            return fail("the groups must be 1 or more each and add up to the upper figure");
        }
        Ok(Metre { units, unit, groups })
    }

    /// Four quarter notes.
    pub fn common() -> Metre {
        Metre { units: 4, unit: 4, groups: vec![1; 4] }
    }

    /// The upper figure: units in a bar.
    pub fn units(&self) -> u8 {
        self.units
    }

    /// The lower figure: a unit is 1/`unit` of a whole note.
    pub fn unit(&self) -> u8 {
        self.unit
    }

    /// How many units each counted beat has.
    pub fn groups(&self) -> &[u8] {
        &self.groups
    }

    /// Ticks in one unit.
    pub fn unit_ticks(&self) -> i64 {
        4 * PPQ / i64::from(self.unit)
    }

    /// Ticks in a bar.
    pub fn bar_ticks(&self) -> i64 {
        self.unit_ticks() * i64::from(self.units)
    }

    /// Counted beats in a bar.
    pub fn beats(&self) -> u16 {
        u16::try_from(self.groups.len()).unwrap_or(64)
    }

    /// Ticks from the bar line to counted beat `beat` (1 is the bar line). Beats past the end of the bar are as long as the
    /// last group.
    pub fn beat_offset(&self, beat: u16) -> i64 {
        let index = usize::from(beat.max(1)) - 1;
        let inside: i64 = self.groups.iter().take(index).map(|&g| i64::from(g)).sum();
        let last = i64::from(self.groups.last().copied().unwrap_or(1));
        let beyond = i64::try_from(index.saturating_sub(self.groups.len())).unwrap_or(0);
        (inside + beyond * last) * self.unit_ticks()
    }

    /// Which counted beat `offset` ticks after the bar line falls in, and how far into it.
    pub fn beat_at(&self, offset: i64) -> (u16, i64) {
        let mut start = 0;
        for (index, &group) in (1u16..).zip(&self.groups) {
            let length = i64::from(group) * self.unit_ticks();
            if offset < start + length || index == self.beats() {
                return (index, offset - start);
            }
            start += length;
        }
        (1, offset)
    }

    fn usual(&self) -> bool {
        Metre::new(self.units, self.unit).is_ok_and(|usual| usual.groups == self.groups)
    }
}

impl fmt::Display for Metre {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.units, self.unit)?;
        if self.usual() {
            return Ok(());
        }
        let groups: Vec<String> = self.groups.iter().map(u8::to_string).collect();
        write!(f, " {}", groups.join("+"))
    }
}

impl FromStr for Metre {
    type Err = TimeError;

    fn from_str(text: &str) -> Result<Metre, TimeError> {
        let fail = || TimeError::unreadable(text, "a metre", "\"4/4\", \"6/8\" or \"7/8 2+2+3\"");
        let (figures, groups) = text.split_once(' ').map_or((text, None), |(f, g)| (f, Some(g)));
        let (units, unit) = figures.split_once('/').ok_or_else(fail)?;
        let (units, unit) = (units.parse().map_err(|_| fail())?, unit.parse().map_err(|_| fail())?);
        match groups {
            None => Metre::new(units, unit),
            Some(groups) => {
                let groups: Result<Vec<u8>, _> = groups.split('+').map(str::parse).collect();
                Metre::counted(units, unit, groups.map_err(|_| fail())?)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn compound_metres_count_in_threes() {
        let six_eight: Metre = "6/8".parse().expect("6/8");
        assert_eq!((six_eight.beats(), six_eight.bar_ticks(), six_eight.beat_offset(2)), (2, 2880, 1440));
        let seven: Metre = "7/8 2+2+3".parse().expect("7/8");
        assert_eq!((seven.beats(), seven.beat_offset(3), seven.to_string()), (3, 1920, "7/8 2+2+3".into()));
        assert_eq!("7/8".parse::<Metre>().expect("7/8").beats(), 7);
    }

    #[test]
    fn beat_at_undoes_beat_offset() {
        for text in ["4/4", "6/8", "7/8 2+2+3", "5/4 3+2", "2/2", "12/8"] {
            let metre: Metre = text.parse().expect(text);
            for beat in 1..=metre.beats() {
                assert_eq!(metre.beat_at(metre.beat_offset(beat) + 7), (beat, 7), "{text} beat {beat}");
            }
        }
    }

    #[test]
    fn nonsense_is_refused_with_a_reason() {
        for text in ["", "4", "4/", "/4", "0/4", "4/3", "4/128", "65/4", "7/8 2+2", "7/8 7+0", "-4/4", "4/4 x"] {
            assert!(text.parse::<Metre>().is_err(), "{text}");
        }
    }
}

//! Tempo: how long a quarter note lasts, in the notations that people and files use.

use super::{TimeError, round};
use std::fmt;
use std::str::FromStr;

/// A note length as a fraction of a whole note, such as 1/4 or the dotted quarter 3/8.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct NoteValue {
    count: u8,
    unit: u8,
}

impl NoteValue {
    /// The quarter note.
    pub const QUARTER: NoteValue = NoteValue { count: 1, unit: 4 };

    /// `count` notes of 1/`unit`.
    ///
    /// # Errors
    /// [`TimeError::Unreadable`] unless `count` is 1 to 64 and `unit` a power of two up to 64.
    pub fn new(count: u8, unit: u8) -> Result<NoteValue, TimeError> {
        if (1..=64).contains(&count) && unit.is_power_of_two() && unit <= 64 {
            Ok(NoteValue { count, unit })
        } else {
            Err(TimeError::unreadable(&format!("{count}/{unit}"), "a note value", "\"1/4\" or \"3/8\""))
        }
    }

    /// Length in quarter notes.
    pub fn quarters(self) -> f64 {
        4.0 * f64::from(self.count) / f64::from(self.unit)
    }
}

/// A tempo, kept as it was written so that it is written back unchanged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Tempo {
    /// Beats of a note value a minute, in millionths of a beat.
    Beats {
        /// The note that is counted.
        beat: NoteValue,
        /// Millionths of a beat per minute.
        micro_bpm: u64,
    },
    /// The length of a quarter note, in millionths of a microsecond. Tempo maps from MIDI files use this form.
    Quarter {
        /// Picoseconds for one quarter note.
        picos: u64,
    },
}

/// Longest quarter note a MIDI file can hold: 24 bits of microseconds (SMF 1.1, FF 51).
const SLOWEST_MICROS: f64 = 16_777_215.0;
/// Shortest quarter note we accept: 1000 a minute.
const FASTEST_MICROS: f64 = 60_000.0;

impl Tempo {
    /// Quarter notes a minute, to the millionth.
    ///
    /// # Errors
    /// [`TimeError::Tempo`] outside 3.6 to 1000 quarter notes a minute.
    pub fn quarters_per_minute(bpm: f64) -> Result<Tempo, TimeError> {
        Tempo::beats_per_minute(NoteValue::QUARTER, bpm)
    }

    /// `bpm` notes of value `beat` a minute, to the millionth.
    ///
    /// # Errors
    /// [`TimeError::Tempo`] outside 3.6 to 1000 quarter notes a minute.
    pub fn beats_per_minute(beat: NoteValue, bpm: f64) -> Result<Tempo, TimeError> {
        Tempo::Beats { beat, micro_bpm: u64::try_from(round::nearest(bpm * 1e6)).unwrap_or(0) }.checked()
    }

    /// A quarter note of this many microseconds, to the picosecond.
    ///
    /// # Errors
    /// [`TimeError::Tempo`] outside 60 000 to 16 777 215 µs.
    pub fn quarter_lasts(micros: f64) -> Result<Tempo, TimeError> {
        Tempo::Quarter { picos: u64::try_from(round::nearest(micros * 1e6)).unwrap_or(0) }.checked()
    }

    fn checked(self) -> Result<Tempo, TimeError> {
        let micros = self.quarter_micros();
        if Tempo::usable(micros) {
            Ok(self)
        } else {
            Err(TimeError::Tempo { text: self.to_string(), quarter_micros: round::nearest(micros.min(1e15)) })
        }
    }

    /// Whether a quarter note of this many microseconds is one we can play and write.
    pub(crate) fn usable(quarter_micros: f64) -> bool {
        (FASTEST_MICROS - 1e-6..=SLOWEST_MICROS + 1e-6).contains(&quarter_micros)
    }

    /// Microseconds for one quarter note, unrounded.
    pub fn quarter_micros(self) -> f64 {
        match self {
            Tempo::Beats { beat, micro_bpm } => 60e12 / (micro_bpm as f64 * beat.quarters()),
            Tempo::Quarter { picos } => picos as f64 / 1e6,
        }
    }

    /// Quarter notes a minute, unrounded.
    pub fn quarter_bpm(self) -> f64 {
        match self {
            Tempo::Beats { beat, micro_bpm } => micro_bpm as f64 * beat.quarters() / 1e6,
            Tempo::Quarter { picos } => 60e12 / picos as f64,
        }
    }
}

/// Millionths as the shortest exact decimal.
fn millionths(value: u64) -> String {
    let text = format!("{}.{:06}", value / 1_000_000, value % 1_000_000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Reads a plain decimal as millionths, without going through a float.
fn read_millionths(text: &str) -> Option<u64> {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() || whole.len() > 9 || part.len() > 6 || !digits(whole) || !digits(part) {
        return None;
    }
    Some(whole.parse::<u64>().ok()? * 1_000_000 + format!("{part:0<6}").parse::<u64>().ok()?)
}

impl fmt::Display for Tempo {
    /// `120` for quarter notes a minute, `3/8=80` for other beats, `us=451127` for a measured quarter note.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Tempo::Beats { beat: NoteValue::QUARTER, micro_bpm } => f.pad(&millionths(micro_bpm)),
            Tempo::Beats { beat, micro_bpm } => {
                f.pad(&format!("{}/{}={}", beat.count, beat.unit, millionths(micro_bpm)))
            }
            Tempo::Quarter { picos } => f.pad(&format!("us={}", millionths(picos))),
        }
    }
}

impl FromStr for Tempo {
    type Err = TimeError;

    fn from_str(text: &str) -> Result<Tempo, TimeError> {
        let fail = || TimeError::unreadable(text, "a tempo", "\"120\", \"3/8=80\" or \"us=451127\"");
        let tempo = match text.split_once('=') {
            None => Tempo::Beats { beat: NoteValue::QUARTER, micro_bpm: read_millionths(text).ok_or_else(fail)? },
            Some(("us", micros)) => Tempo::Quarter { picos: read_millionths(micros).ok_or_else(fail)? },
            Some((beat, bpm)) => {
                let (count, unit) = beat.split_once('/').ok_or_else(fail)?;
                let beat = NoteValue::new(count.parse().map_err(|_| fail())?, unit.parse().map_err(|_| fail())?)?;
                Tempo::Beats { beat, micro_bpm: read_millionths(bpm).ok_or_else(fail)? }
            }
        };
        tempo.checked()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comes_back_as_it_was_written() {
        for text in ["120", "97.25", "3/8=80", "us=451127", "us=451127.253", "1/8=210", "1/2=60"] {
            assert_eq!(text.parse::<Tempo>().expect(text).to_string(), text);
        }
    }

    #[test]
    fn nonsense_is_refused() {
        for text in ["", "0", "3", "1001", "-5", "1e3", "us=", "us=1", "3/7=80", "x=80", "120.1234567", "us=16777216"] {
            assert!(text.parse::<Tempo>().is_err(), "{text}");
        }
    }

    /// check-values 6.3: us/qn = 60e6 / (beatBPM × beat length in quarters); bytes as SMF 1.1 FF 51 stores them.
    #[test]
    fn compound_metres_published_table() {
        for (text, qn_bpm, stored) in [
            ("3/8=80", 120.0, 500_000),
            ("3/8=60", 90.0, 666_667),
            ("3/8=72", 108.0, 555_556),
            ("1/2=60", 120.0, 500_000),
            ("1/8=210", 105.0, 571_429),
            ("132", 132.0, 454_545),
        ] {
            let tempo: Tempo = text.parse().expect(text);
            assert_eq!(tempo.quarter_bpm(), qn_bpm, "{text}");
            assert_eq!(round::nearest(tempo.quarter_micros()), stored, "{text}");
        }
    }
}

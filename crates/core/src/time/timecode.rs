//! Hours, minutes, seconds and frames, counted by SMPTE ST 12-1, with the rate codes of MIDI time code.

use super::{SongSpan, TimeError, round};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;

/// A timecode frame rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
pub enum FrameRate {
    /// 24 frames a second.
    #[serde(rename = "24")]
    F24,
    /// 25 frames a second.
    #[serde(rename = "25")]
    F25,
    /// 30000/1001 frames a second, drop-frame counting.
    #[serde(rename = "29.97df")]
    F2997Drop,
    /// 30 frames a second.
    #[serde(rename = "30")]
    F30,
}

impl FrameRate {
    /// Frame numbers in a second of timecode.
    pub const fn count(self) -> i64 {
        match self {
            FrameRate::F24 => 24,
            FrameRate::F25 => 25,
            FrameRate::F2997Drop | FrameRate::F30 => 30,
        }
    }

    /// The rate code of MIDI time code (RP-004/008): 0 = 24, 1 = 25, 2 = 30 drop, 3 = 30 non-drop.
    pub const fn midi_code(self) -> u8 {
        match self {
            FrameRate::F24 => 0,
            FrameRate::F25 => 1,
            FrameRate::F2997Drop => 2,
            FrameRate::F30 => 3,
        }
    }

    /// Length of one frame in microseconds, as a fraction (numerator, denominator).
    pub const fn frame_micros(self) -> (i128, i128) {
        match self {
            FrameRate::F24 => (1_000_000, 24),
            FrameRate::F25 => (1_000_000, 25),
            FrameRate::F2997Drop => (1_001_000_000, 30_000),
            FrameRate::F30 => (1_000_000, 30),
        }
    }

    /// Frames in 24 hours of timecode.
    pub const fn frames_a_day(self) -> i64 {
        match self {
            FrameRate::F2997Drop => 2_589_408,
            other => other.count() * 86_400,
        }
    }
}

/// A timecode address at its rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timecode {
    /// Frames since 00:00:00:00, `0..frames_a_day`.
    frames: i64,
    rate: FrameRate,
}

impl Timecode {
    /// The address of a frame count; wraps at 24 h, as timecode does.
    pub const fn from_frames(frames: i64, rate: FrameRate) -> Timecode {
        Timecode { frames: frames.rem_euclid(rate.frames_a_day()), rate }
    }

    /// Reads `01:00:00:00` (or `01:00:00;00` for drop-frame).
    ///
    /// # Errors
    /// [`TimeError::Timecode`] for text that is not a timecode, fields out of range, and dropped frame numbers.
    pub fn parse(text: &str, rate: FrameRate) -> Result<Timecode, TimeError> {
        let fail = |why| TimeError::Timecode { text: text.chars().take(20).collect(), why };
        let parts: Vec<&str> = text.split([':', ';']).collect();
        let [h, m, s, f] = parts[..] else {
            return Err(fail("write hours:minutes:seconds:frames"));
        };
        let number = |part: &str, below: i64| {
            let two = (1..=2).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
            part.parse::<i64>().ok().filter(|n| two && *n < below)
        };
        let fields = (number(h, 24), number(m, 60), number(s, 60), number(f, rate.count()));
        let (Some(h), Some(m), Some(s), Some(f)) = fields else {
            return Err(fail("a field is not a number or is out of range for its rate"));
        };
        let minutes = h * 60 + m;
        let mut frames = (minutes * 60 + s) * rate.count() + f;
        if rate == FrameRate::F2997Drop {
            if s == 0 && f < 2 && m % 10 != 0 {
                return Err(fail("drop-frame counting leaves out frames 00 and 01 of this minute"));
            }
            frames -= 2 * (minutes - minutes / 10);
        }
        Ok(Timecode { frames, rate })
    }

    /// Frames since midnight.
    pub const fn frames(self) -> i64 {
        self.frames
    }

    /// The rate it counts at.
    pub const fn rate(self) -> FrameRate {
        self.rate
    }

    /// Hours, minutes, seconds, frames.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // each field is below 60
    pub fn fields(self) -> [u8; 4] {
        let count = self.rate.count();
        let mut n = self.frames;
        if self.rate == FrameRate::F2997Drop {
            // Add the dropped frame numbers back: 18 in every 10 minutes, 2 in every minute except the first of ten.
            let (tens, rest) = (n / 17_982, n % 17_982);
            n += 18 * tens + if rest >= 1800 { 2 * ((rest - 2) / 1798) } else { 0 };
        }
        let (secs, frame) = (n / count, n % count);
        [(secs / 3600) as u8, (secs / 60 % 60) as u8, (secs % 60) as u8, frame as u8]
    }

    /// The address this much later (or earlier), and the remainder in hundredths of a frame, 0 to 99.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // the remainder is 0..100
    pub fn plus(self, span: SongSpan) -> (Timecode, u8) {
        let (num, den) = self.rate.frame_micros();
        let hundredths = round::div_nearest(i128::from(span.micros()) * 100 * den, num);
        let frames = hundredths.div_euclid(100) as i64;
        (Timecode::from_frames(self.frames + frames, self.rate), hundredths.rem_euclid(100) as u8)
    }

    /// The hours byte of MIDI time code and of the SMPTE offset event: rate code in bits 5 and 6 (RP-004/008; SMF 1.1
    /// FF 54).
    pub fn midi_hours(self) -> u8 {
        (self.rate.midi_code() << 5) | self.fields()[0]
    }
}

impl fmt::Display for Timecode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [h, m, s, frame] = self.fields();
        let last = if self.rate == FrameRate::F2997Drop { ';' } else { ':' };
        write!(f, "{h:02}:{m:02}:{s:02}{last}{frame:02}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// check-values 5 (counts confirmed there by libltc) and RP-002 3.2.1 (00:22:00;02 is 00:21:58:22 non-drop).
    #[test]
    fn drop_frame_published_counts() {
        for (text, frames) in [
            ("00:00:59;29", 1799),
            ("00:01:00;02", 1800),
            ("00:01:59;29", 3597),
            ("00:09:59;29", 17_981),
            ("00:10:00;00", 17_982),
            ("00:22:00;02", 39_562),
            ("01:00:00;00", 107_892),
            ("01:02:03;04", 111_582),
            ("10:00:00;00", 1_078_920),
            ("23:59:59;29", 2_589_407),
        ] {
            let code = Timecode::parse(text, FrameRate::F2997Drop).expect(text);
            assert_eq!(code.frames(), frames, "{text}");
            assert_eq!(code.to_string(), text);
        }
        let non_drop = Timecode::from_frames(39_562, FrameRate::F30);
        assert_eq!(non_drop.to_string(), "00:21:58:22");
        assert!(Timecode::parse("00:22:00;00", FrameRate::F2997Drop).is_err());
    }

    #[test]
    fn every_seventh_frame_of_a_day_comes_back() {
        for rate in [FrameRate::F24, FrameRate::F25, FrameRate::F2997Drop, FrameRate::F30] {
            for frames in (0..rate.frames_a_day()).step_by(7) {
                let code = Timecode::from_frames(frames, rate);
                assert_eq!(Timecode::parse(&code.to_string(), rate), Ok(code));
            }
        }
    }

    /// check-values 1.4: hours byte for 01:00:00:00 is 01, 21, 41, 61; check-values 4: 23:59:59:29 at 30 drop is 57.
    #[test]
    fn hours_byte_published_values() {
        for (rate, byte) in
            [(FrameRate::F24, 0x01), (FrameRate::F25, 0x21), (FrameRate::F2997Drop, 0x41), (FrameRate::F30, 0x61)]
        {
            assert_eq!(Timecode::parse("01:00:00:00", rate).expect("one hour").midi_hours(), byte);
        }
        assert_eq!(Timecode::parse("10:20:30:24", FrameRate::F25).expect("fits").midi_hours(), 0x2a);
        assert_eq!(Timecode::parse("23:59:59;29", FrameRate::F2997Drop).expect("fits").midi_hours(), 0x57);
    }

    /// check-values 5: the real length of drop-frame addresses, n × 1001/30000 s.
    #[test]
    fn real_time_of_drop_frames() {
        let zero = Timecode::from_frames(0, FrameRate::F2997Drop);
        for (text, micros) in
            [("00:01:00;02", 60_060_000), ("00:10:00;00", 599_999_400), ("01:00:00;00", 3_599_996_400)]
        {
            let (code, rest) = zero.plus(SongSpan::from_micros(micros));
            assert_eq!((code.to_string().as_str(), rest), (text, 0));
        }
        let (before, rest) = zero.plus(SongSpan::from_micros(-16_683));
        assert_eq!((before.to_string().as_str(), rest), ("23:59:59;29", 50));
    }
}

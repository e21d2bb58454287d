//! Linear timecode by SMPTE ST 12-1 as sound: 80 bits a frame, biphase mark.

use super::{AudioError, SAMPLE_RATE, Written, add_info, nearest, pcm, sample_of, samples, stretch, writer};
use crate::fingerprints;
use letfall_core::prepared::Prepared;
use letfall_core::time::{FrameRate, SongSpan, SongTime, Timecode};
use std::io::{Seek, Write};

/// How the timecode is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TimecodeOptions {
    /// Samples a second.
    pub sample_rate: u32,
    /// The address of song time 0.
    pub start: Timecode,
    /// User bits: eight groups of four, the first group in the lowest bits.
    pub user_bits: u32,
}

impl TimecodeOptions {
    /// Timecode with this address at song time 0.
    pub const fn new(start: Timecode) -> TimecodeOptions {
        TimecodeOptions { sample_rate: SAMPLE_RATE, start, user_bits: 0 }
    }
}

/// Peak of the square wave, −6 dB of full scale.
const LEVEL: f64 = 0.5;
/// Rise time, seconds (ST 12-1, second-hand: 40 µs ± 10 µs).
const RISE: f64 = 40e-6;

/// The 80 bits of a frame as ten bytes. The first bit is the lowest of the first byte.
///
/// BCD digits of the address, drop-frame flag in bit 10, sync word in bits 64 to 79; the polarity bit (59 at 25 frames a
/// second, else 27) makes the number of ones even, so that every frame begins with the same edge.
pub fn word(at: Timecode, user_bits: u32) -> [u8; 10] {
    let [h, m, s, f] = at.fields();
    let user = |group: u32| ((user_bits >> (4 * group)) & 15) as u8;
    let mut bytes = [0u8; 10];
    for (n, field) in [f, s, m, h].into_iter().enumerate() {
        let group = 2 * u32::try_from(n).unwrap_or(0);
        bytes[2 * n] = (field % 10) | user(group) << 4;
        bytes[2 * n + 1] = (field / 10) | user(group + 1) << 4;
    }
    if at.rate() == FrameRate::F2997Drop {
        bytes[1] |= 0b100;
    }
    (bytes[8], bytes[9]) = (0xfc, 0xbf);
    let ones: u32 = bytes.iter().map(|b| b.count_ones()).sum();
    if ones % 2 == 1 {
        let bit = if at.rate() == FrameRate::F25 { 59 } else { 27 };
        bytes[bit / 8] |= 1 << (bit % 8);
    }
    bytes
}

/// Writes a service's timecode. The file begins where every file of the service does, and is silent until its first whole frame; it ends
/// two frames after the song, because a reader recognises a frame only when the next one has arrived.
///
/// # Errors
/// [`AudioError`].
pub fn timecode<W: Write + Seek>(plan: &Prepared, options: TimecodeOptions, to: W) -> Result<Written, AudioError> {
    write(plan, options, to, None)
}

/// As [`timecode`], with the guide on the left channel and the timecode on the right. `guide` gives the recording's samples
/// from song time 0 at the options' sample rate; after it ends there is silence.
///
/// # Errors
/// [`AudioError`].
pub fn timecode_with_guide<W: Write + Seek>(
    plan: &Prepared,
    options: TimecodeOptions,
    to: W,
    guide: &mut dyn Iterator<Item = f32>,
) -> Result<Written, AudioError> {
    write(plan, options, to, Some(guide))
}

fn write<W: Write + Seek>(
    plan: &Prepared,
    options: TimecodeOptions,
    mut to: W,
    mut guide: Option<&mut dyn Iterator<Item = f32>>,
) -> Result<Written, AudioError> {
    let rate = options.sample_rate;
    let (from, until) = stretch(plan);
    let (num, den) = options.start.rate().frame_micros();
    let frames = |span: SongSpan, up: bool| {
        let exact = i128::from(span.micros()) * den;
        let whole = exact.div_euclid(num);
        i64::try_from(if up && exact.rem_euclid(num) != 0 { whole + 1 } else { whole }).unwrap_or(0)
    };
    // Song time 0 falls on a frame line.
    let first = frames(from - SongTime::ZERO, true);
    let last = frames(until - SongTime::ZERO, true) + 2;
    let end = SongTime::ZERO + SongSpan::from_micros(nearest(i128::from(last) * num, den));
    let whole = end - from;
    let channels: u16 = if guide.is_some() { 2 } else { 1 };
    let count = samples(SongSpan::from_micros(whole.micros() * i64::from(channels)), rate)? / u64::from(channels);
    let mut out = writer(&mut to, rate, channels)?;
    // The sample on which song time 0 falls.
    let zero = u64::try_from(sample_of(SongTime::ZERO - from, rate)).unwrap_or(0);
    // Samples in a bit cell, exactly: frame micros / 80 × rate / 1e6.
    let cell = num as f64 / den as f64 * f64::from(rate) / 80e6;
    // Where song time 0 falls, in samples, exactly.
    let offset = (SongTime::ZERO - from).micros() as f64 * f64::from(rate) / 1e6;
    let half_rise = RISE * f64::from(rate) / 2.0;
    let mut edges = Edges { options, frame: first, last, bit: 0, halves: 0, bytes: [0; 10], zero: offset, cell };
    let begins = edges.at(0, 0.0);
    let (mut level, mut edge) = (-LEVEL, edges.next());
    for n in 0..count {
        let x = n as f64;
        // An edge that ended before this sample has changed the level.
        while edge.is_some_and(|at| at + half_rise <= x) {
            level = -level;
            edge = edges.next();
        }
        let value = match edge {
            Some(at) if at - half_rise < x => level * (1.0 - (x - (at - half_rise)) / half_rise),
            _ => level,
        };
        let value = if x + half_rise < begins { 0.0 } else { value };
        if let Some(guide) = guide.as_mut() {
            let sample = if n < zero { None } else { guide.next() };
            out.write_sample(pcm(f64::from(sample.unwrap_or(0.0))))?;
        }
        out.write_sample(pcm(value))?;
    }
    out.finalize()?;
    let print = fingerprints::of_timecode(plan, options.start, guide.is_some());
    add_info(&mut to, &fingerprints::words(plan, print))?;
    Ok(Written { starts_at: from, samples: count, sample_rate: rate })
}

/// The edges of the wave, in samples from the file's first: one at the start of every bit cell, and another in the middle
/// of every 1 bit.
struct Edges {
    options: TimecodeOptions,
    frame: i64,
    last: i64,
    bit: usize,
    halves: u8,
    bytes: [u8; 10],
    /// Where song time 0 falls, in samples.
    zero: f64,
    cell: f64,
}

impl Iterator for Edges {
    type Item = f64;

    fn next(&mut self) -> Option<f64> {
        if self.halves == 1 {
            // The middle of a 1 bit.
            self.halves = 0;
            let at = self.at(self.bit, 0.5);
            self.advance();
            return Some(at);
        }
        if self.frame >= self.last {
            return None;
        }
        if self.bit == 0 {
            let start = self.options.start;
            self.bytes = word(Timecode::from_frames(start.frames() + self.frame, start.rate()), self.options.user_bits);
        }
        let at = self.at(self.bit, 0.0);
        if self.bytes[self.bit / 8] >> (self.bit % 8) & 1 == 1 {
            self.halves = 1;
        } else {
            self.advance();
        }
        Some(at)
    }
}

impl Edges {
    /// Computed from the frame count each time, so rounding errors cannot accumulate.
    fn at(&self, bit: usize, part: f64) -> f64 {
        self.zero + (self.frame as f64 * 80.0 + bit as f64 + part) * self.cell
    }

    fn advance(&mut self) {
        self.bit += 1;
        if self.bit == 80 {
            self.bit = 0;
            self.frame += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// check-values 5: vectors computed there with libltc 1.3.2.
    #[test]
    fn published_words() {
        let hex = |text: &str, rate, user| {
            let at = Timecode::parse(text, rate).expect(text);
            word(at, user).iter().map(|b| format!("{b:02X}")).collect::<Vec<_>>().join(" ")
        };
        for (text, rate, user, bytes) in [
            ("00:00:00:00", FrameRate::F30, 0, "00 00 00 08 00 00 00 00 FC BF"),
            ("01:02:03:04", FrameRate::F25, 0, "04 00 03 00 02 00 01 00 FC BF"),
            ("01:02:03:04", FrameRate::F30, 0, "04 00 03 00 02 00 01 00 FC BF"),
            ("01:02:03;04", FrameRate::F2997Drop, 0, "04 04 03 08 02 00 01 00 FC BF"),
            ("23:59:59:29", FrameRate::F30, 0, "09 02 09 0D 09 05 03 02 FC BF"),
            ("12:34:56:07", FrameRate::F25, 0x89AB_CDEF, "F7 E0 D6 C5 B4 A3 92 89 FC BF"),
        ] {
            assert_eq!(hex(text, rate, user), bytes, "{text}");
        }
    }

    #[test]
    fn every_frame_begins_with_the_same_edge() {
        for rate in [FrameRate::F24, FrameRate::F25, FrameRate::F2997Drop, FrameRate::F30] {
            for n in (0..rate.frames_a_day()).step_by(997) {
                let ones: u32 = word(Timecode::from_frames(n, rate), 0).iter().map(|b| b.count_ones()).sum();
                assert_eq!(ones % 2, 0, "{rate:?} {n}");
            }
        }
    }
}

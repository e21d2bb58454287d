//! Where a film lies by the linear timecode (SMPTE ST 12-1) in its sound: a camera on the timecode's wire writes it beside every picture.

use super::{LaidBy, Run};
use crate::sound::RATE;
use letfall_core::time::Timecode;

/// Bits of a frame.
const BITS: usize = 80;
/// The last sixteen bits of every frame, in the order in which they come.
const SYNC: u16 = 0b0011_1111_1111_1101;
/// How far the speed of the timecode may lie off its rate, as a share.
const SPEED: f64 = 0.05;
/// How loud an edge must be beside what is usual around it, as a share.
const CLEAR: f64 = 0.35;
/// What is usual is taken over so many samples: three hundredths of a second.
const AROUND: usize = RATE as usize * 3 / 100;
/// The least that is heard of a run, seconds of it.
const LEAST: f64 = 1.0;
/// Which share of its frames must have been read.
const LEAST_SHARE: f64 = 0.5;
/// How far a frame may lie off its run's line, seconds.
const NEAR: f64 = 0.002;

/// A frame that was read.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Read {
    /// When its first bit begins, seconds of the sound.
    at: f64,
    /// The place of the song that it is the address of, seconds.
    song: f64,
}

/// Every run in the sound; `zero` is the address of song time 0. None if there is no timecode at its rate.
pub fn by_timecode(samples: &[f32], zero: Timecode) -> Vec<Run> {
    let (num, den) = zero.rate().frame_micros();
    let frame = num as f64 / den as f64 / 1e6;
    let mut runs: Vec<Vec<Read>> = Vec::new();
    for read in frames(&edges(samples), frame, zero) {
        let goes_on = runs.last().and_then(|run| run.last()).is_some_and(|last| {
            let (film, song) = (read.at - last.at, read.song - last.song);
            film < 2.0 && (film - song).abs() < NEAR + SPEED * film
        });
        match runs.last_mut().filter(|_| goes_on) {
            Some(run) => run.push(read),
            None => runs.push(vec![read]),
        }
    }
    runs.iter().filter_map(|reads| line(reads, frame)).collect()
}

/// When the wave changes its sign, seconds: where it crosses the middle between an edge's clear ends.
fn edges(samples: &[f32]) -> Vec<f64> {
    let mut edges = Vec::new();
    // The usual loudness, as a mean of the last pieces.
    let mut loud = 0.0f64;
    let mut up: Option<bool> = None;
    let mut crossed: Option<f64> = None;
    for (n, pair) in samples.windows(2).enumerate() {
        let (one, next) = (f64::from(pair[0]), f64::from(pair[1]));
        loud += (next.abs() - loud) / AROUND as f64;
        if (one < 0.0) != (next < 0.0) {
            crossed = Some((n as f64 + one / (one - next)) / f64::from(RATE));
        }
        if next.abs() > CLEAR * loud && up != Some(next > 0.0) {
            if up.is_some() {
                edges.extend(crossed.take());
            }
            up = Some(next > 0.0);
        }
    }
    edges
}

/// Frames, read bit by bit: a cell with an edge in its middle is 1.
fn frames(edges: &[f64], frame: f64, zero: Timecode) -> Vec<Read> {
    let cell = frame / BITS as f64;
    let mut reads = Vec::new();
    let mut bits: Vec<(f64, bool)> = Vec::new();
    let mut n = 0;
    while n + 1 < edges.len() {
        let begins = edges[n];
        let first = (edges[n + 1] - begins) / cell;
        let second = edges.get(n + 2).map_or(f64::INFINITY, |end| (end - begins) / cell);
        // A cell's length is trusted over two frames of the film's sampling; within the speed's range and half a half cell.
        let whole = |cells: f64| (cells - 1.0).abs() < 0.25 + SPEED;
        if (0.25..0.75).contains(&first) && whole(second) {
            bits.push((begins, true));
            n += 2;
        } else if whole(first) {
            bits.push((begins, false));
            n += 1;
        } else {
            bits.clear();
            n += 1;
            continue;
        }
        if bits.len() < BITS {
            continue;
        }
        let last = &bits[bits.len() - BITS..];
        let sync = last[BITS - 16..].iter().fold(0u16, |word, (_, bit)| word << 1 | u16::from(*bit));
        if sync == SYNC {
            if let Some(song) = song(last, zero, frame) {
                reads.push(Read { at: last[0].0, song });
            }
            bits.clear();
        } else if bits.len() > 4 * BITS {
            bits.drain(..2 * BITS);
        }
    }
    reads
}

/// The place of the song that a frame is the address of, seconds. `None` if it is no address of this rate.
fn song(bits: &[(f64, bool)], zero: Timecode, frame: f64) -> Option<f64> {
    let digit = |from: usize, count: usize| (0..count).map(|n| u8::from(bits[from + n].1) << n).sum::<u8>();
    let field = |ones: usize, tens: usize, count: usize| {
        let low = digit(ones, 4);
        (low < 10).then(|| digit(tens, count) * 10 + low)
    };
    let (f, s, m, h) = (field(0, 8, 2)?, field(16, 24, 3)?, field(32, 40, 3)?, field(48, 56, 2)?);
    let at = Timecode::parse(&format!("{h:02}:{m:02}:{s:02}:{f:02}"), zero.rate()).ok()?;
    // Midnight lies as near on the one side as on the other.
    let day = zero.rate().frames_a_day();
    let frames = (at.frames() - zero.frames() + day / 2).rem_euclid(day) - day / 2;
    Some(frames as f64 * frame)
}

/// The run on which frames lie, by least squares.
fn line(reads: &[Read], frame: f64) -> Option<Run> {
    let (first, last) = (reads.first()?, reads.last()?);
    let count = reads.len() as f64;
    let of = (last.song - first.song) / frame + 1.0;
    if last.song - first.song < LEAST || count < LEAST_SHARE * of {
        return None;
    }
    let (film, song) = reads.iter().fold((0.0, 0.0), |(f, s), read| (f + read.at / count, s + read.song / count));
    let (mut square, mut both) = (0.0, 0.0);
    for read in reads {
        square += (read.at - film).powi(2);
        both += (read.at - film) * (read.song - song);
    }
    let slope = both / square;
    let offset = song - slope * film;
    let squares: f64 = reads.iter().map(|read| (read.song - offset - slope * read.at).powi(2)).sum();
    let off = (squares / count).sqrt();
    if off > NEAR {
        return None;
    }
    let (from, to) = (first.at, last.at + frame);
    // A tenth of a millisecond is what the sampling leaves open.
    let standard = (squares / count / count + 1e-8).sqrt();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // frames of three hours
    let of = of.round_ties_even() as usize;
    let (drift, agree) = (slope - 1.0, reads.len());
    Some(Run { from, to, offset, drift, slow: 1.0, standard, agree, of, by: LaidBy::Timecode })
}

//! A three-hour recording: decoded, drawn, analysed for bars and cached for playback, with the memory this takes.

#![allow(clippy::unwrap_used, missing_docs)]

use letfall_sound::bars::{Choice, Hearing};
use letfall_sound::play::DecodedCache;
use letfall_sound::{Decoder, MediaSource, Peaks};
use std::io::{Read, Seek, SeekFrom};
use std::time::Instant;

const RATE: u64 = 44_100;
const HOURS: u64 = 3;

/// A WAV file that exists nowhere: its samples are made as they are read. A click every half second, louder every two seconds,
/// over a hum.
struct Nowhere {
    at: u64,
    head: Vec<u8>,
    frames: u64,
}

impl Nowhere {
    fn new() -> Nowhere {
        let frames = RATE * 3600 * HOURS;
        let bytes = u32::try_from(frames * 2).unwrap();
        let mut head = Vec::new();
        head.extend(b"RIFF");
        head.extend((bytes + 36).to_le_bytes());
        head.extend(b"WAVEfmt ");
        head.extend(16u32.to_le_bytes());
        head.extend([1, 0, 1, 0]);
        head.extend(u32::try_from(RATE).unwrap().to_le_bytes());
        head.extend(u32::try_from(RATE * 2).unwrap().to_le_bytes());
        head.extend([2, 0, 16, 0]);
        head.extend(b"data");
        head.extend(bytes.to_le_bytes());
        Nowhere { at: 0, head, frames }
    }

    fn sample(frame: u64) -> i16 {
        let beat = frame % (RATE / 2);
        let loud = if (frame / (RATE / 2)).is_multiple_of(4) { 20_000 } else { 9_000 };
        let click = if beat < 2000 { loud * (2000 - i64::try_from(beat).unwrap()) / 2000 } else { 0 };
        let sign = if frame.wrapping_mul(2_654_435_761) >> 7 & 1 == 0 { 1 } else { -1 };
        let hum = i64::try_from(frame % 200).unwrap() * 10 - 1000;
        i16::try_from(click * sign + hum).unwrap()
    }
}

impl Read for Nowhere {
    fn read(&mut self, out: &mut [u8]) -> std::io::Result<usize> {
        let (head, whole) = (self.head.len() as u64, self.head.len() as u64 + self.frames * 2);
        let count = out.len().min(usize::try_from(whole - self.at.min(whole)).unwrap());
        for (k, byte) in out[..count].iter_mut().enumerate() {
            let at = self.at + k as u64;
            *byte = if at < head {
                self.head[usize::try_from(at).unwrap()]
            } else {
                Nowhere::sample((at - head) / 2).to_le_bytes()[usize::try_from((at - head) % 2).unwrap()]
            };
        }
        self.at += count as u64;
        Ok(count)
    }
}

impl Seek for Nowhere {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        let whole = i64::try_from(self.head.len() as u64 + self.frames * 2).unwrap();
        let at = match to {
            SeekFrom::Start(at) => i64::try_from(at).unwrap(),
            SeekFrom::Current(by) => i64::try_from(self.at).unwrap() + by,
            SeekFrom::End(by) => whole + by,
        };
        self.at = u64::try_from(at).unwrap();
        Ok(self.at)
    }
}

impl MediaSource for Nowhere {
    fn is_seekable(&self) -> bool {
        true
    }

    fn byte_len(&self) -> Option<u64> {
        Some(self.head.len() as u64 + self.frames * 2)
    }
}

/// The peak memory of this process in megabytes, if the system reports it.
fn peak() -> f64 {
    let text = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = text.lines().find(|l| l.starts_with("VmHWM")).unwrap_or_default();
    line.split_whitespace().nth(1).and_then(|n| n.parse::<f64>().ok()).unwrap_or(0.0) / 1000.0
}

fn step<T>(words: &str, work: impl FnOnce() -> T) -> T {
    let begin = Instant::now();
    let made = work();
    let secs = begin.elapsed().as_secs_f64();
    let speed = (HOURS * 3600) as f64 / secs;
    println!("3 hours, {words}: {secs:.1} s ({speed:.0} x real time), at most {:.0} MB so far", peak());
    made
}

fn main() {
    let open = || Decoder::open(Box::new(Nowhere::new()), Some("wav")).unwrap();
    step("decoded only", || {
        let mut decoder = open();
        while decoder.next_block().is_some() {}
    });
    step("peaks for drawing", || Peaks::of(&mut open(), |_| true).unwrap());
    step("kept for playing", || DecodedCache::of(&mut open(), || true).unwrap().unwrap());
    let hearing = step("listened to", || Hearing::of(&mut open(), |_| true).unwrap());
    let found = step("beats and bars", || hearing.find(&Choice::default(), &mut || true).unwrap());
    println!("{} bars at {:.2} beats a minute (made at 120, bars of 4: 5400)", found.bars, found.tempo());
}

//! Peaks of a recording at several scales, so that any part of it can be drawn from a few numbers.

use crate::Decoder;

/// Samples per bucket at the finest scale. Each coarser scale has buckets four times as long.
const FINEST: u64 = 256;
const STEP: usize = 4;

/// The lowest and highest sample in every bucket, at scales from 256 samples up. Three hours at 44.1 kHz take 5 MB.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Peaks {
    /// Samples a second.
    pub sample_rate: u32,
    /// How many samples the recording has.
    pub frames: u64,
    levels: Vec<Vec<[i8; 2]>>,
}

/// ±1 as −127 to 127, rounded away from zero so that even the faintest sound is drawn.
#[allow(clippy::cast_possible_truncation)] // clamped
fn small(value: f32) -> i8 {
    let scaled = value.clamp(-1.0, 1.0) * 127.0;
    (if scaled < 0.0 { libm::floorf(scaled) } else { libm::ceilf(scaled) }) as i8
}

/// Takes in samples, block by block.
#[derive(Default)]
struct PeakMaker {
    finest: Vec<[i8; 2]>,
    low: f32,
    high: f32,
    filled: u64,
    frames: u64,
}

impl PeakMaker {
    fn take(&mut self, sample: f32) {
        if self.filled == 0 {
            (self.low, self.high) = (sample, sample);
        }
        self.low = self.low.min(sample);
        self.high = self.high.max(sample);
        self.filled += 1;
        self.frames += 1;
        if self.filled == FINEST {
            self.finest.push([small(self.low), small(self.high)]);
            self.filled = 0;
        }
    }

    fn finish(mut self, sample_rate: u32) -> Peaks {
        if self.filled > 0 {
            self.finest.push([small(self.low), small(self.high)]);
        }
        let mut levels = vec![self.finest];
        while levels.last().is_some_and(|l| l.len() > STEP) {
            let coarser: Vec<[i8; 2]> = levels.last().map_or_else(Vec::new, |fine| {
                let join = |part: &[[i8; 2]]| {
                    let low = part.iter().map(|p| p[0]).min().unwrap_or(0);
                    [low, part.iter().map(|p| p[1]).max().unwrap_or(0)]
                };
                fine.chunks(STEP).map(join).collect()
            });
            levels.push(coarser);
        }
        Peaks { sample_rate, frames: self.frames, levels }
    }
}

impl Peaks {
    /// Reads a whole recording. `go_on` is called now and then with the samples read so far; returns `None` once it returns
    /// false.
    pub fn of(decoder: &mut Decoder, mut go_on: impl FnMut(u64) -> bool) -> Option<Peaks> {
        let mut maker = PeakMaker::default();
        while let Some(block) = decoder.next_block() {
            for sample in block {
                maker.take(*sample);
            }
            if !go_on(maker.frames) {
                return None;
            }
        }
        Some(maker.finish(decoder.facts().sample_rate))
    }

    /// Of samples that are there already, at a sample rate.
    pub fn of_samples(samples: impl Iterator<Item = f32>, sample_rate: u32) -> Peaks {
        let mut maker = PeakMaker::default();
        for sample in samples {
            maker.take(sample);
        }
        maker.finish(sample_rate)
    }

    /// The lowest and highest sample between two times in seconds, −1 to 1; `None` outside the recording. The cost is the same
    /// at every scale.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // inside the recording
    pub fn range(&self, from_secs: f64, to_secs: f64) -> Option<(f32, f32)> {
        let rate = f64::from(self.sample_rate);
        let (from, to) = (from_secs * rate, to_secs * rate);
        if from.is_nan() || to.is_nan() || from >= to || to <= 0.0 || from >= self.frames as f64 {
            return None;
        }
        let (from, to) = (from.max(0.0), to.min(self.frames as f64));
        // The coarsest scale whose buckets fit into the range at least once.
        let mut level = 0;
        let mut bucket = FINEST as f64;
        while level + 1 < self.levels.len() && bucket * STEP as f64 <= to - from {
            bucket *= STEP as f64;
            level += 1;
        }
        let buckets = &self.levels[level];
        let first = (from / bucket) as usize;
        let last = ((to / bucket).ceil() as usize).clamp(first + 1, buckets.len().max(first + 1));
        let part = buckets.get(first..last.min(buckets.len()))?;
        let low = part.iter().map(|p| p[0]).min()?;
        let high = part.iter().map(|p| p[1]).max()?;
        Some((f32::from(low) / 127.0, f32::from(high) / 127.0))
    }
}

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

impl Peaks {
    /// Reads a whole recording. `go_on` is called now and then with the samples read so far; returns `None` once it returns
    /// false.
    pub fn of(decoder: &mut Decoder, mut go_on: impl FnMut(u64) -> bool) -> Option<Peaks> {
        let mut finest: Vec<[i8; 2]> = Vec::new();
        let (mut low, mut high, mut filled, mut frames) = (0.0f32, 0.0f32, 0u64, 0u64);
        while let Some(block) = decoder.next_block() {
            for sample in block {
                if filled == 0 {
                    (low, high) = (*sample, *sample);
                }
                low = low.min(*sample);
                high = high.max(*sample);
                filled += 1;
                if filled == FINEST {
                    finest.push([small(low), small(high)]);
                    filled = 0;
                }
            }
            frames += block.len() as u64;
            if !go_on(frames) {
                return None;
            }
        }
        if filled > 0 {
            finest.push([small(low), small(high)]);
        }
        let mut levels = vec![finest];
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
        Some(Peaks { sample_rate: decoder.facts().sample_rate, frames, levels })
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

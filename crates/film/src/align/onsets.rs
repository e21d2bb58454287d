//! Where sounds begin, in several bands: what stays of music in any room, at any level, through any telephone.

use crate::sound::RATE;
use letfall_core::time::round;
use realfft::{RealFftPlanner, num_complex::Complex};

/// Samples from one value to the next: 5 ms.
pub const HOP: usize = 80;
/// Samples that one value is taken from.
const FRAME: usize = 512;
/// How many bands.
pub const BANDS: usize = 10;
/// The bands' lowest and highest frequency, Hz.
const LOWEST: f64 = 120.0;
const HIGHEST: f64 = 6500.0;
/// Over how many values, before and after, a band's level is evened out: a second.
const EVEN: usize = 200;

/// For each band, how much louder it has become at each step, with mean 0 and deviation 1 in its surroundings.
pub struct Onsets(pub Vec<Vec<f32>>);

impl Onsets {
    /// How many steps.
    pub fn len(&self) -> usize {
        self.0.first().map_or(0, Vec::len)
    }

    /// Of a recording at [`RATE`].
    pub fn of(sound: &[f32]) -> Onsets {
        let steps = if sound.len() < FRAME { 0 } else { (sound.len() - FRAME) / HOP + 1 };
        let mut levels = vec![Vec::new(); BANDS];
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(FRAME);
        let (mut frame, mut bins) = (fft.make_input_vec(), fft.make_output_vec());
        let window: Vec<f32> =
            (0..FRAME).map(|n| 0.5 - 0.5 * libm::cosf(std::f32::consts::TAU * n as f32 / FRAME as f32)).collect();
        let edges = edges();
        for step in 0..steps {
            for (n, sample) in frame.iter_mut().enumerate() {
                *sample = sound[step * HOP + n] * window[n];
            }
            // It fails only for buffers of another size.
            drop(fft.process(&mut frame, &mut bins));
            for (band, level) in levels.iter_mut().enumerate() {
                let energy: f32 = bins[edges[band]..edges[band + 1]].iter().map(Complex::norm_sqr).sum();
                level.push(energy);
            }
        }
        Onsets(levels.into_iter().map(|level| evened(&rises(&level))).collect())
    }
}

fn edges() -> [usize; BANDS + 1] {
    let mut edges = [0; BANDS + 1];
    for (n, edge) in edges.iter_mut().enumerate() {
        let hertz = LOWEST * libm::pow(HIGHEST / LOWEST, n as f64 / BANDS as f64);
        *edge = round::nearest(hertz * FRAME as f64 / f64::from(RATE)) as usize;
    }
    // Low bands are narrower than a bin.
    for n in 1..edges.len() {
        edges[n] = edges[n].max(edges[n - 1] + 1);
    }
    edges
}

/// How much a level rises over three steps, by its logarithm; what falls counts as nothing.
fn rises(level: &[f32]) -> Vec<f32> {
    let mean = level.iter().map(|e| f64::from(*e)).sum::<f64>() / level.len().max(1) as f64;
    // Far below what is usual there is only noise.
    let floor = (mean * 1e-4) as f32 + f32::MIN_POSITIVE;
    let logs: Vec<f32> = level.iter().map(|e| libm::logf(e + floor)).collect();
    (0..logs.len()).map(|n| (logs[n] - logs[n.saturating_sub(3)]).max(0.0)).collect()
}

/// Mean 0 and deviation 1 in its surroundings.
fn evened(values: &[f32]) -> Vec<f32> {
    let (mut sums, mut squares) = (vec![0.0f64], vec![0.0f64]);
    for value in values {
        let value = f64::from(*value);
        sums.push(sums[sums.len() - 1] + value);
        squares.push(squares[squares.len() - 1] + value * value);
    }
    let mut evened = Vec::with_capacity(values.len());
    for (n, value) in values.iter().enumerate() {
        let (from, to) = (n.saturating_sub(EVEN), (n + EVEN).min(values.len()));
        let count = (to - from) as f64;
        let mean = (sums[to] - sums[from]) / count;
        let deviation = ((squares[to] - squares[from]) / count - mean * mean).max(0.0).sqrt();
        let value = if deviation > 1e-3 { (f64::from(*value) - mean) / deviation } else { 0.0 };
        evened.push(value.clamp(-1.0, 4.0) as f32);
    }
    evened
}

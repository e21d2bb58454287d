//! How much each moment sounds like a beat and like a downbeat, and the tempo and metre of the music around it: a small network
//! of dilated convolutions.
//!
//! Trained by tests/beats/teach.py on pieces whose beats are known. Its weights are in beats.bin, two bytes each (IEEE 754 half
//! precision), in the order of `shapes()` there. The architecture is that of Davies and Böck, "Temporal convolutional networks
//! for musical audio beat tracking", EUSIPCO 2019, made smaller; from memory.

use super::spectrum::{BANDS, Bands};

/// Channels in each hidden layer.
const WIDE: usize = 40;
/// Layers, each reaching twice as far as the one before.
const LAYERS: usize = 9;
/// Taps of each layer's convolution kernel.
const TAPS: usize = 5;
const INPUTS: usize = 2 * BANDS;
/// How many frames on either side an output depends on.
const REACH: usize = 2 * ((1 << LAYERS) - 1) + 3;
/// Frames processed at a time, so that a recording of hours takes little memory.
const BLOCK: usize = 6000;

/// Tempo classes: how many, the slowest in beats a minute, and how many per octave.
const TEMPOS: usize = 40;
const SLOWEST: f64 = 36.0;
const OCTAVE: f64 = 14.0;
/// Metre classes: 2 to 7 beats in a bar.
const METRES: usize = 6;
/// Outputs for every frame: beat, downbeat, tempo classes, metre classes.
const ANSWERS: usize = 2 + TEMPOS + METRES;
/// Frames in a stretch; tempo and metre are given once for each stretch.
pub const STRETCH: usize = 25;

/// The number of weights in a network.
const NUMBERS: usize = (3 * INPUTS + 1) * WIDE + LAYERS * ((TAPS + 1) * WIDE + 2) * WIDE + (WIDE + 1) * ANSWERS;

static TAUGHT: &[u8] = include_bytes!("beats.bin");

/// The network's output for a recording.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Activations {
    /// How much each frame sounds like a beat, from 0 to 1.
    pub beat: Vec<f32>,
    /// How much each frame sounds like a downbeat, from 0 to 1.
    pub downbeat: Vec<f32>,
    /// What each stretch of [`STRETCH`] frames is like.
    pub about: Vec<About>,
}

/// The tempo and metre of a stretch of music, as log probabilities.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct About {
    /// For each tempo class, relative to the likeliest.
    pub tempo: [f32; TEMPOS],
    /// For each metre class.
    pub metre: [f32; METRES],
}

impl About {
    /// Knows nothing yet.
    pub const NONE: About = About { tempo: [0.0; TEMPOS], metre: [0.0; METRES] };

    /// Adds another, weighted.
    fn add(&mut self, other: &About, weight: f32) {
        let sums = self.tempo.iter_mut().chain(&mut self.metre);
        for (sum, from) in sums.zip(other.tempo.iter().chain(&other.metre)) {
            *sum += weight * from;
        }
    }

    /// The log probability of this many beats in a bar.
    pub fn of_metre(&self, beats: u8) -> f32 {
        self.metre[usize::from(beats.max(2) - 2).min(METRES - 1)]
    }

    /// Makes the tempos relative to the likeliest one.
    fn settle(&mut self) {
        let most = self.tempo.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        self.tempo.iter_mut().for_each(|chance| *chance -= most);
    }

    /// The log probability of a tempo in beats a minute, relative to the likeliest. It is bounded below, because nothing is
    /// certain.
    pub fn of_tempo(&self, bpm: f64) -> f32 {
        between(&self.tempo, OCTAVE * libm::log2(bpm / SLOWEST)).max(-6.0)
    }
}

/// A list's value at a fractional index, by interpolation; outside the list, its nearest value.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped
fn between(list: &[f32], place: f64) -> f32 {
    let place = place.clamp(0.0, list.len().saturating_sub(1) as f64);
    let (low, part) = (place as usize, (place - libm::floor(place)) as f32);
    let value = |at: usize| list.get(at.min(list.len().saturating_sub(1))).copied().unwrap_or(0.0);
    value(low) * (1.0 - part) + value(low + 1) * part
}

/// Log softmax: scores as log probabilities whose chances sum to one.
fn log_chances<const N: usize>(scores: [f32; N]) -> [f32; N] {
    let most = scores.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let whole = most + libm::logf(scores.iter().map(|s| libm::expf(s - most)).sum());
    scores.map(|s| s - whole)
}

/// Several networks that were trained separately. Their outputs are averaged to even out the errors of each.
pub struct Net {
    numbers: Vec<Vec<f32>>,
}

/// Decodes a half-precision number; all of ours are finite.
fn half(bits: u16) -> f32 {
    let sign = if bits & 0x8000 == 0 { 1.0 } else { -1.0 };
    let (exponent, part) = (i32::from(bits >> 10 & 31), f32::from(bits & 0x3ff));
    let size =
        if exponent == 0 { part * libm::exp2f(-24.0) } else { (1024.0 + part) * libm::exp2f((exponent - 25) as f32) };
    sign * size
}

fn elu(x: f32) -> f32 {
    if x > 0.0 { x } else { libm::expm1f(x) }
}

/// Log odds as a probability.
pub fn logistic(x: f32) -> f32 {
    1.0 / (1.0 + libm::expf(-x))
}

/// A probability as log odds, bounded.
pub fn log_odds(p: f32) -> f32 {
    let p = p.clamp(1e-5, 1.0 - 1e-5);
    libm::logf(p / (1.0 - p))
}

/// Adds to `to` the product of `from` and a matrix with `from.len()` rows.
fn add_product<const N: usize>(to: &mut [f32; N], from: &[f32], matrix: &[f32]) {
    for (x, row) in from.iter().zip(matrix.as_chunks::<N>().0) {
        for (sum, weight) in to.iter_mut().zip(row) {
            *sum += x * weight;
        }
    }
}

fn wide(from: &[f32]) -> [f32; WIDE] {
    let mut out = [0.0; WIDE];
    out.copy_from_slice(&from[..WIDE]);
    out
}

impl Net {
    /// The trained network.
    pub fn taught() -> Net {
        let all: Vec<f32> = TAUGHT.as_chunks().0.iter().map(|b| half(u16::from_le_bytes(*b))).collect();
        Net { numbers: all.chunks_exact(NUMBERS).map(<[f32]>::to_vec).collect() }
    }

    /// Runs the network on a recording. `go_on` is called now and then; returns `None` once it returns false.
    pub fn hear(&self, bands: &Bands, mut go_on: impl FnMut(f32) -> bool) -> Option<Activations> {
        let mut heard = Activations::default();
        let loud = f32::from(bands.loud());
        let mut at = 0;
        while at < bands.len() {
            let to = (at + BLOCK).min(bands.len());
            let (first, last) = (at.saturating_sub(REACH), (to + REACH).min(bands.len()));
            let all: Vec<Vec<[f32; ANSWERS]>> =
                self.numbers.iter().map(|n| block(n, bands, loud, first, last)).collect();
            for frame in at - first..to - first {
                let mean = |of: usize| all.iter().map(|out| out[frame][of]).sum::<f32>() / all.len() as f32;
                heard.beat.push(logistic(mean(0)));
                heard.downbeat.push(logistic(mean(1)));
                let here = About {
                    tempo: log_chances(std::array::from_fn(|class| mean(2 + class))),
                    metre: log_chances(std::array::from_fn(|class| mean(2 + TEMPOS + class))),
                };
                let stretch = (first + frame) / STRETCH;
                heard.about.resize(stretch + 1, About::NONE);
                heard.about[stretch].add(&here, 1.0 / STRETCH as f32);
            }
            at = to;
            if !go_on(at as f32 / bands.len() as f32) {
                return None;
            }
        }
        heard.about.iter_mut().for_each(About::settle);
        Some(heard)
    }
}

/// One network's output for frames `first` to `last`.
fn block(numbers: &[f32], bands: &Bands, loud: f32, first: usize, last: usize) -> Vec<[f32; ANSWERS]> {
    let mut numbers = numbers;
    let mut take = |count: usize| {
        let (head, rest) = numbers.split_at(count);
        numbers = rest;
        head
    };
    let (weights, bias) = (take(3 * INPUTS * WIDE), wide(take(WIDE)));
    let inputs: Vec<[f32; INPUTS]> = (first..last).map(|at| input(bands, loud, first, at)).collect();
    let count = last - first;
    let mut state: Vec<[f32; WIDE]> = (0..count)
        .map(|at| {
            let mut sum = bias;
            for (tap, matrix) in weights.chunks_exact(INPUTS * WIDE).enumerate() {
                if let Some(input) = (at + tap).checked_sub(1).and_then(|from| inputs.get(from)) {
                    add_product(&mut sum, input, matrix);
                }
            }
            sum.map(elu)
        })
        .collect();
    drop(inputs);
    let mut next = state.clone();
    for layer in 0..LAYERS {
        let (weights, bias) = (take(TAPS * WIDE * WIDE), wide(take(WIDE)));
        let (mix, mix_bias) = (take(WIDE * WIDE), wide(take(WIDE)));
        for (at, out) in next.iter_mut().enumerate() {
            let mut sum = bias;
            for (tap, matrix) in weights.chunks_exact(WIDE * WIDE).enumerate() {
                if let Some(from) = (at + (tap << layer)).checked_sub((TAPS / 2) << layer).and_then(|f| state.get(f)) {
                    add_product(&mut sum, from, matrix);
                }
            }
            let mut mixed = mix_bias;
            add_product(&mut mixed, &sum.map(elu), mix);
            for (out, (old, new)) in out.iter_mut().zip(state[at].iter().zip(mixed)) {
                *out = old + new;
            }
        }
        std::mem::swap(&mut state, &mut next);
    }
    let (weights, bias) = (take(WIDE * ANSWERS), take(ANSWERS));
    let answer = |x: &[f32; WIDE]| {
        let mut out = [0.0; ANSWERS];
        out.copy_from_slice(bias);
        add_product(&mut out, x, weights);
        out
    };
    state.iter().map(answer).collect()
}

/// How much begins to sound in every frame: the rise summed over all bands.
pub fn onset(bands: &Bands) -> Vec<f32> {
    let loud = f32::from(bands.loud());
    (0..bands.len()).map(|at| input(bands, loud, 0, at)[BANDS..].iter().sum()).collect()
}

/// The network's input for a frame: how strong each band is, and how much it rose over two frames. `begin` is the first frame
/// of the block; nothing before it is known.
fn input(bands: &Bands, loud: f32, begin: usize, at: usize) -> [f32; INPUTS] {
    let strength = |half_db: u8| ((f32::from(half_db) - loud) / 2.0 + 70.0).max(0.0) / 35.0;
    let mut out = [0.0; INPUTS];
    let now = bands.frame(at);
    let mut before = [0.0f32; BANDS + 2];
    if at >= begin + 2 {
        for (to, from) in before[1..=BANDS].iter_mut().zip(bands.frame(at - 2)) {
            *to = strength(*from);
        }
    }
    for band in 0..BANDS {
        let here = strength(now[band]);
        out[band] = here - 1.0;
        // A tone that drifts into the neighbouring band is not a new one.
        let was = before[band].max(before[band + 1]).max(before[band + 2]);
        out[BANDS + band] = 2.0 * (here - was).max(0.0);
    }
    out
}

//! The spectrum of the sound, fifty times a second: its strength in 64 bands of pitch.

use realfft::num_complex::Complex32;
use realfft::{RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// Frames a second.
pub const FRAME_RATE: f64 = 50.0;
/// Bands of pitch in a frame.
pub const BANDS: usize = 64;

/// The length of one analysis window, in seconds.
const WINDOW: f64 = 0.046_44;
const LOWEST_HZ: f64 = 30.0;
const HIGHEST_HZ: f64 = 10_000.0;
/// Levels are stored as half decibels above this, one byte each: 3 hours take 35 MB.
const FLOOR_DB: f32 = -100.0;

/// The strength of every band in every frame.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Bands {
    /// Half decibels above the floor, frame by frame.
    half_db: Vec<u8>,
}

impl Bands {
    /// How many frames there are.
    pub fn len(&self) -> usize {
        self.half_db.len() / BANDS
    }

    /// Whether there are no frames.
    pub fn is_empty(&self) -> bool {
        self.half_db.is_empty()
    }

    /// One frame.
    pub fn frame(&self, at: usize) -> &[u8] {
        &self.half_db[at * BANDS..(at + 1) * BANDS]
    }

    /// The level of a frame's loudest band that one frame in ten reaches, in half decibels. It is used to level loud and soft
    /// recordings.
    pub fn loud(&self) -> u8 {
        let mut counts = [0usize; 256];
        for frame in self.half_db.chunks_exact(BANDS) {
            counts[usize::from(frame.iter().copied().max().unwrap_or(0))] += 1;
        }
        let mut left = self.len() / 10;
        for (level, count) in (0u8..=255).zip(counts).rev() {
            if count > left {
                return level;
            }
            left -= count;
        }
        0
    }
}

/// Takes in sound block by block.
pub struct Listener {
    rate: f64,
    fft: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    /// For every band, its first bin and the weights of its bins.
    filters: Vec<(usize, Vec<f32>)>,
    /// Sound from sample `from` on. Half a window of silence is put before the recording.
    held: Vec<f32>,
    from: u64,
    frames: u64,
    work: (Vec<f32>, Vec<Complex32>, Vec<Complex32>),
    power: Vec<f32>,
    made: Bands,
}

fn mel(hz: f64) -> f64 {
    libm::log1p(hz / 700.0)
}

impl Listener {
    /// A listener for sound at this sample rate.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // sizes of a window
    pub fn new(sample_rate: u32) -> Listener {
        let rate = f64::from(sample_rate.clamp(1000, 1_000_000));
        let length = ((rate * WINDOW / 2.0) as usize).max(16) * 2;
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(length);
        let turn = std::f64::consts::TAU / length as f64;
        let window: Vec<f32> = (0..length).map(|n| (0.5 - 0.5 * libm::cos(turn * (n as f64 + 0.5))) as f32).collect();
        // Scaled so that a full-scale sine gives 1 in its bin.
        let gain = 2.0 / window.iter().sum::<f32>();
        let window: Vec<f32> = window.iter().map(|w| w * gain).collect();
        let bin = rate / length as f64;
        let (low, high) = (mel(LOWEST_HZ), mel(HIGHEST_HZ));
        let centre = |k: f64| 700.0 * libm::expm1(low + (high - low) * k / (BANDS as f64 - 1.0));
        let filters = (0..BANDS).map(|k| {
            let mid = centre(k as f64);
            // No band is narrower than the frequency resolution of a window.
            let half = (centre(k as f64 + 1.0) - mid).max(1.5 * bin);
            let first = ((mid - half) / bin).ceil().max(0.0) as usize;
            let last = (((mid + half) / bin) as usize).min(length / 2);
            let weights = (first..=last).map(|b| (1.0 - (b as f64 * bin - mid).abs() / half).max(0.0) as f32).collect();
            (first, weights)
        });
        let (input, output, scratch) = (fft.make_input_vec(), fft.make_output_vec(), fft.make_scratch_vec());
        let mut held = Vec::with_capacity(length * 8);
        held.resize(length / 2, 0.0);
        Listener {
            rate,
            filters: filters.collect(),
            window,
            held,
            from: 0,
            frames: 0,
            power: vec![0.0; output.len()],
            work: (input, output, scratch),
            fft,
            made: Bands::default(),
        }
    }

    /// Takes in the next samples; full scale is ±1.
    pub fn hear(&mut self, block: &[f32]) {
        for part in block.chunks(1 << 14) {
            self.held.extend_from_slice(part);
            self.look();
        }
    }

    /// The bands of everything heard.
    pub fn end(mut self) -> Bands {
        self.held.resize(self.held.len() + self.window.len() / 2, 0.0);
        self.look();
        self.made
    }

    /// Makes all frames for which there is enough sound.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // places in the recording
    fn look(&mut self) {
        loop {
            let start = libm::round(self.frames as f64 * self.rate / FRAME_RATE) as u64;
            let skip = (start - self.from) as usize;
            let Some(part) = self.held.get(skip..skip + self.window.len()) else {
                let done = skip.min(self.held.len());
                self.held.drain(..done);
                self.from += done as u64;
                return;
            };
            let (input, output, scratch) = &mut self.work;
            for ((to, sample), weight) in input.iter_mut().zip(part).zip(&self.window) {
                *to = sample * weight;
            }
            if self.fft.process_with_scratch(input, output, scratch).is_ok() {
                for (power, bin) in self.power.iter_mut().zip(output.iter()) {
                    *power = bin.norm_sqr();
                }
            }
            for (first, weights) in &self.filters {
                let bins = self.power.get(*first..).unwrap_or_default();
                let sum: f32 = bins.iter().zip(weights).map(|(p, w)| p * w).sum();
                let db = 10.0 * libm::log10f(sum.max(1e-20)) - FLOOR_DB;
                self.made.half_db.push((db * 2.0).clamp(0.0, 255.0) as u8);
            }
            self.frames += 1;
        }
    }
}

//! How a stretch of the film lies against the guide, to a part of a millisecond: the cross-correlation of both with every frequency given
//! the same weight, so that a room, a loudspeaker or an equaliser changes little (C. Knapp and G. Carter, "The generalized correlation
//! method for estimation of time delay", IEEE Trans. ASSP 24, 1976: the phase transform).

use crate::peak;
use crate::sound::RATE;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex, num_complex::Complex};
use std::collections::BTreeMap;
use std::sync::Arc;

/// How many samples of both are compared at a time: 2 s.
pub const STRETCH: usize = 32_768;
/// How far from where it is looked for a stretch may lie, in samples: 94 ms.
const REACH: usize = 1500;
/// The frequencies that are compared, Hz.
const LOWEST: f64 = 150.0;
const HIGHEST: f64 = 6500.0;
/// Below this mean square a stretch is silent: -60 dB of full scale.
const SILENT: f32 = 1e-6;

/// What a stretch says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heard {
    /// The middle of the stretch in the film, in samples.
    pub at: f64,
    /// How much later the guide has it, in samples.
    pub place: f64,
    /// How much higher this peak stands than the next.
    pub clear: f32,
}

/// Compares stretches.
pub struct Phases<'a> {
    film: &'a [f32],
    guide: &'a [f32],
    forth: Arc<dyn RealToComplex<f32>>,
    back: Arc<dyn ComplexToReal<f32>>,
    buffer: Vec<f32>,
    one: Vec<Complex<f32>>,
    other: Vec<Complex<f32>>,
    /// Spectra of stretches of the film, by where they begin: many places are tried with the same ones.
    known: BTreeMap<usize, Vec<Complex<f32>>>,
}

/// So many spectra are kept: 16 MB.
const KEPT: usize = 64;

impl<'a> Phases<'a> {
    pub fn new(film: &'a [f32], guide: &'a [f32]) -> Phases<'a> {
        let mut planner = RealFftPlanner::<f32>::new();
        let (forth, back) = (planner.plan_fft_forward(2 * STRETCH), planner.plan_fft_inverse(2 * STRETCH));
        let (buffer, one, other) = (forth.make_input_vec(), forth.make_output_vec(), forth.make_output_vec());
        Phases { film, guide, forth, back, buffer, one, other, known: BTreeMap::new() }
    }

    /// The stretches of the film, by where they begin, that lie within the guide at a place and are not silent.
    pub fn stretches(&self, place: i64, hop: usize) -> impl Iterator<Item = usize> + '_ {
        let last = self.film.len().saturating_sub(STRETCH);
        (0..=last).step_by(hop).filter(move |from| {
            let begin = *from as i64 + place;
            let within = begin >= -(STRETCH as i64 / 8) && begin + STRETCH as i64 * 7 / 8 <= self.guide.len() as i64;
            within && is_loud(&self.film[*from..]) && is_loud(&self.guide[begin.max(0) as usize..])
        })
    }

    /// Where a stretch of the film lies, near a place.
    pub fn heard(&mut self, from: usize, place: i64) -> Option<Heard> {
        let begin = from as i64 + place;
        if let Some(known) = self.known.get(&from) {
            self.one.copy_from_slice(known);
        } else {
            self.buffer.fill(0.0);
            self.buffer[..STRETCH].copy_from_slice(self.film.get(from..from + STRETCH)?);
            // It fails only for buffers of another size; so do the others.
            self.forth.process(&mut self.buffer, &mut self.one).ok()?;
            if self.known.len() < KEPT {
                self.known.insert(from, self.one.clone());
            }
        }
        self.buffer.fill(0.0);
        let (skip, first) = if begin < 0 { ((-begin) as usize, 0) } else { (0, begin as usize) };
        let there = self.guide.get(first..)?;
        for (to, sample) in self.buffer[skip..STRETCH].iter_mut().zip(there) {
            *to = *sample;
        }
        self.forth.process(&mut self.buffer, &mut self.other).ok()?;
        let bin = |hertz: f64| (hertz * 2.0 * STRETCH as f64 / f64::from(RATE)) as usize;
        let (low, high) = (bin(LOWEST), bin(HIGHEST));
        for (n, (film, guide)) in self.one.iter_mut().zip(&self.other).enumerate() {
            let both = film.conj() * guide;
            let size = both.norm();
            *film = if (low..high).contains(&n) && size > 0.0 { both / size } else { Complex::default() };
        }
        self.back.process(&mut self.one, &mut self.buffer).ok()?;
        let size = self.buffer.len();
        let value = |at: i64| self.buffer[at.rem_euclid(size as i64) as usize];
        let reach = REACH as i64;
        let best = (-reach..=reach).max_by(|a, b| value(*a).total_cmp(&value(*b)))?;
        let next = (-reach..=reach).filter(|at| (at - best).abs() > 12).map(value).fold(0.0f32, f32::max);
        let (before, top, after) = (value(best - 1), value(best), value(best + 1));
        let part = peak::part(f64::from(before), f64::from(top), f64::from(after));
        (top > 0.0).then(|| Heard {
            at: from as f64 + STRETCH as f64 / 2.0,
            place: (place + best) as f64 + part,
            clear: top / next.max(f32::MIN_POSITIVE),
        })
    }
}

fn is_loud(sound: &[f32]) -> bool {
    let sound = &sound[..STRETCH.min(sound.len())];
    let squares: f32 = sound.iter().step_by(4).map(|s| s * s).sum();
    squares * 4.0 / STRETCH as f32 > SILENT
}

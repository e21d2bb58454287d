//! Where a film may lie against the guide, by where sounds begin in both.

use super::onsets::{HOP, Onsets};
use realfft::{RealFftPlanner, num_complex::Complex};

/// The least that both must have in common, in steps: 4 s.
const LEAST_COMMON: usize = 800;
/// Two places closer than this, in steps, are one: 30 ms.
const APART: usize = 6;
/// How many places are looked at.
const MOST: usize = 60;

/// Places, best first, in samples: what the film has at n, the guide has at n + place.
pub fn candidates(film: &Onsets, guide: &Onsets) -> Vec<i64> {
    let (films, guides) = (film.len(), guide.len());
    if films.min(guides) < LEAST_COMMON {
        return Vec::new();
    }
    let size = (films + guides).next_power_of_two();
    let mut planner = RealFftPlanner::<f32>::new();
    let (forth, back) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let mut sum = vec![Complex::<f32>::default(); size / 2 + 1];
    let (mut one, mut other) = (forth.make_output_vec(), forth.make_output_vec());
    let mut buffer = forth.make_input_vec();
    let mut spectrum = |values: &[f32], out: &mut Vec<Complex<f32>>| {
        buffer.fill(0.0);
        buffer[..values.len()].copy_from_slice(values);
        // It fails only for buffers of another size; so does the way back.
        drop(forth.process(&mut buffer, out));
    };
    for (film, guide) in film.0.iter().zip(&guide.0) {
        spectrum(film, &mut one);
        spectrum(guide, &mut other);
        for ((sum, film), guide) in sum.iter_mut().zip(&one).zip(&other) {
            *sum += film.conj() * guide;
        }
    }
    (sum[0].im, sum[size / 2].im) = (0.0, 0.0);
    let mut alike = back.make_output_vec();
    drop(back.process(&mut sum, &mut alike));
    // From the earliest place, at which the film's end meets the guide's beginning, to the latest.
    let places = LEAST_COMMON as i64 - films as i64..=guides as i64 - LEAST_COMMON as i64;
    let scored = |place: i64| {
        let common = (films as i64).min(guides as i64 - place) - (-place).max(0);
        let at = place.rem_euclid(size as i64) as usize;
        alike[at] / libm::sqrtf(common as f32)
    };
    let scores: Vec<(f32, i64)> = places.map(|place| (scored(place), place)).collect();
    let mut best: Vec<(f32, i64)> = (0..scores.len())
        .filter(|n| {
            let near = &scores[n.saturating_sub(APART)..(n + APART + 1).min(scores.len())];
            near.iter().all(|(score, _)| *score <= scores[*n].0)
        })
        .map(|n| scores[n])
        .collect();
    best.sort_unstable_by(|(a, x), (b, y)| b.total_cmp(a).then(x.cmp(y)));
    best.truncate(MOST);
    best.into_iter().map(|(_, place)| place * HOP as i64).collect()
}

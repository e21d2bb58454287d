//! Whether one tempo explains a whole song, as it does for songs that were made to a click: then its beats lie on one straight line, and
//! their period and phase are found over the whole length at once.
//!
//! The period is the one at which the spectrum of all attacks is strongest, with its multiples. Then the song is folded at it: every
//! stretch of some seconds is laid over the whole folded song, and says how far it lies off. If those lie on a line, the line is the
//! tempo; if they do not, the song is not steady and is left to free tracking.

use super::attacks::RATE;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex32;

/// The least number of values that are transformed, zeros added: so that a song of minutes has several for each period that can be told apart.
const LEAST_LENGTH: usize = 1 << 19;
/// Multiples of the beat whose strengths count together: beats, halves, thirds, quarters.
const MULTIPLES: [(f64, f64); 4] = [(1.0, 1.0), (2.0, 1.0), (3.0, 0.5), (4.0, 1.0)];
/// A stretch that is laid over the whole: so many beats, and at least so many seconds.
const STRETCH_BEATS: f64 = 16.0;
const STRETCH_SECS: f64 = 6.0;
/// Parts of a beat in which the song is folded.
const PARTS: usize = 96;
/// A stretch may lie off by at most this share of a beat: beyond it nobody could say which way.
const FAR: f64 = 0.12;
/// How alike a stretch must be to the whole to say something, as a correlation.
const ALIKE: f64 = 0.35;
/// Which share of the stretches must say something, and which of those must lie on the line.
const LEAST_SAY: f64 = 0.6;
const LEAST_AGREE: f64 = 0.85;
/// How alike all stretches must be to the whole on average.
const LEAST_ALIKE: f64 = 0.45;
/// A stretch lies on the line within this, seconds.
const ON_LINE: f64 = 0.014;
/// So many periods are tried: with soft attacks the strongest is not always the right one.
const PERIODS: usize = 8;
/// Attacks nearer together than this are one moment, seconds: hands that play together are not nearer.
const ONE_MOMENT: f64 = 0.045;
/// The least number of beats for which all this says anything.
const LEAST_BEATS: f64 = 32.0;

/// Beats at one tempo: `at + n · period`, seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steady {
    /// A beat, or a half or quarter between beats: where in the period most begins to sound is not yet said.
    pub at: f64,
    /// From beat to beat.
    pub period: f64,
    /// How well the stretches agree: how alike they are to the whole on average, times the share that lies on the line.
    pub agree: f64,
}

/// The strength of all attacks at every frequency.
pub struct Rhythm {
    power: Vec<f32>,
    /// Hz from one value to the next.
    step: f64,
}

impl Rhythm {
    /// Of all attacks of a song.
    pub fn of(attacks: &[f32]) -> Rhythm {
        let length = (attacks.len() * 4).next_power_of_two().max(LEAST_LENGTH);
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(length);
        let mut input = attacks.to_vec();
        input.resize(length, 0.0);
        let mut output = fft.make_output_vec();
        if fft.process(&mut input, &mut output).is_err() {
            output.clear();
        }
        Rhythm { power: output.iter().map(Complex32::norm_sqr).collect(), step: RATE / length as f64 }
    }

    fn at(&self, hz: f64) -> f64 {
        let place = hz / self.step;
        let low = libm::floor(place);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // an index
        let value = |k: f64| self.power.get(k as usize).copied().map_or(0.0, f64::from);
        let part = place - low;
        value(low) * (1.0 - part) + value(low + 1.0) * part
    }

    /// How strong a beat of this frequency is with its multiples.
    fn strength(&self, hz: f64) -> f64 {
        MULTIPLES.iter().map(|(times, weight)| weight * libm::sqrt(self.at(hz * times))).sum()
    }

    /// The strongest periods within a factor of another, seconds, best first: at most `most`.
    pub fn strongest(&self, period: f64, within: f64, most: usize) -> Vec<f64> {
        let (from, to) = (1.0 / (period * within), within / period);
        let step = self.step / 4.0;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a few thousand
        let count = ((to - from) / step) as u32;
        let all: Vec<(f64, f64)> =
            (0..=count).map(|n| from + f64::from(n) * step).map(|hz| (self.strength(hz), hz)).collect();
        let is_top = |at: &usize| {
            let near = |k: usize| all.get(k).map_or(f64::MIN, |value| value.0);
            near(*at) >= near(at.wrapping_sub(1)) && near(*at) > near(at + 1)
        };
        let mut tops: Vec<(f64, f64)> = (0..all.len()).filter(is_top).map(|at| all[at]).collect();
        tops.sort_by(|a, b| b.0.total_cmp(&a.0));
        tops.into_iter().take(most).map(|(_, hz)| 1.0 / hz).collect()
    }
}

/// How far the top of the parabola through three neighbours lies from the middle one, -0.5 to 0.5. 0 if they make no peak.
fn between(before: f64, top: f64, after: f64) -> f64 {
    let bend = before - 2.0 * top + after;
    if bend < -1e-12 { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) } else { 0.0 }
}

/// Attacks of a stretch, folded at a steady beat: how much begins to sound in each part of the period, less the mean.
pub struct Folded {
    parts: [f64; PARTS],
    period: f64,
}

impl Folded {
    /// The attacks from one time to another.
    pub fn of(attacks: &[f32], (from, to): (f64, f64), steady: &Steady) -> Folded {
        let (mut sums, mut counts) = ([0.0; PARTS], [0.0f64; PARTS]);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // places in the recording
        let place = |secs: f64| ((secs * RATE).max(0.0) as usize).min(attacks.len());
        let first = place(from);
        for (n, value) in attacks[first..place(to).max(first)].iter().enumerate() {
            let turn = ((first + n) as f64 / RATE - steady.at) / steady.period;
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 to PARTS
            let part = ((turn - libm::floor(turn)) * PARTS as f64) as usize % PARTS;
            sums[part] += f64::from(*value);
            counts[part] += 1.0;
        }
        let mean = sums.iter().sum::<f64>() / counts.iter().sum::<f64>().max(1.0);
        let parts = std::array::from_fn(|k| if counts[k] > 0.0 { sums[k] / counts[k] - mean } else { 0.0 });
        Folded { parts, period: steady.period }
    }

    /// How far a stretch lies after the whole, seconds, and how alike they are there, as a correlation.
    pub fn off(&self, whole: &Folded) -> (f64, f64) {
        let size = |of: &Folded| of.parts.iter().map(|v| v * v).sum::<f64>();
        let both = libm::sqrt(size(self) * size(whole)).max(1e-12);
        let alike = |by: i64| {
            let of = |k: usize| {
                #[allow(clippy::cast_possible_wrap, clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                // PARTS is small
                let there = (k as i64 + by).rem_euclid(PARTS as i64) as usize;
                whole.parts[k] * self.parts[there]
            };
            (0..PARTS).map(of).sum::<f64>() / both
        };
        #[allow(clippy::cast_possible_truncation)] // a few parts
        let far = (FAR * PARTS as f64) as i64;
        let (best, top) =
            (-far..=far).map(|by| (by, alike(by))).fold((0, f64::MIN), |a, b| if b.1 > a.1 { b } else { a });
        let part = between(alike(best - 1), top, alike(best + 1));
        ((best as f64 + part) / PARTS as f64 * self.period, top)
    }

    /// How far one moment of the period lies from another, seconds.
    fn away(&self, one: f64, other: f64) -> f64 {
        let turn = ((one - other) / self.period + 0.5).rem_euclid(1.0) - 0.5;
        (turn * self.period).abs()
    }

    /// The moments of a beat at which most begins to sound, seconds after [`Steady::at`], best first, with how much: at most `most`.
    pub fn moments(&self, most: usize) -> Vec<(f64, f64)> {
        let value = |k: usize, by: usize| self.parts[(k + PARTS + by - 1) % PARTS];
        let mut tops: Vec<(f64, f64)> = (0..PARTS)
            .filter(|k| value(*k, 1) > value(*k, 0) && value(*k, 1) >= value(*k, 2) && value(*k, 1) > 0.0)
            .map(|k| {
                let part = between(value(k, 0), value(k, 1), value(k, 2));
                // The middle of the part.
                ((k as f64 + 0.5 + part) / PARTS as f64 * self.period, value(k, 1))
            })
            .collect();
        tops.sort_by(|a, b| b.1.total_cmp(&a.1));
        let mut apart: Vec<(f64, f64)> = Vec::new();
        for top in tops {
            if apart.len() < most && apart.iter().all(|other| self.away(top.0, other.0) > ONE_MOMENT) {
                apart.push(top);
            }
        }
        apart
    }

    /// How much begins to sound so long after [`Steady::at`] in every period: the mean within 20 ms.
    pub fn strength(&self, phase: f64) -> f64 {
        let part = self.period / PARTS as f64;
        let near = (0..PARTS).filter(|k| self.away((*k as f64 + 0.5) * part, phase) <= 0.02);
        let (sum, count) = near.fold((0.0, 0.0f64), |(sum, count), k| (sum + self.parts[k], count + 1.0));
        sum / count.max(1.0)
    }
}

/// The steady beat near a period, if one tempo explains the whole of the music.
pub fn steady(attacks: &[f32], rhythm: &Rhythm, music: (f64, f64), near: f64, within: f64) -> Option<Steady> {
    if music.1 - music.0 < LEAST_BEATS * near {
        return None;
    }
    let tried = rhythm.strongest(near, within, PERIODS).into_iter();
    let fits = tried.filter_map(|period| fit(attacks, music, period));
    fits.max_by(|a, b| a.agree.total_cmp(&b.agree))
}

/// The line on which the stretches of a song lie if it is folded at about this period.
fn fit(attacks: &[f32], music: (f64, f64), near: f64) -> Option<Steady> {
    let mut steady = Steady { at: music.0, period: near, agree: 0.0 };
    for _ in 0..3 {
        let whole = Folded::of(attacks, music, &steady);
        let length = (STRETCH_BEATS * steady.period).max(STRETCH_SECS);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a few hundred
        let count = ((music.1 - music.0) / (length / 2.0)) as u32;
        let mut said = Vec::new();
        let (mut tried, mut likeness) = (0u32, 0.0);
        for n in 0..count {
            let from = music.0 + f64::from(n) * length / 2.0;
            let to = (from + length).min(music.1);
            if to - from < length / 2.0 {
                continue;
            }
            tried += 1;
            let (off, alike) = Folded::of(attacks, (from, to), &steady).off(&whole);
            if alike >= ALIKE {
                said.push((f64::midpoint(from, to), off));
                likeness += alike;
            }
        }
        if f64::from(tried) * LEAST_SAY > said.len() as f64 || said.len() < 4 {
            return None;
        }
        let (at, per) = line(&said)?;
        let on = said.iter().filter(|(t, off)| (off - at - per * t).abs() <= ON_LINE).count();
        let share = on as f64 / said.len() as f64;
        if share < LEAST_AGREE {
            return None;
        }
        steady.agree = share * likeness / f64::from(tried);
        // A stretch at `t` is `at + per · t` late: so much longer is the period, and the origin lies where that line says.
        steady.at += at + per * steady.at;
        steady.period *= 1.0 + per;
    }
    (steady.agree >= LEAST_ALIKE).then_some(steady)
}

/// The line through points, by the median of all slopes between them and then least squares over what is near it.
fn line(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let mut slopes: Vec<f64> = Vec::new();
    for (n, a) in points.iter().enumerate() {
        let far = points.iter().skip(n + 1).filter(|b| b.0 - a.0 > 1.0);
        slopes.extend(far.map(|b| (b.1 - a.1) / (b.0 - a.0)));
    }
    slopes.sort_by(f64::total_cmp);
    let slope = *slopes.get(slopes.len() / 2)?;
    let mut levels: Vec<f64> = points.iter().map(|(t, y)| y - slope * t).collect();
    levels.sort_by(f64::total_cmp);
    let level = levels[levels.len() / 2];
    let near: Vec<(f64, f64)> =
        points.iter().copied().filter(|(t, y)| (y - level - slope * t).abs() <= 2.0 * ON_LINE).collect();
    let n = near.len() as f64;
    let (x, y) = (near.iter().map(|p| p.0).sum::<f64>() / n, near.iter().map(|p| p.1).sum::<f64>() / n);
    let across = near.iter().map(|p| (p.0 - x).powi(2)).sum::<f64>();
    if near.len() < 3 || across < 1e-9 {
        return None;
    }
    let per = near.iter().map(|p| (p.0 - x) * (p.1 - y)).sum::<f64>() / across;
    Some((y - per * x, per))
}

/// All beats of a steady row within the music; `phase` is added to its own place.
pub fn row(steady: &Steady, phase: f64, music: (f64, f64)) -> Vec<f64> {
    let at = steady.at + phase;
    let first = libm::ceil((music.0 - EARLY * steady.period - at) / steady.period);
    let mut beats = Vec::new();
    let mut n = first;
    while at + n * steady.period <= music.1 + EARLY * steady.period && beats.len() < 1_000_000 {
        // A file may be cut just before its first beat.
        beats.push((at + n * steady.period).max(0.0));
        n += 1.0;
    }
    beats
}

/// How far before the start of the music, and after its end, a beat may lie, as a share of a beat.
const EARLY: f64 = 0.15;

#[cfg(test)]
mod tests {
    use super::*;

    /// Attacks at given times, each as wide as they are heard.
    fn attacks(times: impl Iterator<Item = (f64, f64)>, secs: f64) -> Vec<f32> {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let mut out = vec![-0.1f32; (secs * RATE) as usize];
        for (at, loud) in times {
            for (k, value) in out.iter_mut().enumerate() {
                let away = k as f64 / RATE - at;
                #[allow(clippy::cast_possible_truncation)]
                if away.abs() < 0.03 {
                    *value += (loud * libm::exp(-(away / 0.006).powi(2))) as f32;
                }
            }
        }
        out
    }

    #[test]
    fn a_click_is_found_to_a_part_of_a_millisecond_over_five_minutes() {
        let period = 60.0 / 127.3;
        let beats = (0..620u32).map(|k| (0.731 + f64::from(k) * period, if k % 2 == 0 { 3.0 } else { 2.0 }));
        let eighths = (0..620u32).map(|k| (0.731 + (f64::from(k) + 0.5) * period, 1.0));
        let heard = attacks(beats.chain(eighths), 300.0);
        let rhythm = Rhythm::of(&heard);
        let found = steady(&heard, &rhythm, (0.7, 293.0), 0.475, 1.03).unwrap();
        assert!((found.period - period).abs() * 620.0 < 0.003, "{found:?} for {period}");
        let (phase, _) = Folded::of(&heard, (0.7, 293.0), &found).moments(4)[0];
        let first = row(&found, phase, (0.7, 293.0))[0];
        assert!((first - 0.731).abs() < 0.003, "{first}");
    }

    #[test]
    fn what_drifts_or_changes_is_not_steady() {
        // A tempo that rises by a tenth, one that wavers by a tenth of a second, one that changes in the middle.
        let mut at = 0.5;
        let rising = (0..400u32).map(|k| {
            at += 0.5 * (1.0 - 0.1 * f64::from(k) / 400.0);
            (at, 2.0)
        });
        let heard = attacks(rising, 200.0);
        assert_eq!(steady(&heard, &Rhythm::of(&heard), (0.5, 189.0), 0.48, 1.05), None);
        let wavering = (0..400u32).map(|k| (0.5 + 0.5 * f64::from(k) + 0.1 * libm::sin(f64::from(k) * 0.06), 2.0));
        let heard = attacks(wavering, 200.0);
        assert_eq!(steady(&heard, &Rhythm::of(&heard), (0.5, 199.0), 0.5, 1.03), None);
        let halves =
            (0..400u32).map(|k| (if k < 200 { 0.5 * f64::from(k) } else { 100.0 + 0.52 * f64::from(k - 200) }, 2.0));
        let heard = attacks(halves, 204.0);
        assert_eq!(steady(&heard, &Rhythm::of(&heard), (0.0, 203.0), 0.51, 1.05), None);
        let noise: Vec<f32> = (0..100_000u32)
            .scan(1u32, |seed, _| {
                *seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                #[allow(clippy::cast_precision_loss)]
                Some((*seed >> 8) as f32 / 8_388_608.0 - 1.0)
            })
            .collect();
        assert_eq!(steady(&noise, &Rhythm::of(&noise), (0.0, 200.0), 0.5, 1.03), None);
        assert_eq!(steady(&noise[..5000], &Rhythm::of(&noise), (0.0, 10.0), 0.5, 1.03), None);
    }
}

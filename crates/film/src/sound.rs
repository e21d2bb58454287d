//! Sound at the one rate that films and guides are compared at.

use libm::{cos, sin};
use std::f64::consts::PI;

/// Samples a second at which a film and a guide are compared: enough for what a telephone keeps of music.
pub const RATE: u32 = 16_000;

/// How many zeros of the filter's impulse response lie on each side.
const ZEROS: f64 = 16.0;

/// Brings sound to [`RATE`], block by block. Band-limited interpolation with a windowed sinc (J. O. Smith, "Digital Audio Resampling Home
/// Page", CCRMA, Stanford); what lies above half the lower rate is left out.
#[derive(Debug)]
pub struct Resampler {
    /// Samples of the source for one of ours.
    step: f64,
    /// The lower of both rates, as a share of the source's.
    band: f64,
    kept: Vec<f32>,
    /// Where the first kept sample lies in the source.
    first: i64,
    /// How many samples have been made.
    made: u64,
}

impl Resampler {
    /// From this many samples a second.
    pub fn new(from: u32) -> Resampler {
        let step = f64::from(from.max(1)) / f64::from(RATE);
        Resampler { step, band: (1.0 / step).min(1.0), kept: Vec::new(), first: 0, made: 0 }
    }

    /// Takes a block, and adds what can be made of it.
    pub fn take(&mut self, block: &[f32], out: &mut Vec<f32>) {
        if self.is_plain() {
            out.extend_from_slice(block);
            return;
        }
        self.kept.extend_from_slice(block);
        let reach = ZEROS / self.band;
        let end = (self.first + self.kept.len() as i64) as f64;
        while self.made as f64 * self.step + reach < end {
            out.push(self.at(self.made as f64 * self.step, reach));
            self.made += 1;
        }
        // What lies before the next sample's reach is no longer needed.
        let needed = (self.made as f64 * self.step - reach) as i64 - 1;
        let gone = usize::try_from(needed - self.first).unwrap_or(0).min(self.kept.len());
        if gone > 8192 {
            self.kept.drain(..gone);
            self.first += gone as i64;
        }
    }

    /// Adds what is left at the end.
    pub fn finish(&mut self, out: &mut Vec<f32>) {
        if self.is_plain() {
            return;
        }
        let reach = ZEROS / self.band;
        let end = (self.first + self.kept.len() as i64) as f64;
        while self.made as f64 * self.step < end {
            out.push(self.at(self.made as f64 * self.step, reach));
            self.made += 1;
        }
    }

    const fn is_plain(&self) -> bool {
        self.step == 1.0
    }

    fn at(&self, place: f64, reach: f64) -> f32 {
        let from = (libm::ceil(place - reach) as i64).max(self.first);
        let to = (libm::floor(place + reach) as i64).min(self.first + self.kept.len() as i64 - 1);
        let mut sum = 0.0;
        for at in from..=to {
            let apart = at as f64 - place;
            let window = 0.5 + 0.5 * cos(PI * apart / reach);
            let turn = PI * apart * self.band;
            let sinc = if turn.abs() < 1e-9 { 1.0 } else { sin(turn) / turn };
            sum += f64::from(self.kept[(at - self.first) as usize]) * sinc * window;
        }
        (sum * self.band) as f32
    }
}

/// Sound of any rate, at [`RATE`]. `blocks` gives it block by block, mono.
pub fn at_comparing_rate(from: u32, mut blocks: impl FnMut(&mut dyn FnMut(&[f32]))) -> Vec<f32> {
    let (mut resampler, mut out) = (Resampler::new(from), Vec::new());
    blocks(&mut |block| resampler.take(block, &mut out));
    resampler.finish(&mut out);
    out
}

/// When a sudden sound, such as a clap, begins near a time: seconds from the beginning of the sound. `None` if there is none within `reach`
/// seconds that is four times as strong as what was before.
pub fn sudden(sound: &[f32], near: f64, reach: f64) -> Option<f64> {
    let rate = f64::from(RATE);
    let (now, before) = ((0.002 * rate) as usize, (0.02 * rate) as usize);
    let from = ((near - reach).max(0.0) * rate) as usize + before;
    let to = (((near + reach) * rate) as usize).min(sound.len().saturating_sub(now));
    let mut sums = vec![0.0f64];
    for sample in sound.get(from.saturating_sub(before)..to + now)? {
        sums.push(sums[sums.len() - 1] + f64::from(sample * sample));
    }
    let rises = (before..sums.len().saturating_sub(now)).map(|n| {
        let after = (sums[n + now] - sums[n]) / now as f64;
        let quiet = (sums[n] - sums[n - before]) / before as f64;
        (after / (quiet + 1e-8), n)
    });
    // It begins where the rise is steepest, and not later: by the end of it, what is loud already counts as before.
    let (rise, at) = rises.max_by(|a, b| a.0.total_cmp(&b.0))?;
    let loudest = sound[from - before + at..from - before + at + now].iter().fold(0.0f32, |most, s| most.max(s.abs()));
    let begins = sound[from - before + at..].iter().position(|s| s.abs() > 0.3 * loudest).unwrap_or(0);
    (rise > 16.0).then(|| (from - before + at + begins) as f64 / rate)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tone has the same waveform at every rate, whatever the size of the blocks.
    #[test]
    fn a_tone_stays_itself() {
        for rate in [8000u32, 16_000, 22_050, 44_100, 48_000, 96_000] {
            let tone = |at: f64| sin(at * 997.0 * std::f64::consts::TAU);
            let source: Vec<f32> = (0..rate).map(|n| tone(f64::from(n) / f64::from(rate)) as f32).collect();
            let mut resampler = Resampler::new(rate);
            let mut made = Vec::new();
            for block in source.chunks(1777) {
                resampler.take(block, &mut made);
            }
            resampler.finish(&mut made);
            assert_eq!(made.len(), RATE as usize, "{rate}");
            for (n, sample) in made.iter().enumerate().skip(200).take(15_600) {
                let should = tone(n as f64 / f64::from(RATE));
                assert!((f64::from(*sample) - should).abs() < 0.004, "{rate}: {n}: {sample} for {should}");
            }
        }
    }

    /// A clap in a murmur is found where it begins; a murmur alone, and a tone that swells, are none.
    #[test]
    fn a_clap_is_found() {
        let murmur = |n: u32| 0.01 * sin(f64::from(n) * 0.37 + 3.0 * sin(f64::from(n) * 0.011)) as f32;
        let clap = |n: u32| {
            if n < 24_000 { 0.0 } else { 0.5 * libm::exp(-f64::from(n - 24_000) / 400.0) * sin(f64::from(n) * 1.9) }
        };
        let sound: Vec<f32> = (0..48_000).map(|n| murmur(n) + clap(n) as f32).collect();
        for near in [1.4, 1.5, 1.6] {
            let at = sudden(&sound, near, 0.25).unwrap_or_default();
            assert!((at - 1.5).abs() < 0.001, "{near}: {at}");
        }
        assert_eq!(sudden(&sound, 0.8, 0.3), None);
        let swells: Vec<f32> = (0..48_000).map(|n| (f64::from(n) / 1e5 * sin(f64::from(n) * 0.3)) as f32).collect();
        assert_eq!(sudden(&swells, 1.5, 0.5), None);
        assert_eq!(sudden(&sound, 99.0, 0.5), None);
    }

    /// What cannot be kept at the lower rate does not come back as another tone.
    #[test]
    fn high_tones_are_left_out() {
        let source: Vec<f32> =
            (0..48_000).map(|n| sin(f64::from(n) / 48_000.0 * 11_000.0 * std::f64::consts::TAU) as f32).collect();
        let mut resampler = Resampler::new(48_000);
        let mut made = Vec::new();
        resampler.take(&source, &mut made);
        resampler.finish(&mut made);
        let loudest = made.iter().skip(200).take(15_000).fold(0.0f32, |most, s| most.max(s.abs()));
        assert!(loudest < 0.01, "{loudest}");
    }
}

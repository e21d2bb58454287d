//! Songs made up by number, and what a room and a telephone do to them. Each song is another: tempo, key, chords, tune and drums.

#![allow(
    dead_code,
    missing_docs,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::many_single_char_names
)]

use letfall_film::sound::{RATE, at_comparing_rate};
use letfall_sound::song::{Band, SAMPLE_RATE, Voice};

/// Numbers that look random and are the same every time (G. Marsaglia, "Xorshift RNGs", 2003).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Dice {
        let mut dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
        for _ in 0..8 {
            dice.next();
        }
        dice
    }

    pub fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    /// 0 to 1.
    pub fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.share()
    }

    pub fn below(&mut self, most: u64) -> u64 {
        self.next() % most
    }
}

/// What a song is made of, so that it can be played faster, in another key, or round and round.
#[derive(Clone)]
pub struct Song {
    pub seed: u64,
    pub secs: f64,
    /// How much faster than it was made.
    pub speed: f64,
    /// Semitones.
    pub higher: i32,
    /// If given, these many bars are repeated for ever, sample by sample nearly alike.
    pub round: Option<u64>,
    /// The bar it begins with.
    pub first_bar: u64,
}

impl Song {
    pub fn new(seed: u64, secs: f64) -> Song {
        Song { seed, secs, speed: 1.0, higher: 0, round: None, first_bar: 0 }
    }

    /// Plays it, at the comparing rate.
    pub fn play(&self) -> Vec<f32> {
        let mut dice = Dice::new(self.seed + 1000);
        let beat = 60.0 / (dice.between(80.0, 150.0) * self.speed);
        let key = 45 + dice.below(12) as i32 + self.higher;
        let chords: Vec<i32> = (0..8).map(|_| [0, 5, 7, 9, 2, 4][dice.below(6) as usize]).collect();
        let busy = dice.between(0.3, 0.8);
        let mut band = Band::new(self.secs);
        let bars = (self.secs / (4.0 * beat)) as u64 + 1;
        for bar in 0..bars {
            let number = self.first_bar + bar;
            let number = self.round.map_or(number, |round| number % round);
            let mut dice = Dice::new(self.seed * 7 + number * 31 + 5);
            let root = key + chords[number as usize % 8];
            let begin = bar as f64 * 4.0 * beat;
            // People do not play to the sample, unless a machine repeats them.
            let mut loose = |at: f64| if self.round.is_some() { at } else { at + dice.between(0.0, 0.012) };
            let mut hits = Vec::new();
            for eighth in 0..8u64 {
                let at = loose(begin + eighth as f64 * beat / 2.0).max(0.0);
                hits.push((eighth, at));
            }
            for (eighth, at) in hits {
                let voice = match eighth {
                    0 | 4 => Some(Voice::Kick),
                    2 | 6 => Some(Voice::Snare),
                    _ => None,
                };
                if let Some(voice) = voice {
                    band.play(voice, at, at + 0.2, 36, dice.between(0.5, 1.0));
                }
                if dice.share() < 0.8 {
                    band.play(Voice::Hat, at, at + 0.1, 42, dice.between(0.2, 0.5));
                }
                if dice.share() < busy {
                    let note = root + 12 + [0, 2, 4, 5, 7, 9, 12][dice.below(7) as usize];
                    band.play(Voice::Brass, at, at + beat * dice.between(0.3, 1.5), note, dice.between(0.3, 0.8));
                }
            }
            for part in [0, 4, 7] {
                band.play(Voice::Horn, begin, begin + 4.0 * beat, root + part, 0.35);
            }
            band.play(Voice::Bass, begin, begin + 2.0 * beat, root - 12, 0.7);
        }
        resampled(&band.end(), SAMPLE_RATE)
    }
}

pub fn resampled(sound: &[f32], from: u32) -> Vec<f32> {
    at_comparing_rate(from, |take| take(sound))
}

/// What lies between a loudspeaker and a film.
#[derive(Clone, Copy, Debug)]
pub struct Hall {
    /// How long the room sounds on, seconds to -60 dB; 0 for none.
    pub echo: f64,
    /// How much stronger the direct sound is than all echo, dB.
    pub direct: f64,
    /// How much stronger the song is than what else is heard, dB.
    pub noise: f64,
    /// Whether somebody sings over it, as loud as the song.
    pub singer: bool,
    /// How much faster the film's clock goes, millionths.
    pub drift: f64,
}

impl Hall {
    pub const QUIET: Hall = Hall { echo: 0.0, direct: 0.0, noise: 60.0, singer: false, drift: 0.0 };

    /// The song as a film in this hall has it, from one place of the song to another, seconds; `before` is what the film has before it.
    pub fn film(&self, song: &[f32], from: f64, to: f64, before: f64, seed: u64) -> Vec<f32> {
        let mut dice = Dice::new(seed + 77);
        let rate = f64::from(RATE);
        let step = 1.0 + self.drift * 1e-6;
        let count = ((to - from) * rate / step) as usize;
        // Cubic between samples, which is plenty below a few kilohertz.
        let mut wet: Vec<f32> = (0..count).map(|n| between(song, from * rate + n as f64 * step)).collect();
        if self.echo > 0.0 {
            wet = self.echoed(&wet, &mut dice);
        }
        let power = |s: &[f32]| s.iter().map(|s| f64::from(s * s)).sum::<f64>() / s.len().max(1) as f64;
        let level = power(&wet).sqrt();
        if self.singer {
            let voice = Song::new(seed + 4321, to - from + 1.0);
            let voice = voice.play();
            let louder = level / power(&voice).sqrt().max(1e-9);
            for (n, sample) in wet.iter_mut().enumerate() {
                *sample += (louder * f64::from(voice[n.min(voice.len() - 1)])) as f32;
            }
        }
        let mut film = vec![0.0f32; (before * rate) as usize];
        film.extend(wet);
        film.extend(vec![0.0f32; rate as usize]);
        let noise = level * libm::pow(10.0, -self.noise / 20.0) * 1.732;
        // An audience murmurs more low than high.
        let mut low = 0.0;
        for sample in &mut film {
            low += 0.3 * (dice.between(-1.0, 1.0) - low);
            *sample += (noise * 2.0 * low) as f32;
            *sample *= 0.4;
        }
        film
    }

    fn echoed(&self, dry: &[f32], dice: &mut Dice) -> Vec<f32> {
        let rate = f64::from(RATE);
        let mut taps: Vec<(usize, f64)> = Vec::new();
        let (mut at, mut sum) = (0.004, 0.0f64);
        while at < self.echo && taps.len() < 900 {
            let strength = libm::pow(10.0, -3.0 * at / self.echo) * dice.between(-1.0, 1.0);
            sum += strength * strength;
            taps.push(((at * rate) as usize, strength));
            at += dice.between(0.0005, 0.0035);
        }
        let scale = libm::pow(10.0, -self.direct / 20.0) / sum.sqrt();
        let mut wet = dry.to_vec();
        for (late, strength) in taps {
            let strength = (strength * scale) as f32;
            for (to, from) in wet[late.min(dry.len())..].iter_mut().zip(dry) {
                *to += strength * from;
            }
        }
        wet
    }
}

fn between(song: &[f32], at: f64) -> f32 {
    let n = at.floor();
    let part = (at - n) as f32;
    let get = |k: i64| song.get(usize::try_from(n as i64 + k).unwrap_or(usize::MAX)).copied().unwrap_or(0.0);
    let (a, b, c, d) = (get(-1), get(0), get(1), get(2));
    b + 0.5 * part * (c - a + part * (2.0 * a - 5.0 * b + 4.0 * c - d + part * (3.0 * (b - c) + d - a)))
}

//! The band: voices made of sine waves and noise, mixed together.

/// The sample rate of what is rendered.
pub const SAMPLE_RATE: u32 = 22_050;

const RATE: f64 = SAMPLE_RATE as f64;

/// The voices.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Voice {
    /// The tune, bright.
    Brass,
    /// The tune, soft.
    Choir,
    /// Low notes.
    Bass,
    /// Chords.
    Horn,
    /// The tune, high and struck.
    Bell,
    /// A low drum.
    Kick,
    /// A bright drum.
    Snare,
    /// A brushed drum.
    Brush,
    /// Small cymbals.
    Hat,
    /// A large cymbal.
    Crash,
}

/// How a voice sounds.
struct Make {
    /// The tone and its overtones: multiple of its pitch, strength.
    tones: &'static [(f64, f64)],
    /// Seconds until full strength.
    attack: f64,
    /// Seconds in which a held tone loses two thirds of its strength; 0 means it does not fade.
    decay: f64,
    /// Seconds it takes to fade out at the end.
    release: f64,
}

const fn make(voice: Voice) -> Make {
    match voice {
        Voice::Brass => Make {
            tones: &[(1.0, 0.5), (2.0, 0.4), (3.0, 0.3), (4.0, 0.2), (5.0, 0.12), (6.0, 0.07)],
            attack: 0.018,
            decay: 0.0,
            release: 0.06,
        },
        Voice::Choir => Make {
            tones: &[(1.0, 0.6), (1.004, 0.4), (2.0, 0.2), (3.0, 0.06)],
            attack: 0.05,
            decay: 0.0,
            release: 0.12,
        },
        Voice::Bass => {
            Make { tones: &[(1.0, 0.8), (2.0, 0.35), (3.0, 0.12)], attack: 0.012, decay: 0.0, release: 0.08 }
        }
        Voice::Horn => Make { tones: &[(1.0, 0.6), (2.0, 0.3), (3.0, 0.15)], attack: 0.02, decay: 0.5, release: 0.08 },
        Voice::Bell => {
            Make { tones: &[(1.0, 0.6), (2.76, 0.3), (5.4, 0.15)], attack: 0.002, decay: 0.35, release: 0.4 }
        }
        _ => Make { tones: &[], attack: 0.001, decay: 0.0, release: 0.0 },
    }
}

/// Seconds in which a struck voice loses two thirds of its strength.
const fn dies(voice: Voice) -> f64 {
    match voice {
        Voice::Kick => 0.09,
        Voice::Snare => 0.08,
        Voice::Brush => 0.05,
        Voice::Hat => 0.02,
        _ => 0.7,
    }
}

/// The mix of what has been played so far.
pub struct Band {
    mix: Vec<f32>,
    noise: u32,
}

impl Band {
    /// Starts with this many seconds of silence.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a length
    pub fn new(secs: f64) -> Band {
        Band { mix: vec![0.0; (secs.clamp(0.0, 7200.0) * RATE) as usize], noise: 1 }
    }

    /// Plays a note between two times in seconds; `key` is a MIDI note number.
    pub fn play(&mut self, voice: Voice, from: f64, to: f64, key: i32, strength: f64) {
        if make(voice).tones.is_empty() {
            self.strike(voice, from, strength);
        } else {
            self.hold(voice, from, to, key, strength);
        }
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // places in the mix
    fn hold(&mut self, voice: Voice, from: f64, to: f64, key: i32, strength: f64) {
        let Make { tones, attack, decay, release } = make(voice);
        let pitch = 440.0 * libm::exp2(f64::from(key - 69) / 12.0);
        let (first, held) = ((from * RATE).ceil().max(0.0), (to - from).max(0.02));
        let count = ((held + release) * RATE) as usize;
        // For each tone, its rotation per sample and its current phase, so that no sine needs to be computed for every sample.
        let audible = tones.iter().filter(|(times, _)| pitch * times < RATE * 0.45);
        let mut turns: Vec<[f64; 5]> = audible
            .map(|(times, part)| {
                let turn = std::f64::consts::TAU * pitch * times / RATE;
                [libm::cos(turn), libm::sin(turn), 1.0, 0.0, part * strength * 0.3]
            })
            .collect();
        let fade = if decay > 0.0 { libm::exp(-1.0 / (decay * RATE)) } else { 1.0 };
        let mut level = 1.0;
        for (k, out) in self.mix.iter_mut().skip(first as usize).take(count).enumerate() {
            let now = k as f64 / RATE;
            let ending = if now > held { (1.0 - (now - held) / release).max(0.0) } else { 1.0 };
            let swell = (now / attack).min(1.0) * ending * level;
            level *= fade;
            let mut sum = 0.0;
            for [cos, sin, x, y, part] in &mut turns {
                (*x, *y) = (*x * *cos - *y * *sin, *x * *sin + *y * *cos);
                sum += *y * *part;
            }
            *out += (sum * swell) as f32;
        }
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // places in the mix
    fn strike(&mut self, voice: Voice, from: f64, strength: f64) {
        let dies = dies(voice);
        let first = (from * RATE).ceil().max(0.0) as usize;
        let fade = libm::exp(-1.0 / (dies * RATE));
        let (mut level, mut before, mut phase) = (strength * 0.6, 0.0, 0.0f64);
        for (k, out) in self.mix.iter_mut().skip(first).take((dies * 6.0 * RATE) as usize).enumerate() {
            // Noise from a linear congruential generator (Numerical Recipes, "quick and dirty").
            self.noise = self.noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f64::from(self.noise >> 8) / 8_388_608.0 - 1.0;
            let now = k as f64 / RATE;
            let body = |low: f64, fall: f64| low * (1.0 + 2.0 * libm::exp(-now / fall));
            let sound = match voice {
                Voice::Kick => {
                    phase += body(48.0, 0.03) / RATE;
                    libm::sin(std::f64::consts::TAU * phase)
                }
                Voice::Snare => {
                    phase += 185.0 / RATE;
                    0.6 * noise + 0.4 * libm::sin(std::f64::consts::TAU * phase)
                }
                Voice::Brush => 0.35 * (noise + before),
                // The difference between neighbouring samples, which leaves only high frequencies.
                _ => 0.5 * (noise - before),
            };
            before = noise;
            *out += (sound * level) as f32;
            level *= fade;
        }
    }

    /// The mix, scaled so that its loudest sample is at 0.9 of full scale.
    pub fn end(mut self) -> Vec<f32> {
        let most = self.mix.iter().fold(1e-6f32, |most, s| most.max(s.abs()));
        let scale = 0.9 / most;
        self.mix.iter_mut().for_each(|s| *s *= scale);
        self.mix
    }
}

//! Plays slower at the same pitch. Short grains overlap and are laid out more slowly than they were taken. Each grain is taken
//! near its due place, where it continues the one before best (W. Verhelst and M. Roelands, "An overlap-add technique based on
//! waveform similarity", ICASSP 1993).

/// Stretches sound to play at a fraction of its speed.
pub struct Stretch {
    /// Samples that each step produces; a grain is two steps long.
    step: usize,
    /// How far from its due place a grain may be taken.
    search: usize,
    window: Vec<f32>,
    /// The second half of the last grain, fading out.
    tail: Vec<f32>,
    /// The second half of the last grain, unfaded. The next grain should begin like it.
    follows: Vec<f32>,
}

impl Stretch {
    /// For sound at this sample rate.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // sizes of a grain
    pub fn new(sample_rate: f64) -> Stretch {
        let step = ((sample_rate * 0.02) as usize).max(8);
        let turn = std::f64::consts::PI / step as f64;
        let window = (0..2 * step).map(|n| (0.5 - 0.5 * libm::cos(turn * (n as f64 + 0.5))) as f32).collect();
        Stretch { step, search: step / 2, window, tail: vec![0.0; step], follows: Vec::new() }
    }

    /// Samples that each step produces.
    pub const fn step(&self) -> usize {
        self.step
    }

    /// Forgets the previous grain, because the sound starts somewhere else.
    pub fn begin(&mut self) {
        self.tail.fill(0.0);
        self.follows.clear();
    }

    /// Produces one step of sound from around sample `at`. `read` fills a buffer with samples from a position on.
    pub fn step_from(&mut self, at: i64, out: &mut Vec<f32>, mut read: impl FnMut(i64, &mut [f32])) {
        let (step, search) = (self.step, if self.follows.is_empty() { 0 } else { self.search });
        let reach = i64::try_from(search).unwrap_or(0);
        let mut around = vec![0.0; 2 * search + 3 * step];
        read(at - reach, &mut around);
        let like = |off: usize| {
            // Comparing every fourth sample is enough.
            let pairs = around[off..off + step].iter().zip(&self.follows).step_by(4);
            let (mut both, mut own) = (0.0f32, 1e-9f32);
            for (a, b) in pairs {
                both += a * b;
                own += a * a;
            }
            both / own.sqrt()
        };
        let off = (0..=2 * search).max_by(|a, b| like(*a).total_cmp(&like(*b))).unwrap_or(0);
        let grain = &around[off..off + 2 * step];
        if self.follows.is_empty() {
            // The first grain starts at full strength.
            out.extend_from_slice(&grain[..step]);
        } else {
            let rising = grain[..step].iter().zip(&self.window).zip(&self.tail);
            out.extend(rising.map(|((sample, weight), tail)| sample * weight + tail));
        }
        for ((tail, sample), weight) in self.tail.iter_mut().zip(&grain[step..]).zip(&self.window[step..]) {
            *tail = sample * weight;
        }
        self.follows.clear();
        self.follows.extend_from_slice(&around[off + step..off + 2 * step]);
    }
}

//! Slower with the pitch kept: short grains are laid over each other more slowly than they were taken, each from the place
//! near its due one at which it goes on most like the grain before (W. Verhelst and M. Roelands, "An overlap-add technique
//! based on waveform similarity", ICASSP 1993).

/// Stretches sound to a share of its speed.
pub struct Stretch {
    /// Samples that each step gives; a grain is two steps long.
    step: usize,
    /// How far from its due place a grain may be taken.
    search: usize,
    window: Vec<f32>,
    /// The second half of the last grain, faded out.
    tail: Vec<f32>,
    /// What would come after the last grain, unfaded: the next should be like it.
    follows: Vec<f32>,
}

impl Stretch {
    /// For sound of so many samples a second.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // sizes of a grain
    pub fn new(sample_rate: f64) -> Stretch {
        let step = ((sample_rate * 0.02) as usize).max(8);
        let turn = std::f64::consts::PI / step as f64;
        let window = (0..2 * step).map(|n| (0.5 - 0.5 * libm::cos(turn * (n as f64 + 0.5))) as f32).collect();
        Stretch { step, search: step / 2, window, tail: vec![0.0; step], follows: Vec::new() }
    }

    /// Samples that each step gives.
    pub const fn step(&self) -> usize {
        self.step
    }

    /// Forgets the grain before: sound begins anew.
    pub fn begin(&mut self) {
        self.tail.fill(0.0);
        self.follows.clear();
    }

    /// One step of sound from about sample `at`. `read` fills with samples from a place on.
    pub fn step_from(&mut self, at: i64, out: &mut Vec<f32>, mut read: impl FnMut(i64, &mut [f32])) {
        let (step, search) = (self.step, if self.follows.is_empty() { 0 } else { self.search });
        let reach = i64::try_from(search).unwrap_or(0);
        let mut around = vec![0.0; 2 * search + 3 * step];
        read(at - reach, &mut around);
        let like = |off: usize| {
            // Every fourth sample is enough to compare.
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
            // The first grain begins at full strength.
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

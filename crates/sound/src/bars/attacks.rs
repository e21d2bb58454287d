//! How much begins to sound at every moment, 500 times a second, for saying to a few milliseconds when: the net hears fifty.

/// Values a second.
pub const RATE: f64 = 500.0;
/// Below the first and above the second frequency, and between them, Hz: drums and bass, the rest, cymbals and consonants.
const SPLIT: [f64; 2] = [180.0, 4000.0];
const BANDS: usize = 3;
/// Over so many values a rise is measured: 12 ms, about as long as the attack of a drum lasts.
const RISE: usize = 6;
/// Levels this far below a band's mean are as good as silence, as a share of its energy.
const FLOOR: f64 = 1e-3;
/// The mean is taken out over so many values on each side: half a second.
const AROUND: usize = 250;
/// One attack counts for at most so many deviations, so that a single crash moves nothing.
const MOST: f64 = 4.0;

/// How much begins to sound at every moment: the rise of each band's level, levelled.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Attacks {
    /// In all bands together.
    pub all: Vec<f32>,
    /// In the band of drums and bass.
    pub bass: Vec<f32>,
}

/// Takes in sound block by block.
pub struct AttackListener {
    rate: f64,
    /// Of each of the two filters, the share of a new sample that is taken, and its two stages.
    filters: [(f64, [f64; 2]); 2],
    heard: u64,
    energy: Vec<[f64; BANDS]>,
}

impl AttackListener {
    /// A listener for sound at this sample rate.
    pub fn new(sample_rate: u32) -> AttackListener {
        let rate = f64::from(sample_rate.clamp(1000, 1_000_000));
        let share = |hz: f64| 1.0 - libm::exp(-std::f64::consts::TAU * hz / rate);
        AttackListener { rate, filters: SPLIT.map(|hz| (share(hz), [0.0; 2])), heard: 0, energy: Vec::new() }
    }

    /// Takes in the next samples.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // places in the recording
    pub fn hear(&mut self, block: &[f32]) {
        for sample in block {
            let sample = f64::from(*sample);
            let mut below = [0.0; 2];
            for ((share, stages), below) in self.filters.iter_mut().zip(&mut below) {
                stages[0] += *share * (sample - stages[0]);
                stages[1] += *share * (stages[0] - stages[1]);
                *below = stages[1];
            }
            let at = (self.heard as f64 * RATE / self.rate) as usize;
            if at >= self.energy.len() {
                self.energy.resize(at + 1, [0.0; BANDS]);
            }
            let bands = [below[0], below[1] - below[0], sample - below[1]];
            for (sum, value) in self.energy[at].iter_mut().zip(bands) {
                *sum += value * value;
            }
            self.heard += 1;
        }
    }

    /// How much begins to sound, value by value.
    pub fn end(self) -> Attacks {
        let count = self.energy.len();
        let mut all = vec![0.0f64; count];
        let mut bass = Vec::new();
        for band in 0..BANDS {
            let mean = self.energy.iter().map(|e| e[band]).sum::<f64>() / count.max(1) as f64;
            if mean <= 1e-15 {
                continue;
            }
            let level: Vec<f64> = self.energy.iter().map(|e| libm::log(e[band] / mean + FLOOR)).collect();
            // The mean of the values after, less the mean of those before.
            let sums = running(&level);
            let over = |from: usize, to: usize| (sums[to] - sums[from]) / (to - from).max(1) as f64;
            let rise: Vec<f64> = (0..count)
                .map(|at| {
                    let (before, after) = (at.saturating_sub(RISE), (at + RISE).min(count));
                    if before == at { 0.0 } else { (over(at, after) - over(before, at)).max(0.0) }
                })
                .collect();
            let sums = running(&rise);
            let near = |at: usize| {
                let (from, to) = (at.saturating_sub(AROUND), (at + AROUND).min(count));
                (sums[to] - sums[from]) / (to - from).max(1) as f64
            };
            let own: Vec<f64> = rise.iter().enumerate().map(|(at, rise)| rise - near(at)).collect();
            let deviation = libm::sqrt(own.iter().map(|v| v * v).sum::<f64>() / count as f64).max(1e-9);
            let own = own.into_iter().map(|value| (value / deviation).clamp(-1.0, MOST));
            if band == 0 {
                bass = own.clone().map(small).collect();
            }
            for (sum, value) in all.iter_mut().zip(own) {
                *sum += value;
            }
        }
        bass.resize(count, 0.0);
        Attacks { all: all.into_iter().map(small).collect(), bass }
    }
}

#[allow(clippy::cast_possible_truncation)] // a few deviations
const fn small(value: f64) -> f32 {
    value as f32
}

/// The sums of all values before each, and of all.
fn running(values: &[f64]) -> Vec<f64> {
    let mut sums = Vec::with_capacity(values.len() + 1);
    let mut sum = 0.0;
    sums.push(sum);
    for value in values {
        sum += value;
        sums.push(sum);
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A drum at known times is heard there, whatever the sample rate.
    #[test]
    fn attacks_are_where_they_are_played() {
        for rate in [22_050u32, 44_100, 48_000] {
            let mut listener = AttackListener::new(rate);
            let drum =
                |since: f64| if since < 0.0 { 0.0 } else { libm::exp(-since * 30.0) * libm::sin(since * 1900.0) };
            let times = [0.5, 1.25, 2.0, 3.3];
            let samples: Vec<f32> = (0..rate * 4)
                .map(|n| {
                    let at = f64::from(n) / f64::from(rate);
                    #[allow(clippy::cast_possible_truncation)]
                    let sample = times.iter().map(|t| drum(at - t)).sum::<f64>() as f32;
                    sample * 0.5
                })
                .collect();
            samples.chunks(777).for_each(|block| listener.hear(block));
            let heard = listener.end().all;
            for time in times {
                let near = |at: &usize| ((*at as f64) / RATE - time).abs() < 0.1;
                let top = (0..heard.len()).filter(near).max_by(|a, b| heard[*a].total_cmp(&heard[*b])).unwrap_or(0);
                let off = top as f64 / RATE - time;
                assert!(off.abs() < 0.008, "{rate}: {off} at {time}");
            }
        }
    }

    #[test]
    fn silence_has_none() {
        let mut listener = AttackListener::new(44_100);
        listener.hear(&vec![0.0; 44_100]);
        assert!(listener.end().all.iter().all(|v| *v == 0.0));
        assert!(AttackListener::new(44_100).end().all.is_empty());
    }
}

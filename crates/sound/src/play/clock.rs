//! The clock of a sound device, estimated from its callbacks: how many samples will have been heard at a given time.

/// Tracks a device's clock through callbacks that come early and late.
///
/// A second-order loop: each callback adjusts the estimates of position and rate a little (F. Adriaensen, "Using a DLL to
/// filter time", 2005; the gains are ours).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeviceClock {
    nominal: f64,
    /// A sample, and the time in microseconds at which it is heard.
    anchor: Option<(f64, f64)>,
    /// Microseconds a sample.
    period: f64,
    /// How many samples a callback usually asks for.
    usual: f64,
    seen: u32,
}

/// If a callback is off by more than this, in microseconds, the device stopped for a while.
const LOST: f64 = 60_000.0;

impl DeviceClock {
    /// A device with this nominal sample rate.
    pub fn new(sample_rate: f64) -> DeviceClock {
        DeviceClock { nominal: 1e6 / sample_rate, anchor: None, period: 1e6 / sample_rate, usual: 0.0, seen: 0 }
    }

    /// Takes in a callback's report: sample `at` is heard at `micros` on the system's clock.
    pub fn event(&mut self, at: f64, micros: f64) {
        let Some((sample, time)) = self.anchor else {
            self.anchor = Some((at, micros));
            return;
        };
        let forth = at - sample;
        if forth <= 0.0 {
            return;
        }
        let expected = time + forth * self.period;
        let off = micros - expected;
        if off.abs() > LOST {
            self.anchor = Some((at, micros));
            (self.period, self.seen) = (self.nominal, 0);
            return;
        }
        // Adjust strongly at first, then gently. A short callback tells as little as it is short: its lateness, spread over few samples,
        // would look like another rate.
        self.seen = self.seen.saturating_add(1);
        self.usual += (forth - self.usual) * (1.0 / f64::from(self.seen)).max(0.05);
        let weight = (forth / self.usual).min(1.0);
        let pull = (2.0 / f64::from(self.seen + 1)).max(0.02) * weight;
        self.anchor = Some((at, expected + pull * off));
        let rate_pull = if self.seen < 32 { 0.0 } else { pull * pull / 4.0 };
        // No device's rate is off by more than one in a thousand.
        let near = self.nominal * 0.999..=self.nominal * 1.001;
        self.period = (self.period + rate_pull * off / forth).clamp(*near.start(), *near.end());
    }

    /// The sample heard at `micros`; `None` before the first callback.
    pub fn sample_at(&self, micros: f64) -> Option<f64> {
        self.anchor.map(|(sample, time)| sample + (micros - time) / self.period)
    }
}

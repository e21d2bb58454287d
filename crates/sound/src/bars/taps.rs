//! Tapping along: works out the beats meant by a row of taps, some of which are early, late, missed or struck twice.

use super::fit::{Placed, plan};
use super::given::{GivenBar, TAP_SIGMA};
use super::hearing::Hearing;
use super::spectrum::FRAME_RATE;
use letfall_core::time::{GridPlan, TimeError};

/// Taps closer together than this share of a beat count as one.
const DOUBLE: f64 = 0.4;

/// Why taps make no grid.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TapError {
    /// Too few.
    #[error("{0} taps are too few; tap every beat for two bars at least, beginning on a downbeat")]
    Few(usize),
    /// They fit no tempo.
    #[error("the taps make no grid: {0}")]
    Grid(#[from] TimeError),
}

/// A row of taps.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Taps {
    /// Seconds of song time, in order.
    at: Vec<f64>,
}

impl Taps {
    /// Adds a tap. A tap earlier than the last one removes those after it, because the user went back in the song.
    pub fn tap(&mut self, secs: f64) {
        self.at.retain(|t| *t < secs);
        self.at.push(secs);
    }

    /// How many there are.
    pub const fn len(&self) -> usize {
        self.at.len()
    }

    /// Whether there are none.
    pub const fn is_empty(&self) -> bool {
        self.at.is_empty()
    }

    /// The median tempo of the taps, in taps a minute; `None` if there are too few.
    pub fn tempo(&self) -> Option<f64> {
        let mut gaps: Vec<f64> = self.at.windows(2).map(|w| w[1] - w[0]).collect();
        gaps.sort_by(f64::total_cmp);
        gaps.get(gaps.len() / 2).filter(|g| **g > 0.0).map(|gap| 60.0 / gap)
    }

    /// The beats that the taps mean, the first one a downbeat. Each tap gets the number of beats since the first. Missed taps
    /// leave a gap in these numbers; double taps are left out.
    fn beats(&self) -> Vec<(i64, f64)> {
        let mut out: Vec<(i64, f64)> = Vec::new();
        let gaps: Vec<f64> = self.at.windows(2).map(|w| w[1] - w[0]).collect();
        let middle = |of: &[f64]| {
            let mut sorted = of.to_vec();
            sorted.sort_by(f64::total_cmp);
            sorted.get(sorted.len() / 2).copied().unwrap_or(0.0)
        };
        let whole = middle(&gaps);
        for (at, tap) in self.at.iter().enumerate() {
            let Some(&(count, last)) = out.last() else {
                out.push((0, *tap));
                continue;
            };
            // The local length of a beat, from nearby gaps that are neither doubles nor misses.
            let near: Vec<f64> = gaps[at.saturating_sub(5)..(at + 4).min(gaps.len())]
                .iter()
                .copied()
                .filter(|g| (whole * 0.6..whole * 1.6).contains(g))
                .collect();
            let beat = if near.is_empty() { whole } else { middle(&near) };
            let gone = (tap - last) / beat;
            if gone < DOUBLE {
                continue;
            }
            out.push((count + (round(gone)).max(1), *tap));
        }
        out
    }

    /// The first bar that was tapped: a line fitted through its beats and the next downbeat. Unless `beats` is given, all beats
    /// before the last tap make up the bar, if it can have so many (2 to 7). `None` if there are too few taps or too many.
    #[allow(clippy::cast_precision_loss)] // a few beats
    pub fn bar(&self, beats: Option<u8>) -> Option<GivenBar> {
        let taps = self.beats();
        let count = beats.or_else(|| u8::try_from(taps.last()?.0).ok().filter(|n| (2..=7).contains(n)))?;
        let bar: Vec<(f64, f64)> =
            taps.iter().filter(|(k, _)| *k <= i64::from(count)).map(|(k, at)| (*k as f64, *at)).collect();
        if count == 0 || bar.len() < 2 || bar.last()?.0 < f64::from(count) {
            return None;
        }
        let mean = |of: fn(&(f64, f64)) -> f64| bar.iter().map(of).sum::<f64>() / bar.len() as f64;
        let (k0, t0) = (mean(|p| p.0), mean(|p| p.1));
        let spread: f64 = bar.iter().map(|(k, _)| (k - k0) * (k - k0)).sum();
        let each = bar.iter().map(|(k, t)| (k - k0) * (t - t0)).sum::<f64>() / spread;
        let from = t0 - k0 * each;
        Some(GivenBar { from: from.max(0.0), to: from + f64::from(count) * each, beats: Some(count) })
    }

    /// The grid that the taps mean, in bars of this many beats, and how many bars it has. With a recording, all beats are
    /// shifted together to where it sounds most like beats, because people tap slightly early or late.
    ///
    /// # Errors
    /// [`TapError`].
    pub fn plan(
        &self,
        beats_per_bar: u8,
        compound: bool,
        hearing: Option<&Hearing>,
    ) -> Result<(GridPlan, u32), TapError> {
        let of = beats_per_bar.max(1);
        let taps = self.beats();
        if taps.len() < usize::from(of) * 2 || taps.len() < 4 {
            return Err(TapError::Few(taps.len()));
        }
        let mut placed = Vec::new();
        for pair in taps.windows(2) {
            let ((k0, t0), (k1, t1)) = (pair[0], pair[1]);
            for k in k0..k1 {
                placed.push((k, t0 + (t1 - t0) * (k - k0) as f64 / (k1 - k0) as f64));
            }
        }
        placed.extend(taps.last());
        let late = hearing.map_or(0.0, |h| h.lateness(&placed.iter().map(|p| p.1).collect::<Vec<f64>>()));
        let number = |k: i64| u8::try_from(k.rem_euclid(i64::from(of)) + 1).unwrap_or(1);
        let placed: Vec<Placed> =
            placed.into_iter().map(|(k, at)| Placed { at: at - late, number: number(k), of }).collect();
        Ok(plan(&placed, compound, TAP_SIGMA)?)
    }
}

#[allow(clippy::cast_possible_truncation)] // a count of beats
fn round(x: f64) -> i64 {
    libm::round(x).clamp(-1e6, 1e6) as i64
}

impl Hearing {
    /// By how many seconds a row of beats is late compared with what is heard, within ±0.15 s.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // places in the recording
    fn lateness(&self, beats: &[f64]) -> f64 {
        let heard = |secs: f64| {
            let at = secs * FRAME_RATE;
            if at < 0.0 {
                return 0.0;
            }
            let (low, part) = (at as usize, at.fract() as f32);
            let value = |k: usize| self.heard.beat.get(k).copied().unwrap_or(0.0);
            f64::from(value(low) * (1.0 - part) + value(low + 1) * part)
        };
        let worth = |late: f64| beats.iter().map(|b| heard(b - late)).sum::<f64>();
        let tries = (-30..=30).map(|k| f64::from(k) * 0.005);
        let best = tries.max_by(|a, b| worth(*a).total_cmp(&worth(*b)));
        // If nothing is heard there, the recording gives no hint.
        best.filter(|late| worth(*late) > 0.2 * beats.len() as f64).unwrap_or(0.0)
    }
}

//! A bar that the user gave: whether it can be a bar, and where nearby it sounds most like one, because people tap and mark a
//! little off.

use super::bar_error::BarError;
use super::net::{Activations, log_odds};
use super::search_limits::BAR_LASTS;
use super::spectrum::FRAME_RATE;
use super::tempo_range::TempoRange;
use std::ops::RangeInclusive;

/// How far a tap falls from its beat, in seconds. For trained tappers 10 to 30 ms are reported, for others more (B. Repp,
/// "Sensorimotor synchronization: a review of the tapping literature", Psychonomic Bulletin & Review 12, 2005; from memory).
pub(super) const TAP_SIGMA: f64 = 0.030;
/// How far either end of the bar lies from where it is meant to be, in seconds: the same as for a tap.
const SIGMA: f64 = TAP_SIGMA;
/// How far an end may be moved, in seconds and as a share of a beat, so that it never reaches another note.
const FAR: f64 = 0.070;
const FAR_IN_BEAT: f64 = 0.2;
/// The number of positions tried on either side.
const STEPS: i32 = 14;
/// The limit on the log odds of a single moment.
const CLEAR: f32 = 4.0;

/// A bar that the user gave. It can be any bar of the song, because the bars before it are found too.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GivenBar {
    /// Seconds of its downbeat.
    pub from: f64,
    /// Seconds of the next downbeat.
    pub to: f64,
    /// Number of beats in it, if known.
    pub beats: Option<u8>,
}

impl GivenBar {
    /// How long a bar may last, in seconds.
    pub const LASTS: RangeInclusive<f64> = BAR_LASTS;

    /// Whether it can be a bar of a recording of this length in seconds.
    ///
    /// # Errors
    /// [`BarError`], which says what is wrong.
    pub fn check(&self, ends: f64) -> Result<(), BarError> {
        let secs = self.to - self.from;
        if !GivenBar::LASTS.contains(&secs) {
            return Err(BarError::Length);
        }
        if let Some(at) = [self.from, self.to].into_iter().find(|at| !(0.0..=ends).contains(at)) {
            return Err(BarError::Outside { at, ends });
        }
        let Some(beats) = self.beats else { return Ok(()) };
        let bpm = 60.0 * f64::from(beats) / secs;
        if TempoRange::default().has(bpm) { Ok(()) } else { Err(BarError::Tempo { beats, secs, bpm }) }
    }

    /// Its length in seconds; `None` if it is not positive.
    pub(super) fn length(&self) -> Option<f64> {
        Some(self.to - self.from).filter(|length| length.is_finite() && *length > 0.0)
    }

    /// The same bar with this many beats, each end moved slightly to where its beats sound most like beats.
    pub(super) fn settled(self, heard: &Activations, count: u8) -> GivenBar {
        let Some(length) = self.length().filter(|_| count > 0) else { return self };
        let step = FAR.min(FAR_IN_BEAT * length / f64::from(count)) / f64::from(STEPS);
        let worth = |from: f64, to: f64| {
            let beats = (0..=count).map(|k| from + (to - from) * f64::from(k) / f64::from(count));
            beats.map(|at| odds(heard, at).clamp(-CLEAR, CLEAR)).sum::<f32>()
        };
        let astray = |by: f64| by * by / (2.0 * SIGMA * SIGMA);
        let mut best = (f64::NEG_INFINITY, self);
        for early in -STEPS..=STEPS {
            for late in -STEPS..=STEPS {
                let (a, b) = (f64::from(early) * step, f64::from(late) * step);
                let worth = f64::from(worth(self.from + a, self.to + b)) - astray(a) - astray(b);
                if worth > best.0 {
                    best = (worth, GivenBar { from: (self.from + a).max(0.0), to: self.to + b, beats: Some(count) });
                }
            }
        }
        best.1
    }
}

/// The log odds of a beat at a time in seconds, interpolated between frames.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a place in the recording
fn odds(heard: &Activations, secs: f64) -> f32 {
    let at = (secs * FRAME_RATE).max(0.0);
    let part = (at - libm::floor(at)) as f32;
    let value = |k: usize| heard.beat.get(k).map_or(-CLEAR, |p| log_odds(*p));
    value(at as usize) * (1.0 - part) + value(at as usize + 1) * part
}

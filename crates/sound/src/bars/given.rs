//! A bar that a person gave: whether it can be one, and where it sounds most like one, as a hand taps and an eye places it a little
//! astray.

use super::bar_error::BarError;
use super::net::{Activations, log_odds};
use super::search_limits::BAR_LASTS;
use super::spectrum::FRAME_RATE;
use super::tempo_range::TempoRange;
use std::ops::RangeInclusive;

/// How far a tap falls from its beat, in seconds. Of trained tappers 10 to 30 ms are told; a hand that is not, more
/// (B. Repp, "Sensorimotor synchronization: a review of the tapping literature", Psychonomic Bulletin & Review 12, 2005;
/// from memory).
pub(super) const TAP_SIGMA: f64 = 0.030;
/// How far either end stands from where it is meant, in seconds: as a tap does.
const SIGMA: f64 = TAP_SIGMA;
/// How far an end is moved at most, in seconds and as a share of a beat: never to another note.
const FAR: f64 = 0.070;
const FAR_IN_BEAT: f64 = 0.2;
/// Steps in which it is moved, to either side.
const STEPS: i32 = 14;
/// What is heard at one moment says at most so much.
const CLEAR: f32 = 4.0;

/// A bar that a person gave; any bar of the song, for what comes before it is found too.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GivenBar {
    /// Seconds of its downbeat.
    pub from: f64,
    /// Seconds of the next downbeat.
    pub to: f64,
    /// Beats in it, where that was said.
    pub beats: Option<u8>,
}

impl GivenBar {
    /// Seconds that a bar may last.
    pub const LASTS: RangeInclusive<f64> = BAR_LASTS;

    /// Whether it can be a bar of a recording that is so many seconds long.
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

    /// Its length in seconds; `None` where it is no bar.
    pub(super) fn length(&self) -> Option<f64> {
        Some(self.to - self.from).filter(|length| length.is_finite() && *length > 0.0)
    }

    /// The same bar of so many beats, each end moved to where its beats sound most like beats, though not far.
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

/// Log odds of a beat at a moment in seconds, between what is heard in the frames about it.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a place in the recording
fn odds(heard: &Activations, secs: f64) -> f32 {
    let at = (secs * FRAME_RATE).max(0.0);
    let part = (at - libm::floor(at)) as f32;
    let value = |k: usize| heard.beat.get(k).map_or(-CLEAR, |p| log_odds(*p));
    value(at as usize) * (1.0 - part) + value(at as usize + 1) * part
}

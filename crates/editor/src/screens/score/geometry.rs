//! Converts song time to x and back. Nothing is drawn here.

use letfall_core::time::SongTime;

/// The stretch of song time that is on screen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// Song time at the left edge, in microseconds.
    pub start: f64,
    /// Microseconds per point of width.
    pub scale: f64,
}

/// Limits of the zoom: 0.1 ms to 60 s per point.
const SCALES: std::ops::RangeInclusive<f64> = 100.0..=60e6;

impl View {
    /// Shows `from` to `to` in `width` points, with a little room on both sides.
    #[must_use]
    pub fn fit(from: SongTime, to: SongTime, width: f32) -> View {
        let span = ((to - from).micros() as f64).max(100_000.0);
        let width = f64::from(width.max(50.0));
        let scale = (span * 1.06 / width).clamp(*SCALES.start(), *SCALES.end());
        View { start: from.micros() as f64 - (scale * width - span) / 2.0, scale }
    }

    /// Points from the left edge to a song time in microseconds.
    #[allow(clippy::cast_possible_truncation)] // points on a screen
    pub fn x(&self, micros: f64) -> f32 {
        ((micros - self.start) / self.scale).clamp(-1e6, 1e6) as f32
    }

    /// Points from the left edge to a song time.
    pub fn x_of(&self, time: SongTime) -> f32 {
        self.x(time.micros() as f64)
    }

    /// The song time at this many points from the left edge.
    pub fn time(&self, x: f32) -> SongTime {
        SongTime::saturating(letfall_core::time::round::nearest(self.start + f64::from(x) * self.scale))
    }

    /// Zooms by a factor (above 1 is closer), keeping the time at `x` in place.
    #[must_use]
    pub fn zoomed(self, factor: f64, x: f32) -> View {
        let scale = (self.scale / factor.clamp(0.01, 100.0)).clamp(*SCALES.start(), *SCALES.end());
        View { start: self.start + f64::from(x) * (self.scale - scale), scale }
    }

    /// Scrolls by this many points to the right.
    #[must_use]
    pub fn moved(self, points: f32) -> View {
        let limit = SongTime::MAX.micros() as f64;
        View { start: (self.start + f64::from(points) * self.scale).clamp(-limit, limit), ..self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(secs: i64) -> SongTime {
        SongTime::saturating(secs * 1_000_000)
    }

    #[test]
    fn zooming_keeps_what_is_under_the_pointer() {
        let view = View::fit(at(0), at(100), 1000.0);
        let under = view.time(300.0);
        let closer = view.zoomed(3.0, 300.0);
        assert!((closer.time(300.0) - under).micros().abs() <= 1);
        assert!(closer.scale < view.scale);
    }

    #[test]
    fn fitting_shows_all_of_it() {
        let view = View::fit(at(10), at(20), 500.0);
        assert!(view.x_of(at(10)) > 0.0 && view.x_of(at(20)) < 500.0);
        assert!((view.x_of(at(15)) - 250.0).abs() < 0.5);
    }

    #[test]
    fn zoom_has_ends() {
        let mut view = View::fit(at(0), at(10), 500.0);
        for _ in 0..100 {
            view = view.zoomed(5.0, 10.0);
        }
        assert_eq!(view.scale, 100.0);
    }
}

//! Times of the film as places across the screen, and the marks that stand there.

use crate::film::FilmStudy;
use crate::widgets::film_marks::{planned_mark, seen_mark};
use crate::widgets::theme::Palette;
use egui::{Align2, FontId, Painter, Pos2, Rect, Stroke};

/// A stretch of the film across a rectangle.
#[derive(Debug, Clone, Copy)]
pub struct Axis {
    /// Where it is drawn.
    pub rect: Rect,
    /// The time at its left edge, seconds.
    pub from: f64,
    /// The time at its right edge, seconds.
    pub to: f64,
}

impl Axis {
    /// Where a time is.
    #[allow(clippy::cast_possible_truncation)] // points on a screen
    pub fn x(&self, at: f64) -> f32 {
        let share = (at - self.from) / (self.to - self.from).max(1e-9);
        self.rect.left() + (share.clamp(-1.0, 2.0) as f32) * self.rect.width()
    }

    /// The time at a place.
    pub fn time(&self, x: f32) -> f64 {
        let share = f64::from((x - self.rect.left()) / self.rect.width().max(1.0));
        self.from + share * (self.to - self.from)
    }

    /// Whether a time is on it.
    pub fn has(&self, at: f64) -> bool {
        (self.from..=self.to).contains(&at)
    }

    /// The time that is shown.
    pub fn here(&self, painter: &Painter, at: f64, p: &Palette) {
        let x = self.x(at);
        let line = [Pos2::new(x, self.rect.top()), Pos2::new(x, self.rect.bottom())];
        painter.line_segment(line, Stroke::new(2.0, p.playhead));
    }

    /// Every cue: a thin line with an open square where it should be seen, a filled triangle where it was. `named`: with labels where
    /// there is room.
    pub fn marks(&self, painter: &Painter, film: &FilmStudy, named: bool, p: &Palette) {
        let Some(results) = film.results() else { return };
        let mut last = f32::NEG_INFINITY;
        for row in &results.rows {
            let seen = row.cue.as_ref().and_then(|cue| cue.seen.ok());
            if !self.has(row.planned) && !seen.is_some_and(|seen| self.has(seen.at)) {
                continue;
            }
            let x = self.x(row.planned);
            let (top, bottom) = (self.rect.top(), self.rect.bottom());
            painter.line_segment([Pos2::new(x, top), Pos2::new(x, bottom)], Stroke::new(1.0, p.line));
            planned_mark(painter, Pos2::new(x, top + 5.0), p);
            if let Some(seen) = seen {
                let to = self.x(seen.at);
                let y = bottom - 6.0;
                painter.line_segment([Pos2::new(x, y), Pos2::new(to, y)], Stroke::new(1.5, p.text));
                seen_mark(painter, Pos2::new(to, y), p);
            }
            if named && x - last > 30.0 {
                last = x;
                let at = Pos2::new(x + 7.0, top + 5.0);
                painter.text(at, Align2::LEFT_CENTER, row.label.to_string(), FontId::monospace(13.0), p.text);
            }
        }
    }
}

//! What is drawn on top of the score: the playhead, the outline of what is being dragged, the selection box.

use super::canvas::Score;
use super::gesture::Gesture;
use super::ruler;
use crate::document::Document;
use crate::widgets::theme::Palette;
use egui::{FontId, Pos2, Rect, Stroke, Ui, vec2};
use letfall_core::prepared::Prepared;

impl Score {
    /// Draws the playhead, the outline of what is being dragged, and the selection box.
    pub(super) fn overlay(&self, ui: &Ui, canvas: Rect, document: &Document, plan: &Prepared, p: &Palette) {
        let painter = ui.painter_at(canvas);
        let x = canvas.left() + self.view.x_of(document.playhead);
        painter.line_segment([Pos2::new(x, canvas.top()), Pos2::new(x, canvas.bottom())], Stroke::new(1.5, p.playhead));
        painter.circle_filled(Pos2::new(x, canvas.top() + ruler::HEIGHT), 4.0, p.playhead);
        match self.gesture {
            Some(Gesture::Marquee { from }) => {
                if let Some(to) = ui.input(|i| i.pointer.latest_pos()) {
                    let boxed = Rect::from_two_pos(from, to);
                    painter.rect(
                        boxed,
                        0.0,
                        p.chosen.gamma_multiply(0.12),
                        Stroke::new(1.0, p.chosen),
                        egui::StrokeKind::Inside,
                    );
                }
            }
            Some(Gesture::Lengthen { to, .. }) => {
                let x = canvas.left() + self.view.x_of(to);
                let grid = &plan.grid();
                let line = [Pos2::new(x, canvas.top() + ruler::HEIGHT), Pos2::new(x, canvas.bottom())];
                painter.line_segment(line, Stroke::new(1.5, p.chosen));
                let words = format!("until {}   ({to})", grid.place_text(grid.tick_at(to)));
                tag(&painter, Pos2::new(x + 8.0, canvas.top() + ruler::HEIGHT + 4.0), canvas, words, p);
            }
            Some(Gesture::Pin { bar, to }) => {
                let x = canvas.left() + self.view.x_of(to);
                let line = [Pos2::new(x, canvas.top() + ruler::HEIGHT), Pos2::new(x, canvas.bottom())];
                painter.line_segment(line, Stroke::new(1.5, p.chosen));
                let was = plan.grid().bar_time(bar);
                let words = format!("bar {bar} to {to}   (from {was})");
                tag(&painter, Pos2::new(x + 8.0, canvas.top() + ruler::HEIGHT + self.strip + 4.0), canvas, words, p);
            }
            Some(Gesture::Move { from, to, .. }) => {
                let by = self.view.x_of(to) - self.view.x_of(from);
                for drawn in self.drawn.iter().filter(|d| document.selection.labels.contains(&d.label)) {
                    let ghost = drawn.rect.translate(vec2(by, 0.0));
                    painter.rect_stroke(ghost, 2.0, Stroke::new(1.5, p.chosen), egui::StrokeKind::Inside);
                }
                let grid = &plan.grid();
                let place = |t| grid.place_text(grid.tick_at(t));
                let words = format!("{} to {}   ({from} to {to})", place(from), place(to));
                let at = Pos2::new(canvas.left() + self.view.x_of(to) + 8.0, canvas.top() + ruler::HEIGHT + 4.0);
                tag(&painter, at, canvas, words, p);
            }
            _ => {}
        }
    }
}

/// A label that stays within the canvas.
fn tag(painter: &egui::Painter, at: Pos2, canvas: Rect, words: String, p: &Palette) {
    let galley = painter.layout_no_wrap(words, FontId::monospace(14.0), p.on_chosen);
    let at = Pos2::new(at.x.min(canvas.right() - galley.size().x - 12.0), at.y);
    painter.rect_filled(Rect::from_min_size(at, galley.size()).expand(4.0), 3.0, p.chosen);
    painter.galley(at, galley, p.on_chosen);
}

//! Sound as it is drawn: at every point across, a line from the lowest to the highest sample there.

use super::theme::Palette;
use egui::{Painter, Pos2, Rect, Stroke};

/// Draws it. `range` gives the lowest and highest sample, -1 to 1, between two places across; `room` is left free above and below, points.
pub fn waveform(painter: &Painter, rect: Rect, room: f32, p: &Palette, range: impl Fn(f32, f32) -> Option<(f32, f32)>) {
    let (middle, half) = (rect.center().y, rect.height() / 2.0 - room);
    let mut x = rect.left();
    while x < rect.right() {
        if let Some((low, high)) = range(x, x + 1.0) {
            let line = [Pos2::new(x, middle - high * half - 0.5), Pos2::new(x, middle - low * half + 0.5)];
            painter.line_segment(line, Stroke::new(1.0, p.quiet));
        }
        x += 1.0;
    }
}

//! The state of a run as a sign and a word: each has a shape of its own, so that it is told apart at three metres and not by colour alone.

use crate::rehearsal::choices::Sign;
use crate::widgets::theme::{Palette, Theme, bold};
use egui::{Color32, FontId, Painter, Pos2, Rect, Shape, Stroke, Ui, pos2, vec2};

/// Draws the sign and its words as one band, as wide as there is room.
pub fn show(ui: &mut Ui, (sign, words): (Sign, &str), (p, theme): (&Palette, Theme), size: f32) {
    let loud = matches!(sign, Sign::Stays | Sign::Stuck | Sign::Early | Sign::Unsure);
    let told = matches!(sign, Sign::Waits | Sign::Vamp | Sign::ByHand | Sign::Follows);
    let (ground, ink) = match (loud, told) {
        (true, _) => (p.alarm, theme.on_alarm()),
        (false, true) => (p.text, p.panel),
        (false, false) => (Color32::TRANSPARENT, if sign == Sign::Stopped { p.quiet } else { p.text }),
    };
    let width = ui.available_width();
    let high = 46.0 * size.max(0.6);
    let room = width - high - 20.0;
    let font = [34.0, 28.0, 24.0, 20.0, 16.0, 13.0]
        .into_iter()
        .map(|font| font * size)
        .find(|font| ui.painter().layout_no_wrap(words.to_owned(), FontId::new(*font, bold()), ink).size().x <= room);
    let galley =
        ui.painter().layout(words.to_owned(), FontId::new(font.unwrap_or(13.0 * size).max(12.0), bold()), ink, room);
    let high = high.max(galley.size().y + 6.0);
    let (rect, response) = ui.allocate_exact_size(vec2(width, high), egui::Sense::hover());
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 3.0, ground);
    let of = Rect::from_center_size(pos2(rect.left() + high * 0.5, rect.center().y), vec2(high, high) * 0.62);
    draw(&painter, sign, of, ink);
    painter.galley(pos2(rect.left() + high + 8.0, rect.center().y - galley.size().y / 2.0), galley, ink);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, words));
}

fn draw(painter: &Painter, sign: Sign, rect: Rect, ink: Color32) {
    let thick = Stroke::new(rect.height() * 0.16, ink);
    let at = |x: f32, y: f32| pos2(rect.left() + rect.width() * x, rect.top() + rect.height() * y);
    let bar = |from: Pos2, to: Pos2| {
        painter.line_segment([from, to], thick);
    };
    match sign {
        Sign::Stopped => {
            painter.rect_filled(rect.shrink(rect.width() * 0.1), 0.0, ink);
        }
        Sign::Runs => {
            let corners = vec![at(0.15, 0.05), at(0.95, 0.5), at(0.15, 0.95)];
            painter.add(Shape::convex_polygon(corners, ink, Stroke::NONE));
        }
        Sign::Waits => {
            bar(at(0.3, 0.0), at(0.3, 1.0));
            bar(at(0.7, 0.0), at(0.7, 1.0));
        }
        Sign::Vamp => {
            painter.circle_stroke(rect.center(), rect.width() * 0.42, thick);
        }
        Sign::ByHand => {
            for step in 0..3u8 {
                let x = 0.1 + 0.3 * f32::from(step);
                let y = 0.9 - 0.35 * f32::from(step);
                bar(at(x, y), at(x + 0.28, y));
            }
        }
        // The fabric is drawn as a rectangle under its bar: up, slanted, and falling apart.
        Sign::Stays => {
            bar(at(0.0, 0.06), at(1.0, 0.06));
            painter.rect_filled(Rect::from_min_max(at(0.1, 0.2), at(0.9, 0.95)), 0.0, ink);
        }
        Sign::Stuck => {
            bar(at(0.0, 0.06), at(1.0, 0.06));
            let corners = vec![at(0.1, 0.2), at(0.9, 0.95), at(0.1, 0.95)];
            painter.add(Shape::convex_polygon(corners, ink, Stroke::NONE));
        }
        Sign::Early => {
            bar(at(0.08, 0.08), at(0.92, 0.92));
            bar(at(0.92, 0.08), at(0.08, 0.92));
        }
        Sign::Unsure | Sign::Follows => {
            let count = if sign == Sign::Follows { 1 } else { 3 };
            for dot in 0..count {
                #[allow(clippy::cast_precision_loss)] // three dots
                let x = 0.5 + 0.36 * (dot as f32 - (count - 1) as f32 / 2.0);
                painter.circle_filled(at(x, 0.5), rect.width() * if count == 1 { 0.42 } else { 0.13 }, ink);
            }
        }
    }
}

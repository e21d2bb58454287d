//! Where the metres of a drawing are on the screen.

use crate::widgets::points::points;
use egui::{Pos2, Rect, vec2};
use letfall_core::room::drawing::{Drawing, Thing};

/// From metres on a drawing to points on the screen.
pub struct View {
    /// Points for a unit of the drawing.
    pub scale: f64,
    origin: Pos2,
    frame: [f64; 4],
}

impl View {
    pub fn of(made: &Drawing, rect: Rect) -> View {
        let [left, top, right, bottom] = made.frame;
        let (wide, high) = ((right - left).max(1e-6), (bottom - top).max(1e-6));
        let scale = (f64::from(rect.width()) / wide).min(f64::from(rect.height()) / high);
        let size = vec2(points(wide * scale), points(high * scale));
        View { scale, origin: rect.center() - size / 2.0, frame: made.frame }
    }

    pub fn onto(&self, at: [f64; 2]) -> Pos2 {
        self.origin + vec2(points((at[0] - self.frame[0]) * self.scale), points((at[1] - self.frame[1]) * self.scale))
    }

    /// A point of the screen as one of the drawing.
    pub fn back(&self, at: Pos2) -> [f64; 2] {
        let from = at - self.origin;
        [self.frame[0] + f64::from(from.x) / self.scale, self.frame[1] + f64::from(from.y) / self.scale]
    }

    /// The part of the screen that a drawing takes up.
    pub fn frame(&self, made: &Drawing) -> Rect {
        let [left, top, right, bottom] = made.frame;
        Rect::from_two_pos(self.onto([left, top]), self.onto([right, bottom]))
    }

    /// The thing at a point of the screen: of several the smallest.
    pub fn thing_at(&self, made: &Drawing, at: Pos2) -> Option<Thing> {
        const REACH: f32 = 5.0;
        let boxes = made.shapes.iter().filter_map(|shape| {
            let all = shape.points.iter().map(|point| self.onto(*point));
            let rect = Rect::from_points(&all.collect::<Vec<_>>()).expand(REACH);
            shape.thing.filter(|_| rect.contains(at)).map(|thing| (thing, rect.area()))
        });
        boxes.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(thing, _)| thing)
    }
}

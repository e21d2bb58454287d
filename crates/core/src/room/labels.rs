//! Words beside what they name on a drawing, none over another. Who draws says how large words are.

use super::drawing::{Draws, Shape};

/// Which names come first, because people look for them.
const FIRST: [Draws; 13] = [
    Draws::Dimension,
    Draws::Fabric,
    Draws::Projector,
    Draws::Point,
    Draws::Screen,
    Draws::Stage,
    Draws::Seat,
    Draws::Bar,
    Draws::Obstacle,
    Draws::Performer,
    Draws::Lamp,
    Draws::Free,
    Draws::Row,
];

/// A label: which shape it names, and its left and top.
pub type Placed = (usize, [f64; 2]);

/// Places the names of shapes within a frame (left, top, right, bottom), in the same units as the shapes. `size_of` gives a name's width and
/// height. A name for which there is no room is left out.
pub fn place_labels(
    shapes: &[Shape],
    frame: [f64; 4],
    gap: f64,
    mut size_of: impl FnMut(&Shape) -> [f64; 2],
) -> Vec<Placed> {
    let mut taken: Vec<[f64; 4]> = Vec::new();
    let mut placed = Vec::new();
    for draws in FIRST {
        for (at, shape) in shapes.iter().enumerate().filter(|(_, s)| s.draws == draws && !s.label.is_empty()) {
            let [w, h] = size_of(shape);
            let spots = spots(shape, gap, w, h);
            let is_free = |[x, y]: &[f64; 2]| {
                let inside = *x >= frame[0] && *y >= frame[1] && x + w <= frame[2] && y + h <= frame[3];
                inside && taken.iter().all(|t| x + w <= t[0] || *x >= t[2] || y + h <= t[1] || *y >= t[3])
            };
            if let Some([x, y]) = spots.into_iter().find(|spot| is_free(spot)) {
                taken.push([x - gap / 2.0, y, x + w + gap / 2.0, y + h]);
                placed.push((at, [x, y]));
            }
        }
    }
    placed
}

/// Where a name may stand, best first.
fn spots(shape: &Shape, gap: f64, w: f64, h: f64) -> Vec<[f64; 2]> {
    let range = |axis: usize| {
        let values = || shape.points.iter().map(|p| p[axis]);
        (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max))
    };
    let ((left, right), (top, bottom)) = (range(0), range(1));
    let (mx, my) = (f64::midpoint(left, right) - w / 2.0, f64::midpoint(top, bottom) - h / 2.0);
    if matches!(shape.draws, Draws::Stage) {
        return vec![[left + gap, top + gap], [left + gap, bottom - h - gap], [right - w - gap, top + gap]];
    }
    if matches!(shape.draws, Draws::Free | Draws::Row | Draws::Dimension) {
        return vec![[mx, my], [mx, bottom + gap], [mx, top - h - gap], [right + gap, my], [left - w - gap, my]];
    }
    let mut spots = Vec::with_capacity(8);
    for y in [bottom + gap, top - h - gap] {
        spots.push([mx, y]);
    }
    spots.extend([[right + gap, my], [left - w - gap, my]]);
    for y in [bottom + gap, top - h - gap] {
        spots.extend([[right + gap, y], [left - w - gap, y]]);
    }
    spots
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_name_lies_over_another_or_beyond_the_frame() {
        let shape = |x: f64, y: f64, label: &str| Shape {
            draws: Draws::Seat,
            points: vec![[x, y], [x + 0.2, y], [x + 0.2, y + 0.2], [x, y + 0.2]],
            closed: true,
            label: label.to_owned(),
            thing: None,
        };
        let shapes: Vec<Shape> =
            (0..40).map(|n| shape(f64::from(n % 8) * 0.4, f64::from(n / 8) * 0.5, "a name")).collect();
        let frame = [-1.0, -1.0, 4.5, 4.0];
        let placed = place_labels(&shapes, frame, 0.05, |_| [0.9, 0.25]);
        assert!(placed.len() > 8 && placed.len() < 40, "{}", placed.len());
        for (n, (_, a)) in placed.iter().enumerate() {
            assert!(a[0] >= frame[0] && a[1] >= frame[1] && a[0] + 0.9 <= frame[2] && a[1] + 0.25 <= frame[3]);
            for (_, b) in &placed[n + 1..] {
                let apart = a[0] + 0.9 <= b[0] || b[0] + 0.9 <= a[0] || a[1] + 0.25 <= b[1] || b[1] + 0.25 <= a[1];
                assert!(apart, "{a:?} lies over {b:?}");
            }
        }
    }
}

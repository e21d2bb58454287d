//! Boxes, panes, and what of a pane a box hides from an eye. Exact but for rounding: a box throws a convex shadow, and the area of a
//! union of convex shadows is summed over stretches between whose ends nothing begins, ends or crosses.

use crate::show::room::{Obstacle, Spot};

/// An upright box: from and to, in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cuboid {
    /// Left, nearest to the audience, lowest.
    pub from: Spot,
    /// Right, farthest from the audience, highest.
    pub to: Spot,
}

impl Cuboid {
    /// The box of something in the room.
    pub fn of(thing: &Obstacle) -> Cuboid {
        Cuboid::on(thing.at, thing.width_m, thing.depth_m, thing.height_m)
    }

    /// A box by the middle of its underside and its sides.
    pub fn on(at: Spot, width: f64, depth: f64, height: f64) -> Cuboid {
        Cuboid {
            from: Spot { across: at.across - width / 2.0, deep: at.deep - depth / 2.0, high: at.high },
            to: Spot { across: at.across + width / 2.0, deep: at.deep + depth / 2.0, high: at.high + height },
        }
    }

    /// Whether a place is inside.
    pub fn holds(&self, at: Spot) -> bool {
        (self.from.across..=self.to.across).contains(&at.across)
            && (self.from.deep..=self.to.deep).contains(&at.deep)
            && (self.from.high..=self.to.high).contains(&at.high)
    }

    /// Whether two boxes share room. Faces that touch share none.
    pub fn meets(&self, other: &Cuboid) -> bool {
        self.from.across < other.to.across
            && other.from.across < self.to.across
            && self.from.deep < other.to.deep
            && other.from.deep < self.to.deep
            && self.from.high < other.to.high
            && other.from.high < self.to.high
    }

    /// The distance between two boxes, metres; 0 if they meet or touch.
    pub fn apart(&self, other: &Cuboid) -> f64 {
        let gap = |a: f64, b: f64, c: f64, d: f64| (c - b).max(a - d).max(0.0);
        let x = gap(self.from.across, self.to.across, other.from.across, other.to.across);
        let y = gap(self.from.deep, self.to.deep, other.from.deep, other.to.deep);
        let z = gap(self.from.high, self.to.high, other.from.high, other.to.high);
        libm::sqrt(x * x + y * y + z * z)
    }
}

/// An upright rectangle that faces the audience.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pane {
    /// Its left edge, metres across.
    pub left: f64,
    /// Its right edge.
    pub right: f64,
    /// Its lower edge, metres above the floor of the hall.
    pub low: f64,
    /// Its upper edge.
    pub high: f64,
    /// How deep it stands.
    pub deep: f64,
}

/// A point on the plane of a pane: across and high, metres.
type Flat = [f64; 2];

/// What lies nearer to an eye than this share of the way to the pane is as good as at the eye itself.
const NEAREST: f64 = 1e-6;

impl Pane {
    /// Area, m².
    pub fn area(&self) -> f64 {
        (self.right - self.left).max(0.0) * (self.high - self.low).max(0.0)
    }

    /// Its middle.
    pub fn middle(&self) -> Spot {
        Spot { across: f64::midpoint(self.left, self.right), deep: self.deep, high: f64::midpoint(self.low, self.high) }
    }

    /// The share of it, 0 to 1, that boxes hide from an eye; `None` if the eye is in its plane, or it has no area.
    ///
    /// For a projector's lens in place of an eye, it is the share of the picture that boxes cut.
    pub fn hidden(&self, eye: Spot, boxes: &[Cuboid]) -> Option<f64> {
        let area = self.area();
        if area <= 0.0 || (eye.deep - self.deep).abs() < 1e-9 {
            return None;
        }
        let shadows: Vec<Vec<Flat>> = boxes
            .iter()
            .filter_map(|solid| shadow(self.deep, eye, solid))
            .filter(|points| self.may_meet(points))
            .map(|points| self.clip(hull(points)))
            .filter(|polygon| polygon.len() > 2)
            .collect();
        Some((union_area(&shadows) / area).clamp(0.0, 1.0))
    }

    /// Whether points on its plane reach over it at all, by the rectangle round them.
    fn may_meet(&self, points: &[Flat]) -> bool {
        let beyond = |axis: usize, low: f64, high: f64| {
            points.iter().all(|p| p[axis] <= low) || points.iter().all(|p| p[axis] >= high)
        };
        !beyond(0, self.left, self.right) && !beyond(1, self.low, self.high)
    }

    /// What of a convex polygon on its plane is on it (Sutherland and Hodgman, one edge after another).
    fn clip(&self, polygon: Vec<Flat>) -> Vec<Flat> {
        let edges = [(0, self.left, 1.0), (0, self.right, -1.0), (1, self.low, 1.0), (1, self.high, -1.0)];
        edges.into_iter().fold(polygon, |polygon, (axis, at, side)| {
            let inside = |p: &Flat| (p[axis] - at) * side >= 0.0;
            let mut kept = Vec::with_capacity(polygon.len() + 2);
            for (i, p) in polygon.iter().enumerate() {
                let q = &polygon[(i + 1) % polygon.len()];
                if inside(p) {
                    kept.push(*p);
                }
                if inside(p) != inside(q) {
                    let share = (at - p[axis]) / (q[axis] - p[axis]);
                    let mut cut = [p[0] + (q[0] - p[0]) * share, p[1] + (q[1] - p[1]) * share];
                    cut[axis] = at;
                    kept.push(cut);
                }
            }
            kept
        })
    }
}

/// The corners of the shadow that a box throws from an eye onto the plane at a depth; `None` if no part of it lies between.
fn shadow(deep: f64, eye: Spot, solid: &Cuboid) -> Option<Vec<Flat>> {
    // How far along the way from eye to plane: 0 at the eye, 1 at the plane.
    let along = |at: f64| (at - eye.deep) / (deep - eye.deep);
    let (a, b) = (along(solid.from.deep), along(solid.to.deep));
    let (near, far) = (a.min(b).max(NEAREST), a.max(b).min(1.0));
    if near >= far {
        return None;
    }
    let at_sides = |t: f64, from: f64, low: f64, high: f64| [from + (low - from) / t, from + (high - from) / t];
    let mut points = Vec::with_capacity(8);
    for t in [near, far] {
        let (xs, zs) = (
            at_sides(t, eye.across, solid.from.across, solid.to.across),
            at_sides(t, eye.high, solid.from.high, solid.to.high),
        );
        points.extend(xs.into_iter().flat_map(|x| zs.map(|z| [x, z])));
    }
    Some(points)
}

/// The convex hull of points, in the sense of the clock's opposite (Andrew's monotone chain).
pub(super) fn hull(mut points: Vec<Flat>) -> Vec<Flat> {
    points.sort_by(|p, q| p[0].total_cmp(&q[0]).then(p[1].total_cmp(&q[1])));
    let turns_left = |o: Flat, p: Flat, q: Flat| (p[0] - o[0]) * (q[1] - o[1]) - (p[1] - o[1]) * (q[0] - o[0]) > 0.0;
    let half = |points: &mut dyn Iterator<Item = &Flat>| {
        let mut chain: Vec<Flat> = Vec::new();
        for p in points {
            while chain.len() > 1 && !turns_left(chain[chain.len() - 2], chain[chain.len() - 1], *p) {
                chain.pop();
            }
            chain.push(*p);
        }
        chain.pop();
        chain
    };
    let mut lower = half(&mut points.iter());
    lower.extend(half(&mut points.iter().rev()));
    lower
}

/// Area of the union of convex polygons. Between two neighbouring heights at which a corner or a crossing lies, every edge is straight
/// and the widths change evenly, so that the width half way times the height is exact.
fn union_area(polygons: &[Vec<Flat>]) -> f64 {
    let edges: Vec<(Flat, Flat)> =
        polygons.iter().flat_map(|p| (0..p.len()).map(|i| (p[i], p[(i + 1) % p.len()]))).collect();
    let mut heights: Vec<f64> = polygons.iter().flatten().map(|p| p[1]).collect();
    for (i, first) in edges.iter().enumerate() {
        heights.extend(edges[i + 1..].iter().filter_map(|second| crossing_height(first, second)));
    }
    heights.sort_by(f64::total_cmp);
    heights.dedup_by(|a, b| (*a - *b).abs() < 1e-12);
    let mut spans: Vec<(f64, f64)> = Vec::new();
    let mut area = 0.0;
    for pair in heights.windows(2) {
        let middle = f64::midpoint(pair[0], pair[1]);
        spans.clear();
        spans.extend(polygons.iter().filter_map(|polygon| span_at(polygon, middle)));
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut covered = 0.0;
        let mut reach = f64::NEG_INFINITY;
        for (from, to) in &spans {
            covered += (to - from.max(reach)).max(0.0);
            reach = reach.max(*to);
        }
        area += covered * (pair[1] - pair[0]);
    }
    area
}

/// The height at which two edges cross, if they do.
fn crossing_height(first: &(Flat, Flat), second: &(Flat, Flat)) -> Option<f64> {
    let way = |edge: &(Flat, Flat)| [edge.1[0] - edge.0[0], edge.1[1] - edge.0[1]];
    let cross = |one: Flat, other: Flat| one[0] * other[1] - one[1] * other[0];
    let (along, other) = (way(first), way(second));
    let turn = cross(along, other);
    if turn == 0.0 {
        return None;
    }
    let between = [second.0[0] - first.0[0], second.0[1] - first.0[1]];
    // How far along each edge the crossing lies.
    let (on_first, on_second) = (cross(between, other) / turn, cross(between, along) / turn);
    let on_both = (0.0..=1.0).contains(&on_first) && (0.0..=1.0).contains(&on_second);
    on_both.then_some(first.0[1] + on_first * along[1])
}

/// From where to where a convex polygon reaches at a height, if it does.
fn span_at(polygon: &[Flat], height: f64) -> Option<(f64, f64)> {
    let mut span: Option<(f64, f64)> = None;
    for (i, p) in polygon.iter().enumerate() {
        let q = &polygon[(i + 1) % polygon.len()];
        if (p[1] > height) == (q[1] > height) {
            continue;
        }
        let x = p[0] + (q[0] - p[0]) * (height - p[1]) / (q[1] - p[1]);
        span = Some(span.map_or((x, x), |(from, to)| (from.min(x), to.max(x))));
    }
    span
}

#[cfg(test)]
mod tests {
    use super::*;

    const PANE: Pane = Pane { left: -2.0, right: 2.0, low: 1.0, high: 5.0, deep: 1.0 };

    fn at(across: f64, deep: f64, high: f64) -> Spot {
        Spot { across, deep, high }
    }

    fn hidden(eye: Spot, boxes: &[Cuboid]) -> f64 {
        PANE.hidden(eye, boxes).expect("a pane before the eye")
    }

    /// Similar triangles by hand: a thin board half way between eye and pane, 1 m wide, covers 2 m of the pane's 4 m, over all of its
    /// height or half of it.
    #[test]
    fn a_board_half_way_hides_twice_its_size() {
        let eye = at(0.0, -9.0, 3.0);
        let board = |low: f64, high: f64| Cuboid { from: at(-0.5, -4.000_001, low), to: at(0.5, -4.0, high) };
        assert!((hidden(eye, &[board(0.0, 9.0)]) - 0.5).abs() < 1e-6);
        assert!((hidden(eye, &[board(3.0, 9.0)]) - 0.25).abs() < 1e-6);
        // Twice the same board hides no more; two that overlap by half hide half as much again.
        assert!((hidden(eye, &[board(3.0, 9.0), board(3.0, 9.0)]) - 0.25).abs() < 1e-6);
        let moved = Cuboid { from: at(0.0, -4.000_001, 3.0), to: at(1.0, -4.0, 9.0) };
        assert!((hidden(eye, &[board(3.0, 9.0), moved]) - 0.375).abs() < 1e-6);
    }

    #[test]
    fn what_is_behind_the_eye_or_the_pane_hides_nothing() {
        let eye = at(0.0, -9.0, 3.0);
        for (from, to) in [(-20.0, -10.0), (1.0, 4.0), (1.5, 2.0)] {
            assert_eq!(hidden(eye, &[Cuboid { from: at(-9.0, from, 0.0), to: at(9.0, to, 9.0) }]), 0.0);
        }
        // An eye in a box, and one behind a wall, see nothing; one in the pane's plane cannot be said to look at it.
        assert_eq!(hidden(eye, &[Cuboid { from: at(-1.0, -10.0, 2.0), to: at(1.0, -8.0, 4.0) }]), 1.0);
        assert_eq!(hidden(eye, &[Cuboid { from: at(-9.0, -5.0, -9.0), to: at(9.0, -4.0, 9.0) }]), 1.0);
        assert_eq!(PANE.hidden(at(0.0, 1.0, 2.0), &[]), None);
        assert_eq!(Pane { right: -2.0, ..PANE }.hidden(eye, &[]), None);
    }

    #[test]
    fn boxes_meet_touch_and_stand_apart() {
        let one = Cuboid::on(at(0.0, 0.0, 0.0), 2.0, 2.0, 2.0);
        let other = |across, deep, high| Cuboid::on(at(across, deep, high), 2.0, 2.0, 2.0);
        assert!(one.meets(&other(1.9, 0.0, 0.0)) && !one.meets(&other(2.0, 0.0, 0.0)));
        assert!(!one.meets(&other(0.0, 2.0, 0.0)) && !one.meets(&other(0.0, 0.0, 2.0)));
        assert_eq!(one.apart(&other(1.0, 0.0, 0.0)), 0.0);
        // 3 and 4 make 5; 1, 2 and 2 make 3.
        assert!((one.apart(&other(5.0, 6.0, 0.0)) - 5.0).abs() < 1e-12);
        assert!((other(-3.0, 4.0, -4.0).apart(&one) - 3.0).abs() < 1e-12);
        assert!(one.holds(at(1.0, -1.0, 2.0)) && !one.holds(at(1.01, 0.0, 1.0)) && !one.holds(at(0.0, 0.0, -0.01)));
    }
}

//! The course of a fall over the height of a picture: the law of a fall with drag (check-values section 7.2), fitted to the moments at which
//! rows of the picture are passed.

use letfall_core::reveal::{G, drag_fall_secs, free_fall_secs};

/// One row of one side of a region.
#[derive(Debug, Clone, Copy)]
pub struct Passed {
    /// Its upper edge, as a share of the height from the top.
    pub top: f64,
    /// Its lower edge.
    pub bottom: f64,
    /// When the edge passes it, seconds: the mean over its height.
    pub at: f64,
    /// Whether it lies in the right half.
    pub right: bool,
}

/// The most drag: a light cloth that falls no faster than 2 m/s has 10 on its way down from 4 m (check-values 7.2).
const MOST_DRAG: f64 = 12.0;
/// The least: what the pile below pulls along falls faster than freely (check-values 7.3 and 7.4), and a camera that looks up sees heights
/// shrink.
const LEAST_DRAG: f64 = -1.2;
/// How far the top of the fabric may lie off the top of what was drawn, as a share of the height.
const MOST_DRAWN: f64 = 0.12;
/// Before anything is measured: a usual drag, how far others lie from it, and how well a hand draws the top of a fabric, as a share of its
/// height (common practice, no source). Rows speak louder where they are read well; a film that shakes cannot tell.
const USUAL_DRAG: f64 = 0.8;
const DRAG_WITHIN: f64 = 3.0;
const DRAWN_WITHIN: f64 = 0.02;
/// Figures of a course: let-go, time to the floor, right side, drag, top.
pub const FIGURES: usize = 5;
/// The first three of them go into the moments linearly.
const LINEAR: usize = 3;

/// `t = let_go + whole · f(drag, y − top) / f(drag, 1)`, and the right side later by so much.
#[derive(Debug, Clone, Copy)]
pub struct Course {
    /// When the left side is let go, seconds.
    pub let_go: f64,
    /// How much later the right side falls, seconds.
    pub right: f64,
    /// From let-go through the height that was drawn, seconds.
    pub whole: f64,
    bend: Bend,
    /// By how much a row is off by itself, as a square: how loud it speaks against what was known before.
    noise: f64,
}

/// The figures that bend a course.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Bend {
    /// g · height / terminal speed².
    drag: f64,
    /// Where the edge begins, as a share of the height from the top of what was drawn: a hand draws it some percent off, and as it hardly
    /// moves at first, two percent are 70 ms.
    top: f64,
}

/// How long an edge falls through a share `y` of the height, in units of free fall through all of it: √y without drag. Below 0 the law of a
/// fall with drag goes on as arccos.
fn fallen(drag: f64, y: f64) -> f64 {
    if drag.abs() < 1e-6 {
        return y.sqrt() * (1.0 + drag * y / 6.0);
    }
    if drag < 0.0 {
        return libm::acos(libm::exp(drag * y)) / (-2.0 * drag).sqrt();
    }
    // The height counts as a metre: of that the terminal speed follows.
    drag_fall_secs(y, (G / drag).sqrt()) / free_fall_secs(1.0)
}

impl Bend {
    /// The share of the whole time that it takes to a share of the height.
    fn share(self, y: f64) -> f64 {
        fallen(self.drag, (y - self.top).max(0.0)) / fallen(self.drag, 1.0)
    }

    /// The mean of that over a row, by three points of Gauss over the root of the height, in which it is smooth.
    fn mean(self, row: &Passed) -> f64 {
        let (from, to) = ((row.top - self.top).max(0.0).sqrt(), (row.bottom - self.top).max(0.0).sqrt());
        let (middle, half) = (f64::midpoint(from, to), (to - from) / 2.0);
        if half <= 0.0 {
            return 0.0;
        }
        let at = |part: f64| {
            let root = middle + half * part;
            self.share(root * root + self.top) * 2.0 * root
        };
        let outer = 0.6f64.sqrt();
        (5.0 * at(-outer) + 8.0 * at(0.0) + 5.0 * at(outer)) / 9.0 * half / (to * to - from * from)
    }

    /// How fast a share of the time changes with the drag and with the top.
    fn slopes(self, of: impl Fn(Bend) -> f64) -> [f64; 2] {
        const STEP: f64 = 1e-3;
        let here = of(self);
        let drag = of(Bend { drag: self.drag + STEP, ..self });
        let top = of(Bend { top: self.top + STEP, ..self });
        [(drag - here) / STEP, (top - here) / STEP]
    }

    fn clamped(self) -> Bend {
        Bend { drag: self.drag.clamp(LEAST_DRAG, MOST_DRAG), top: self.top.clamp(-MOST_DRAWN, MOST_DRAWN) }
    }
}

impl Course {
    /// When the edge passes a share of the height, seconds: the middle of both sides.
    pub fn at(&self, y: f64) -> f64 {
        self.let_go + self.whole * self.bend.share(y) + self.right / 2.0
    }

    /// When the edge begins to move, seconds: the middle of both sides.
    pub fn begins(&self) -> f64 {
        self.let_go + self.right / 2.0
    }

    /// How long the edge takes through a row, seconds.
    pub fn through_row(&self, row: &Passed) -> f64 {
        self.whole * (self.bend.share(row.bottom) - self.bend.share(row.top))
    }

    /// How much later than this a row was passed, seconds.
    pub fn off(&self, row: &Passed) -> f64 {
        row.at - self.let_go - self.whole * self.bend.mean(row) - if row.right { self.right } else { 0.0 }
    }

    /// How badly it explains the rows, and what was known before.
    fn squares(&self, rows: &[Passed]) -> f64 {
        let before = self.before().map(|(weight, off)| weight * off * off);
        rows.iter().map(|row| self.off(row).powi(2)).sum::<f64>() + before.iter().sum::<f64>()
    }

    /// What was known of drag and top before: its weight beside a row's, and how far they lie off it.
    fn before(&self) -> [(f64, f64); 2] {
        let weight = |within: f64| self.noise / (within * within);
        [(weight(DRAG_WITHIN), self.bend.drag - USUAL_DRAG), (weight(DRAWN_WITHIN), self.bend.top)]
    }

    /// Only shifted and stretched, by least squares, with a usual drag and the top where it was drawn.
    pub fn straight(rows: &[Passed]) -> Option<Course> {
        Course::bent(rows, Bend { drag: USUAL_DRAG, top: 0.0 }, 0.0)
    }

    /// By least squares, where a row is off by the root of `noise`, seconds. Where the edge begins bends a course much, so it is looked for from several places, and
    /// from here.
    pub fn through(&self, rows: &[Passed], noise: f64) -> Option<Course> {
        let tops = [0.0, 0.04, -0.04, 0.08, -0.08].map(|top| Bend { drag: USUAL_DRAG, top });
        let all = tops.into_iter().chain([self.bend]).filter_map(|bend| Course::from(rows, bend, noise));
        all.min_by(|a, b| a.squares(rows).total_cmp(&b.squares(rows)))
    }

    /// The same from here.
    pub fn again(&self, rows: &[Passed], noise: f64) -> Option<Course> {
        Course::from(rows, self.bend, noise)
    }

    /// By Gauss and Newton from a bend, with shorter steps where a whole one makes it worse.
    fn from(rows: &[Passed], bend: Bend, noise: f64) -> Option<Course> {
        let mut course = Course::bent(rows, bend, noise)?;
        let mut squares = course.squares(rows);
        for _ in 0..40 {
            if course.whole.abs() < 1e-6 {
                return None;
            }
            let [.., drag, top] = solved(course.sums(rows, [true; 2]))?;
            let mut part = 1.0;
            let better = loop {
                let bend = Bend { drag: course.bend.drag + part * drag, top: course.bend.top + part * top }.clamped();
                let next = Course::bent(rows, bend, noise)?;
                let now = next.squares(rows);
                if now < squares * (1.0 - 1e-9) {
                    break Some((next, now));
                }
                part /= 2.0;
                if part < 0.01 {
                    break None;
                }
            };
            let Some((next, now)) = better else { break };
            (course, squares) = (next, now);
        }
        Some(course)
    }

    /// The best course that is bent so.
    fn bent(rows: &[Passed], bend: Bend, noise: f64) -> Option<Course> {
        let origin = rows.first()?.at;
        let mut course = Course { let_go: origin, whole: 0.0, right: 0.0, bend, noise };
        let [let_go, whole, right, ..] = solved(course.sums(rows, [false; 2]))?;
        (course.let_go, course.whole, course.right) = (origin + let_go, whole, right);
        Some(course)
    }

    /// The sums of squares and products of all rows for a change of the figures; the last column is that of what is left of the moments.
    fn sums(&self, rows: &[Passed], bends: [bool; 2]) -> [[f64; FIGURES + 1]; FIGURES] {
        let both = rows.iter().any(|p| p.right) && rows.iter().any(|p| !p.right);
        let mut sums = [[0.0f64; FIGURES + 1]; FIGURES];
        for p in rows {
            let [drag, top] = self.bend.slopes(|bend| bend.mean(p));
            let of = |bends, slope: f64| if bends { self.whole * slope } else { 0.0 };
            let right = if p.right && both { 1.0 } else { 0.0 };
            let row = [1.0, self.bend.mean(p), right, of(bends[0], drag), of(bends[1], top), self.off(p)];
            for (n, sum) in sums.iter_mut().enumerate() {
                for (to, value) in sum.iter_mut().zip(row) {
                    *to += row[n] * value;
                }
            }
        }
        for ((figure, (weight, off)), bends) in (LINEAR..).zip(self.before()).zip(bends) {
            if bends {
                sums[figure][figure] += weight;
                sums[figure][FIGURES] -= weight * off;
            }
        }
        for (figure, counts) in [(LINEAR - 1, both), (LINEAR, bends[0]), (LINEAR + 1, bends[1])] {
            if !counts {
                sums[figure][figure] = 1.0;
            }
        }
        sums
    }

    /// How many times the variance of a single row the moment of let-go has.
    pub fn spread_of_let_go(&self, rows: &[Passed]) -> Option<f64> {
        self.spread(rows, [1.0, 0.0, 0.5, 0.0, 0.0])
    }

    /// How far the moment at which a share of the height is passed may be off because a hand draws that share, seconds, as a standard
    /// uncertainty.
    pub fn drawn(&self, y: f64) -> f64 {
        const STEP: f64 = 1e-3;
        self.whole * (self.bend.share(y) - self.bend.share(y - STEP)) / STEP * DRAWN_WITHIN
    }

    /// The same as [`Course::spread_of_let_go`] for the time from let-go to a share of the height.
    pub fn spread_to(&self, rows: &[Passed], y: f64) -> Option<f64> {
        let [drag, top] = self.bend.slopes(|bend| bend.share(y));
        self.spread(rows, [0.0, self.bend.share(y), 0.0, self.whole * drag, self.whole * top])
    }

    /// The same for any sum of its figures: through what the rows leave open of them.
    fn spread(&self, rows: &[Passed], of: [f64; FIGURES]) -> Option<f64> {
        let mut sums = self.sums(rows, [true; 2]);
        sums.iter_mut().zip(of).for_each(|(row, of)| row[FIGURES] = of);
        let square: f64 = solved(sums)?.iter().zip(of).map(|(left, of)| left * of).sum();
        (square >= 0.0).then_some(square)
    }
}

/// As many equations with as many unknowns, by Gauss with pivots.
fn solved(mut rows: [[f64; FIGURES + 1]; FIGURES]) -> Option<[f64; FIGURES]> {
    for column in 0..FIGURES {
        let pivot = (column..FIGURES).max_by(|a, b| rows[*a][column].abs().total_cmp(&rows[*b][column].abs()))?;
        rows.swap(column, pivot);
        let lead = rows[column];
        if lead[column].abs() < 1e-12 {
            return None;
        }
        for (n, row) in rows.iter_mut().enumerate() {
            if n != column {
                let times = row[column] / lead[column];
                for (to, value) in row.iter_mut().zip(lead) {
                    *to -= times * value;
                }
            }
        }
    }
    let mut found = [0.0; FIGURES];
    found.iter_mut().enumerate().for_each(|(n, to)| *to = rows[n][FIGURES] / rows[n][n]);
    Some(found)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    /// check-values 7.1 and 7.2: seconds for a height in metres at a terminal speed in m/s.
    #[test]
    fn the_law_is_that_of_the_tables() {
        for (height, terminal, secs) in [
            (4.0f64, 6.0f64, 1.072_667),
            (4.0, 2.0, 2.141_363),
            (8.0, 3.0, 2.878_711),
            (6.096, 20.0, 1.142_976),
            (3.048, 10.0, 0.828_229),
            (4.0, 1e6, 0.903_202),
        ] {
            let (g, free) = (9.80665, (2.0 * height / 9.80665).sqrt());
            let found = free * fallen(g * height / (terminal * terminal), 1.0);
            assert!((found - secs).abs() < 2e-6, "{height} m at {terminal} m/s: {found} for {secs}");
            // Part of the way is the way of a lower fall: 7.3.
            let part = free * fallen(g * height / (terminal * terminal), 0.55);
            let lower = (2.0 * height * 0.55 / g).sqrt() * fallen(g * height * 0.55 / (terminal * terminal), 1.0);
            assert!((part - lower).abs() < 1e-9, "{part} {lower}");
        }
        // 7.3: 8 m to 2.4 m at 6 m/s.
        let secs = (2.0f64 * 8.0 / 9.80665).sqrt() * fallen(9.80665 * 8.0 / 36.0, 0.7);
        assert!((secs - 1.350_053).abs() < 2e-6, "{secs}");
        // Without a break where there is no drag.
        for y in [0.01, 0.3, 1.0] {
            let (below, none, above) = (fallen(-1.2e-4, y), fallen(0.0, y), fallen(1.2e-4, y));
            assert!(below < none && none < above && above - below < 1e-4 && none == y.sqrt(), "{below} {none} {above}");
            assert!((above + below - 2.0 * none).abs() < 1e-8);
        }
    }

    /// Rows of a fall that is known, worked out by stepping through it and not by any formula of the course.
    fn stepped(drag: f64, top: f64, right: f64) -> Vec<Passed> {
        let rows = 48;
        let mut at = vec![Vec::new(); rows];
        let (mut way, mut speed, step) = (0.0f64, 0.0f64, 2e-5);
        let mut t = 0.0;
        // way'' = 2 (1 − drag · way'² / 2), in heights and times of free fall through one.
        while way < 1.1 {
            speed += 2.0 * (1.0 - drag * speed * speed / 2.0) * step;
            way += speed * step;
            t += step;
            let row = ((way + top) * rows as f64).floor();
            if (0.0..rows as f64).contains(&row) && way + top > 0.0 {
                at[row as usize].push((t, speed));
            }
        }
        let mut passed = Vec::new();
        for (row, times) in at.iter().enumerate().filter(|(_, times)| times.len() > 3) {
            let (sum, weight) = times.iter().fold((0.0, 0.0), |(s, w), (t, v)| (s + t * v, w + v));
            for side in [false, true] {
                let (from, to) = (row as f64 / rows as f64, (row + 1) as f64 / rows as f64);
                passed.push(Passed {
                    top: from,
                    bottom: to,
                    at: 7.0 + sum / weight + if side { right } else { 0.0 },
                    right: side,
                });
            }
        }
        passed
    }

    fn best(rows: &[Passed]) -> Option<Course> {
        Course::straight(rows)?.through(rows, 0.0)
    }

    #[test]
    fn a_fall_is_found_again_wherever_it_was_drawn() {
        for (drag, top, right) in
            [(0.0, 0.0, 0.0), (1.5, 0.0, 0.2), (4.0, 0.03, 0.0), (0.7, -0.05, 0.1), (2.0, 0.07, -0.1)]
        {
            let rows = stepped(drag, top, right);
            let course = best(&rows).unwrap();
            let off = course.begins() - 7.0 - right / 2.0;
            assert!(off.abs() < 2e-3, "drag {drag}, drawn {top} off: {off}");
            assert!((course.right - right).abs() < 1e-4);
            let worst = rows.iter().map(|row| course.off(row).abs()).fold(0.0, f64::max);
            assert!(worst < 1e-3, "{worst}");
        }
    }

    #[test]
    fn what_is_known_of_let_go_is_what_it_scatters_by() {
        let rows = stepped(1.0, 0.01, 0.05);
        let (mut state, sigma, count) = (7u64, 0.004, 100);
        let mut dice = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        };
        let (mut sum, mut squares, mut stated) = (0.0, 0.0, 0.0);
        for _ in 0..count {
            let mut noisy = rows.clone();
            // The sum of twelve has a variance of one.
            for row in &mut noisy {
                row.at += sigma * ((0..12).map(|_| dice()).sum::<f64>() - 6.0);
            }
            let course = best(&noisy).unwrap();
            let off = course.begins() - 7.025;
            sum += off;
            squares += off * off;
            stated += course.spread_of_let_go(&noisy).unwrap().sqrt() * sigma / f64::from(count);
        }
        let (mean, spread) = (sum / f64::from(count), (squares / f64::from(count)).sqrt());
        assert!(mean.abs() < 0.3 * spread, "{mean} {spread}");
        assert!((0.8..1.3).contains(&(spread / stated)), "scatters by {spread}, states {stated}");
    }

    #[test]
    fn what_no_course_goes_through() {
        assert!(best(&[]).is_none());
        let row = Passed { top: 0.1, bottom: 0.2, at: 1.0, right: false };
        assert!(best(&[row; 30]).is_none());
    }
}

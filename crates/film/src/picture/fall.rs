//! A fabric's fall: row by row, from the top, what was hidden comes into view. Let-go, sightline and floor are read off the course of all
//! rows, so that a fold or a hand in front of some of them changes little.

use super::Region;
use super::change::{Unseen, Wanted, search};
use super::series::{PER_ROW, ROWS, Still, place};

/// What a fall looks like. It is a proposal: a person looks at the frames and confirms it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fall {
    /// When the top edge starts to move, seconds of the film's clock.
    pub let_go: f64,
    /// When it passes the sightline, if the region says where that is.
    pub sightline: Option<f64>,
    /// When it is down.
    pub floor: f64,
    /// Let-go lies within this of it, either way, seconds: it is read off the course of all rows, because at first the edge hardly moves.
    pub within: f64,
    /// The time from let-go to the sightline lies within this of it.
    pub to_sightline_within: Option<f64>,
    /// The time from let-go to the floor lies within this of it.
    pub to_floor_within: f64,
    /// How much later the right side falls than the left, seconds.
    pub right_later: f64,
    /// The share of rows that were seen to pass, 0 to 1.
    pub trust: f64,
}

/// How much earlier and later than its land a fall is looked for, seconds.
pub const REACH: f64 = 1.5;
/// How many rows of both sides must be seen to pass.
const LEAST_ROWS: usize = 16;
/// At first the edge hardly moves: the top rows come into view over many frames and not from one to the next, which cannot be read well.
const FIRST: usize = ROWS / 16;
/// What is left open by packing a film in blocks of 8 or 16 points, seconds: found on films with known falls (tests/films.rs).
const PACKED: f64 = 0.004;
/// How far rows may lie off the course, seconds: a fall takes about a second, and a side may stick for long.
const NEAR: f64 = 0.15;

/// One row of one side.
struct Passed {
    /// Its middle, as a share of the height from the top.
    y: f64,
    /// The mean of the root of it: near the top the root changes much within a row.
    root: f64,
    at: f64,
    right: bool,
}

/// Finds a fall near `about` (the moment that the release lands on). `slow` is how many times slower the film plays
/// than it was filmed, `rolling` how long the camera takes from a frame's first row to its
/// last, seconds.
///
/// # Errors
/// [`Unseen`].
pub fn fall(stills: &[Still], about: f64, step: f64, slow: f64, rolling: f64, region: &Region) -> Result<Fall, Unseen> {
    let wanted = Wanted { lands: about, fade: 0.0, share: 0.0, reach: (REACH * slow, REACH * slow), step };
    let (from, to) = wanted.stretch();
    let covers = |s: &[Still]| s.first().zip(s.last()).is_some_and(|(a, b)| a.at < from + 0.2 && b.at > to - 0.2);
    if stills.len() < 20 || !covers(stills) {
        return Err(Unseen::NotFilmed);
    }
    let times: Vec<f64> = stills.iter().map(|s| s.at).collect();
    let mut passed = Vec::new();
    for row in FIRST..ROWS {
        for right in [false, true] {
            let first = row * PER_ROW + if right { 3 } else { 0 };
            let values: Vec<Vec<f64>> =
                stills.iter().map(|s| s.cells[first..first + 3].iter().map(|v| f64::from(*v)).collect()).collect();
            if let Ok(seen) = search(&times, &values, &wanted) {
                let (y, root) = place(region, row);
                passed.push(Passed { y, root, at: seen.at + rolling * (region.y + region.h * y), right });
            }
        }
    }
    if passed.len() < LEAST_ROWS {
        return Err(if passed.is_empty() { Unseen::Still } else { Unseen::Unsteady });
    }
    let mut course = Course::through(&passed.iter().collect::<Vec<_>>()).ok_or(Unseen::Unsteady)?;
    // Each side by itself, so that a side that sticks moves nothing.
    let mut near: Vec<&Passed> = passed.iter().collect();
    for _ in 0..6 {
        near = passed.iter().filter(|p| course.off(p).abs() < (NEAR * slow).max(2.0 * step)).collect();
        if near.len() < LEAST_ROWS {
            return Err(Unseen::Unsteady);
        }
        course = Course::through(&near).ok_or(Unseen::Unsteady)?;
    }
    if near.len() * 2 < passed.len() || course.at(1.0) < course.at(0.0) + 0.1 * slow {
        return Err(Unseen::Unsteady);
    }
    let squares: f64 = near.iter().map(|p| course.off(p).powi(2)).sum();
    let variance = squares / (near.len() as f64 - 4.0).max(1.0) + step * step / 12.0;
    // Rows that pass between the same two frames are off together: only so many say something of their own.
    let alone = ((course.at(1.0) - course.at(0.0)) / step).clamp(4.0, near.len() as f64);
    let error = |weights: [f64; 4]| {
        let square = course.spread(weights)? * variance * near.len() as f64 / alone;
        Some(step / 2.0 + 2.0 * square.sqrt() + PACKED)
    };
    let of = |share: f64| [0.0, share.sqrt(), share, 0.0];
    Ok(Fall {
        let_go: course.at(0.0),
        sightline: region.sightline.map(|share| course.at(share)),
        floor: course.at(1.0),
        within: error([1.0, 0.0, 0.0, 0.5]).ok_or(Unseen::Unsteady)?,
        to_sightline_within: region.sightline.and_then(|share| error(of(share))),
        to_floor_within: error(of(1.0)).ok_or(Unseen::Unsteady)?,
        right_later: course.right,
        trust: near.len() as f64 / (2 * (ROWS - FIRST)) as f64,
    })
}

/// `t = let_go + root · √y + slope · y`, and the right side later by so much: a fall from rest goes by the root of the way, and the air
/// slows it (check-values section 7).
struct Course {
    let_go: f64,
    root: f64,
    slope: f64,
    right: f64,
    /// What is known of its four figures: the inverse of the sums of squares, row by row.
    known: [[f64; 4]; 4],
}

impl Course {
    fn at(&self, y: f64) -> f64 {
        // The middle of both sides.
        self.let_go + self.root * y.sqrt() + self.slope * y + self.right / 2.0
    }

    fn off(&self, p: &Passed) -> f64 {
        p.at - (self.let_go + self.root * p.root + self.slope * p.y + if p.right { self.right } else { 0.0 })
    }

    /// By least squares.
    fn through(passed: &[&Passed]) -> Option<Course> {
        let both = passed.iter().any(|p| p.right) && passed.iter().any(|p| !p.right);
        let mut sums = [[0.0f64; 5]; 4];
        let origin = passed.first()?.at;
        for p in passed {
            let row = [1.0, p.root, p.y, if p.right && both { 1.0 } else { 0.0 }, p.at - origin];
            for (n, sum) in sums.iter_mut().enumerate() {
                for (to, value) in sum.iter_mut().zip(row) {
                    *to += row[n] * value;
                }
            }
        }
        if !both {
            sums[3][3] = 1.0;
        }
        let [let_go, root, slope, right] = solved(sums)?;
        let mut known = [[0.0; 4]; 4];
        for (n, row) in known.iter_mut().enumerate() {
            let mut one = sums;
            for (m, row) in one.iter_mut().enumerate() {
                row[4] = if n == m { 1.0 } else { 0.0 };
            }
            *row = solved(one)?;
        }
        Some(Course { let_go: let_go + origin, root, slope, right, known })
    }

    /// How many times the variance of a single row a sum of its figures has.
    fn spread(&self, weights: [f64; 4]) -> Option<f64> {
        let row = |n: usize| weights.iter().zip(self.known[n]).map(|(w, k)| w * k).sum::<f64>();
        let square: f64 = (0..4).map(|n| weights[n] * row(n)).sum();
        (square >= 0.0).then_some(square)
    }
}

/// Four equations with four unknowns, by Gauss with pivots.
fn solved(mut rows: [[f64; 5]; 4]) -> Option<[f64; 4]> {
    for column in 0..4 {
        let pivot = (column..4).max_by(|a, b| rows[*a][column].abs().total_cmp(&rows[*b][column].abs()))?;
        rows.swap(column, pivot);
        let lead = rows[column];
        if lead[column].abs() < 1e-9 {
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
    Some([0, 1, 2, 3].map(|n| rows[n][4] / rows[n][n]))
}

//! A fabric's fall: row by row, from the top, what was hidden comes into view. Let-go, sightline and floor are read off the course of all
//! rows, so that a fold or a hand in front of some of them changes little.

use super::change::{Seen, Unseen, Wanted, search};
use super::course::{Course, FIGURES, Passed};
use super::series::{PER_ROW, ROWS, Still, place};
use super::{HIGH, Region};

/// What a fall looks like. It is a proposal: a person looks at the frames and confirms it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fall {
    /// When the top edge starts to move, seconds of the film's clock.
    pub let_go: f64,
    /// When it passes the sightline, if the region says where that is.
    pub sightline: Option<f64>,
    /// When it is down.
    pub floor: f64,
    /// Let-go lies within this of it, either way, seconds. It is read off the course of all rows, because at first the edge hardly moves, and
    /// with it where the edge begins, because a hand draws that some percent off.
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
/// What is left open by packing a film in blocks of 8 or 16 points, seconds: found on films with known falls (tests/films.rs).
const PACKED: f64 = 0.004;
/// How much of the time that a steady edge would take through one point of the picture let-go may be off. Found on falls of every drag, height
/// and shutter: of 120 then 119 lie within what is stated; of cloths that fall no faster than about 3 m/s, 35 of 40.
const OF_A_POINT: f64 = 0.75;
/// How far rows may lie off the course, seconds: a fall takes about a second, and a side may stick for long.
const NEAR: f64 = 0.15;
/// Rows that change less than this share of what is usual are left out.
const LEAST_OF_USUAL: f64 = 0.25;
/// From how many frames before and after a change its two levels are taken.
const LEVELS: usize = 4;
/// The longest that an edge takes through one row, seconds.
const LONGEST: f64 = 0.3;

/// One row of one side, as it was found.
struct Row {
    passed: Passed,
    /// Where it changes most, seconds of the film's clock.
    found: f64,
    /// How large its change is, levels of 255.
    size: f64,
    /// How much later than its first row the camera reads it, seconds.
    late: f64,
    /// Its colours, frame by frame.
    values: Vec<Vec<f64>>,
}

/// Finds a fall near `about` (the moment that the release lands on). `slow` is how many times slower the film plays
/// than it was filmed, `rolling` how long the camera takes from a frame's first row to its last, seconds of the film's clock.
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
    let rows = rows(stills, &times, &wanted, rolling, region);
    if rows.len() < LEAST_ROWS {
        return Err(if rows.is_empty() { Unseen::Still } else { Unseen::Unsteady });
    }
    let mut passed: Vec<Passed> = rows.iter().map(|row| row.passed).collect();
    let rows_of_both = 2 * places(region).len();
    let (mut course, mut near) = settled(&passed, slow, step)?;
    // First where each row changes most, then the middle of its whole change, which takes the longer the nearer the top it is.
    for _ in 0..2 {
        for (row, passed) in rows.iter().zip(&mut passed) {
            let around = 1.1 * course.through_row(passed).clamp(0.0, LONGEST * slow) + 2.0 * step;
            if let Some(middle) = middle(&times, &row.values, row.found, around) {
                passed.at = middle + row.late;
            }
        }
        (course, near) = settled(&passed, slow, step)?;
    }
    if near.len() * 2 < passed.len() || course.at(1.0) < course.begins() + 0.1 * slow {
        return Err(Unseen::Unsteady);
    }
    let variance = variance(&course, &near);
    // Half a frame, because nobody knows when within a frame's time a camera looks.
    // Every moment is counted from let-go, and that is no better known than points of the picture are fine.
    let point = OF_A_POINT * course.whole / (HIGH as f64 * region.h);
    let error = |spread: Option<f64>, drawn: f64| {
        Some(step / 2.0 + 2.0 * (spread? * variance + drawn * drawn).sqrt() + PACKED + point)
    };
    Ok(Fall {
        let_go: course.begins(),
        sightline: region.sightline.map(|share| course.at(share)),
        floor: course.at(1.0),
        within: error(course.spread_of_let_go(&near), 0.0).ok_or(Unseen::Unsteady)?,
        to_sightline_within: region
            .sightline
            .and_then(|share| error(course.spread_to(&near, share), course.drawn(share))),
        to_floor_within: error(course.spread_to(&near, 1.0), course.drawn(1.0)).ok_or(Unseen::Unsteady)?,
        right_later: course.right,
        trust: near.len() as f64 / rows_of_both as f64,
    })
}

/// Every row with its upper and lower edge. Those of a small region that have the same points are one.
fn places(region: &Region) -> Vec<(usize, (f64, f64))> {
    let mut places: Vec<(usize, (f64, f64))> = (0..ROWS).map(|row| (row, place(region, row))).collect();
    places.dedup_by(|row, before| row.1 == before.1);
    places
}

/// The rows of both sides that are seen to pass.
fn rows(stills: &[Still], times: &[f64], wanted: &Wanted, rolling: f64, region: &Region) -> Vec<Row> {
    let mut rows = Vec::new();
    for (row, (top, bottom)) in places(region) {
        let late = rolling * (region.y + region.h * f64::midpoint(top, bottom));
        for right in [false, true] {
            let first = row * PER_ROW + if right { 3 } else { 0 };
            let colours = |s: &Still| s.cells[first..first + 3].iter().map(|v| f64::from(*v)).collect();
            let values: Vec<Vec<f64>> = stills.iter().map(colours).collect();
            if let Ok(Seen { at, size, .. }) = search(times, &values, wanted) {
                rows.push(Row { passed: Passed { top, bottom, at: at + late, right }, found: at, size, late, values });
            }
        }
    }
    // Beside the fabric a row changes little, from what spills over or from packing, and its moment says nothing.
    let mut sizes: Vec<f64> = rows.iter().map(|row| row.size).collect();
    sizes.sort_by(f64::total_cmp);
    let usual = sizes.get(sizes.len() / 2).copied().unwrap_or(0.0);
    rows.retain(|row| row.size > LEAST_OF_USUAL * usual);
    rows
}

/// The course through the rows that lie near it, and those rows. At first what is far off would bend it, so it is only shifted and stretched.
fn settled(passed: &[Passed], slow: f64, step: f64) -> Result<(Course, Vec<Passed>), Unseen> {
    let mut near = passed.to_vec();
    let mut course = Course::straight(&near).ok_or(Unseen::Unsteady)?;
    for pass in 0..8 {
        let mut off: Vec<f64> = near.iter().map(|p| course.off(p).abs()).collect();
        off.sort_by(f64::total_cmp);
        // Four times what is usual, as the median tells it: a hand, a fold or a side that sticks moves nothing.
        let usual = 1.48 * off.get(off.len() / 2).copied().unwrap_or(0.0);
        let most = (4.0 * usual).clamp(step / 2.0 + PACKED, (NEAR * slow).max(2.0 * step));
        near = passed.iter().filter(|p| course.off(p).abs() < most).copied().collect();
        if near.len() < LEAST_ROWS {
            return Err(Unseen::Unsteady);
        }
        let noise = noise(&course, &near, step);
        let next = match pass {
            0..3 => Course::straight(&near),
            3..7 => course.again(&near, noise),
            _ => course.through(&near, noise),
        };
        course = next.ok_or(Unseen::Unsteady)?;
    }
    Ok((course, near))
}

/// By how much a row lies off its course, as a square.
fn variance(course: &Course, near: &[Passed]) -> f64 {
    let squares: f64 = near.iter().map(|p| course.off(p).powi(2)).sum();
    squares / (near.len() as f64 - FIGURES as f64).max(1.0)
}

/// The same where rows that pass between the same two frames are off together, as in a film that shakes.
fn noise(course: &Course, near: &[Passed], step: f64) -> f64 {
    let frames = ((course.at(1.0) - course.begins()) / step).clamp(4.0, near.len() as f64);
    variance(course, near) * near.len() as f64 / frames
}

/// The middle of a row's whole change, seconds: what is hidden of it, added up over time. A step between two frames lies in their middle,
/// and a row that comes into view by and by where its mean point does. `None` where the film shows too little around it.
fn middle(times: &[f64], values: &[Vec<f64>], found: f64, around: f64) -> Option<f64> {
    let (begins, ends) =
        (times.partition_point(|t| *t < found - around), times.partition_point(|t| *t <= found + around));
    let (from, to) = (begins.checked_sub(LEVELS)?, ends + LEVELS);
    let mean = |frames: &[Vec<f64>]| -> Vec<f64> {
        let mut sum = vec![0.0; frames[0].len()];
        for frame in frames {
            sum.iter_mut().zip(frame).for_each(|(sum, value)| *sum += value / frames.len() as f64);
        }
        sum
    };
    let (before, after) = (mean(values.get(from..begins)?), mean(values.get(ends..to)?));
    let change: Vec<f64> = after.iter().zip(&before).map(|(a, b)| a - b).collect();
    let square: f64 = change.iter().map(|c| c * c).sum();
    if square < 1.0 {
        return None;
    }
    let hidden = |n: usize| {
        let along: f64 = values[n].iter().zip(&before).zip(&change).map(|((v, b), c)| (v - b) * c).sum();
        1.0 - along / square
    };
    let mut at = times[begins - 1];
    for n in begins..=ends {
        at += (times[n] - times[n - 1]) * f64::midpoint(hidden(n - 1), hidden(n));
    }
    Some(at)
}

//! What is kept of a film: for each region and frame near a cue, the mean colour of its rows, left half and right half apart.

use super::{Frame, HIGH, Region, WIDE};
use letfall_core::time::round;
use std::ops::Range;

/// How many rows a region is divided into.
pub const ROWS: usize = 48;
/// Values of a row: red, green and blue of its left half, then of its right half.
pub const PER_ROW: usize = 6;

/// A region in one frame.
pub type Cells = Vec<f32>;

/// One frame as a region has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Still {
    /// The frame's stamp, seconds of the film's clock.
    pub at: f64,
    /// Six values for each of 48 rows, 0 to 255: red, green and blue of its left half, then of its right half.
    pub cells: Cells,
}

/// Keeps what is wanted of the frames that pass.
#[derive(Debug)]
pub struct Recorder {
    regions: Vec<Region>,
    /// Stretches of the film's clock that are kept, in order and apart from each other.
    stretches: Vec<(f64, f64)>,
    kept: Vec<Vec<Still>>,
    /// Stamps of the last frames, for the time from one to the next.
    last: Option<f64>,
    steps: Vec<f64>,
}

impl Recorder {
    /// For these regions, within these stretches of the film's clock, seconds.
    pub fn new(regions: &[Region], mut stretches: Vec<(f64, f64)>) -> Recorder {
        stretches.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut joined: Vec<(f64, f64)> = Vec::new();
        for (from, to) in stretches {
            match joined.last_mut() {
                Some(last) if from <= last.1 => last.1 = last.1.max(to),
                _ => joined.push((from, to)),
            }
        }
        let kept = vec![Vec::new(); regions.len()];
        Recorder { regions: regions.to_vec(), stretches: joined, kept, last: None, steps: Vec::new() }
    }

    /// The end of the last stretch, seconds: later frames are not needed.
    pub fn ends(&self) -> f64 {
        self.stretches.last().map_or(0.0, |s| s.1)
    }

    /// Takes a frame.
    pub fn take(&mut self, frame: Frame<'_>) {
        if let Some(last) = self.last
            && self.steps.len() < 20_000
        {
            self.steps.push(frame.at - last);
        }
        self.last = Some(frame.at);
        let next = self.stretches.partition_point(|(_, to)| *to < frame.at);
        if self.stretches.get(next).is_none_or(|(from, _)| frame.at < *from) {
            return;
        }
        for (region, kept) in self.regions.iter().zip(&mut self.kept) {
            kept.push(Still { at: frame.at, cells: cells(region, frame.rgb) });
        }
    }

    /// The frames of a region between two times.
    pub fn stills(&self, region: usize, from: f64, to: f64) -> &[Still] {
        let all = &self.kept[region];
        let (from, to) = (all.partition_point(|s| s.at < from), all.partition_point(|s| s.at <= to));
        &all[from..to.max(from)]
    }

    /// The usual time from one frame to the next, seconds: the median. `None` for fewer than two frames.
    pub fn step(&self) -> Option<f64> {
        let mut steps = self.steps.clone();
        steps.sort_by(f64::total_cmp);
        steps.get(steps.len() / 2).copied()
    }
}

/// The points of a frame, from and to, that make a row of a region. Rows may be finer than points; then neighbours share one.
fn points(region: &Region, row: usize) -> (usize, usize) {
    let edge = |row: usize| region.y + region.h * row as f64 / ROWS as f64;
    let top = point(edge(row), HIGH).min(HIGH - 1);
    (top, point(edge(row + 1), HIGH).clamp(top + 1, HIGH))
}

fn point(share: f64, of: usize) -> usize {
    (round::nearest(share * of as f64) as usize).min(of)
}

/// Where a row's points really begin and end, as shares of the region's height from its top.
pub fn place(region: &Region, row: usize) -> (f64, f64) {
    let (top, bottom) = points(region, row);
    let share = |y: usize| ((y as f64 / HIGH as f64 - region.y) / region.h).max(0.0);
    (share(top), share(bottom))
}

/// The mean colours of a region.
fn cells(region: &Region, rgb: &[u8]) -> Cells {
    let (left, right) = (point(region.x, WIDE), point(region.x + region.w, WIDE));
    let middle = usize::midpoint(left, right);
    let halves = [left..middle.max(left + 1).min(WIDE), middle..right.max(middle + 1).min(WIDE)];
    let rows = (0..ROWS).map(|row| points(region, row));
    rows.flat_map(|(top, bottom)| halves.clone().map(|across| mean_colour(rgb, across, top..bottom)))
        .flatten()
        .collect()
}

/// The mean red, green and blue of a rectangle of a frame.
pub fn mean_colour(rgb: &[u8], across: Range<usize>, down: Range<usize>) -> [f32; 3] {
    let mut sums = [0u32; 3];
    for y in down.clone() {
        for point in rgb[(y * WIDE + across.start) * 3..(y * WIDE + across.end) * 3].chunks_exact(3) {
            sums.iter_mut().zip(point).for_each(|(sum, value)| *sum += u32::from(*value));
        }
    }
    let count = (down.len() * across.len()).max(1) as f32;
    sums.map(|sum| sum as f32 / count)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn region() -> Region {
        Region { name: "a".into(), x: 0.25, y: 0.5, w: 0.5, h: 0.5, shows: vec!["x".into()], sightline: None }
    }

    #[test]
    fn a_region_has_the_colours_of_its_own_points() {
        // Black but for the region, whose left half is red and whose lowest quarter is blue.
        let mut rgb = vec![0u8; WIDE * HIGH * 3];
        for y in HIGH / 2..HIGH {
            for x in WIDE / 4..WIDE * 3 / 4 {
                let low = y >= HIGH * 7 / 8;
                let colour = if low {
                    [0, 0, 200]
                } else if x < WIDE / 2 {
                    [200, 0, 0]
                } else {
                    [0, 100, 0]
                };
                rgb[(y * WIDE + x) * 3..][..3].copy_from_slice(&colour);
            }
        }
        let cells = cells(&region(), &rgb);
        assert_eq!(cells.len(), ROWS * PER_ROW);
        assert_eq!(cells[..6], [200.0, 0.0, 0.0, 0.0, 100.0, 0.0]);
        assert_eq!(cells[35 * 6..36 * 6], [200.0, 0.0, 0.0, 0.0, 100.0, 0.0]);
        assert_eq!(cells[36 * 6..37 * 6], [0.0, 0.0, 200.0, 0.0, 0.0, 200.0]);
        assert_eq!(cells[47 * 6..], [0.0, 0.0, 200.0, 0.0, 0.0, 200.0]);
    }

    #[test]
    fn only_what_is_wanted_is_kept() {
        let rgb = vec![7u8; WIDE * HIGH * 3];
        let mut recorder = Recorder::new(&[region()], vec![(3.0, 4.0), (1.0, 2.0), (1.5, 2.5)]);
        assert_eq!(recorder.ends().to_bits(), 4.0f64.to_bits());
        for n in 0..100 {
            recorder.take(Frame { at: f64::from(n) * 0.05, rgb: &rgb });
        }
        let at = |from: f64, to: f64| recorder.stills(0, from, to).iter().map(|s| s.at).collect::<Vec<_>>();
        let all = at(0.0, 9.0);
        assert!(all.iter().all(|at| (1.0..=2.5).contains(at) || (3.0..=4.0).contains(at)));
        assert_eq!(all.len(), 31 + 21);
        assert_eq!(at(2.6, 2.9), [0.0f64; 0]);
        assert!(recorder.step().is_some_and(|step| (step - 0.05).abs() < 1e-9));
    }
}

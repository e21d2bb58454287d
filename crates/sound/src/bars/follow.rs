//! Carries beats from a bar that the user gave along the beats that were heard. This is for music that people count differently
//! from how it sounds: on the off-beats, or three where it sounds like two. What was heard tells how the tempo changes; the
//! given bar tells which row of beats to follow.

use super::gaps::middle_gap;
use super::given::GivenBar;

/// How many heard beats may make up one counted beat, as ratios of small numbers.
const RATIOS: [(u8, u8); 11] = [(1, 1), (1, 2), (2, 1), (2, 3), (3, 2), (3, 4), (4, 3), (1, 3), (3, 1), (1, 4), (4, 1)];
/// How far off such a ratio the given bar may be.
const NEAR: f64 = 0.06;
/// A counted beat may begin at a half or third of a heard beat, if it is this close to it.
const PARTS: [f64; 2] = [2.0, 3.0];
const NEAR_PART: f64 = 0.09;
/// How unsteady the heard row may be around the given bar. If it wavers more, it cannot tell where the bar lies in it.
const EVEN: f64 = 0.15;
/// A row is preferred to another only if it is steadier by at least this much.
const STEADIER: f64 = 0.08;
/// How much two neighbouring intervals can differ, in seconds, without anybody noticing; our own figure.
const FREE: f64 = 0.012;

/// Converts times to places in a row of beats and back. Before the first beat and after the last, it continues evenly.
struct Places<'a>(&'a [f64]);

impl Places<'_> {
    /// The median interval near one end.
    fn usual(&self, at_end: bool) -> f64 {
        let near = if at_end { &self.0[self.0.len().saturating_sub(9)..] } else { &self.0[..self.0.len().min(9)] };
        middle_gap(near).unwrap_or(1.0)
    }

    fn of(&self, secs: f64) -> f64 {
        let (first, last) = (self.0[0], self.0[self.0.len() - 1]);
        if secs < first {
            return (secs - first) / self.usual(false);
        }
        if secs >= last {
            return (self.0.len() - 1) as f64 + (secs - last) / self.usual(true);
        }
        let at = self.0.partition_point(|t| *t <= secs) - 1;
        at as f64 + (secs - self.0[at]) / (self.0[at + 1] - self.0[at])
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // between the first and the last
    fn at(&self, place: f64) -> f64 {
        let last = self.0.len() - 1;
        if place < 0.0 {
            return self.0[0] + place * self.usual(false);
        }
        if place >= last as f64 {
            return self.0[last] + (place - last as f64) * self.usual(true);
        }
        let at = place as usize;
        self.0[at] + (place - at as f64) * (self.0[at + 1] - self.0[at])
    }
}

/// The beats of the given bar, carried along a heard row from `music.0` to `music.1` in seconds; `None` if the bar is in no
/// simple ratio to the row.
pub fn follow(heard: &[f64], bar: GivenBar, count: u8, music: (f64, f64)) -> Option<Vec<f64>> {
    let length = bar.length()?;
    if heard.len() < 8 || count == 0 {
        return None;
    }
    let about: Vec<f64> =
        heard.iter().copied().filter(|t| *t > bar.from - length * 1.5 && *t < bar.to + 4.0 * length).collect();
    if unsteady(&about) > EVEN {
        return None;
    }
    let places = Places(heard);
    // Continue from the bar's end, because its first beat may have been held longer.
    let begin = places.of(bar.to);
    let each = (begin - places.of(bar.from)) / f64::from(count);
    let ratio = RATIOS.iter().map(|(a, b)| f64::from(*a) / f64::from(*b)).find(|r| (each / r - 1.0).abs() < NEAR)?;
    let part = PARTS.iter().map(|p| libm::round(begin * p) / p).find(|p| (begin - p).abs() < NEAR_PART);
    let begin = part.unwrap_or(begin);
    let first = libm::ceil((places.of(music.0) - NEAR_PART - begin) / ratio);
    let last = libm::floor((places.of(music.1) + NEAR_PART - begin) / ratio);
    let mut out = Vec::new();
    let mut n = first;
    while n <= last && out.len() < 1_000_000 {
        out.push(places.at(begin + n * ratio));
        n += 1.0;
    }
    // A file may be cut just before its first beat.
    let close = NEAR_PART * length / f64::from(count);
    Some(out.into_iter().filter(|t| *t > -close).map(|t| t.max(0.0)).collect())
}

/// Whether a row is clearly steadier than another.
pub fn steadier(row: &[f64], than: &[f64]) -> bool {
    unsteady(row) + STEADIER < unsteady(than)
}

/// How much a row's tempo varies in all: the sum of the relative changes from each interval to the next.
fn unsteady(row: &[f64]) -> f64 {
    let gaps: Vec<f64> = row.windows(2).map(|w| w[1] - w[0]).collect();
    gaps.windows(2).map(|g| (((g[1] - g[0]).abs() - FREE).max(0.0) / g[0].max(1e-3)).min(0.5)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn even(from: f64, each: f64, count: u32) -> Vec<f64> {
        (0..count).map(|k| from + each * f64::from(k)).collect()
    }

    fn bar(from: f64, to: f64) -> GivenBar {
        GivenBar { from, to, beats: None }
    }

    fn near(a: &[f64], b: &[f64]) -> bool {
        a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-9)
    }

    #[test]
    fn off_beats_are_counted_halfway() {
        let found = follow(&even(1.0, 0.5, 40), bar(3.25, 5.25), 4, (1.0, 20.5)).unwrap();
        assert!(near(&found, &even(1.25, 0.5, 39)), "{found:?}");
    }

    #[test]
    fn three_go_where_two_are_heard_and_a_downbeat_a_little_off_is_put_right() {
        let found = follow(&even(0.92, 0.9, 30), bar(3.65, 5.40), 3, (0.92, 27.02)).unwrap();
        assert!(near(&found, &even(1.22, 0.6, 44)), "{found:?}");
    }

    #[test]
    fn what_slows_is_gone_along_with() {
        let mut heard = vec![0.0];
        (0..60).for_each(|k| heard.push(heard[heard.len() - 1] + 0.5 + 0.005 * f64::from(k)));
        let found = follow(&heard, bar(heard[2], heard[4]), 4, (0.0, heard[60])).unwrap();
        // Twice as many beats as were heard, so every second one falls on a heard beat.
        assert!(near(&found.iter().copied().step_by(2).collect::<Vec<f64>>(), &heard), "{found:?}");
    }

    #[test]
    fn a_held_first_beat_moves_nothing_after_it() {
        let found = follow(&even(2.0, 0.5, 40), bar(-0.1, 2.0), 4, (0.0, 21.5)).unwrap();
        assert!(found.iter().any(|t| (t - 2.0).abs() < 1e-9), "{found:?}");
    }

    #[test]
    fn no_simple_ratio_and_no_even_row_tell_nothing() {
        let heard = even(0.0, 0.5, 40);
        assert_eq!(follow(&heard, bar(1.0, 2.73), 4, (0.0, 19.5)), None);
        assert_eq!(follow(&heard[..6], bar(1.0, 3.0), 4, (0.0, 19.5)), None);
        for (from, to) in [(f64::NAN, 3.0), (1.0, f64::NAN), (1.0, f64::INFINITY), (3.0, 1.0)] {
            assert_eq!(follow(&heard, bar(from, to), 4, (0.0, 19.5)), None);
        }
        let wavers: Vec<f64> = (0..40u32).map(|k| 0.5 * f64::from(k) + if k % 2 == 0 { 0.0 } else { 0.08 }).collect();
        assert_eq!(follow(&wavers, bar(1.0, 3.0), 4, (0.0, 19.5)), None);
    }

    #[test]
    fn the_steadier_of_two_rows() {
        let (calm, mut slips) = (even(0.0, 0.5, 40), even(0.0, 0.5, 40));
        (8..12usize).for_each(|k| slips[k] -= 0.05 * (k - 7) as f64);
        slips[12..].iter_mut().for_each(|t| *t -= 0.25);
        assert!(steadier(&calm, &slips) && !steadier(&slips, &calm) && !steadier(&calm, &calm));
    }
}

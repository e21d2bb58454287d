//! The straight line that most stretches agree on: one clock against another.

use super::phase::Heard;
use crate::sound::RATE;

/// The most by which two clocks differ, as a share: telephones and sound cards stay within a third of this (common practice, no source).
pub const MOST_DRIFT: f64 = 300e-6;
/// Stretches that lie this close to the line agree with it, in samples: 1 ms.
pub const AGREES: f64 = RATE as f64 / 1000.0;

/// `place = offset + drift · at`, all in samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    pub offset: f64,
    pub drift: f64,
}

impl Line {
    pub fn at(&self, at: f64) -> f64 {
        self.offset + self.drift * at
    }

    pub fn agrees(&self, heard: &Heard) -> bool {
        (heard.place - self.at(heard.at)).abs() <= AGREES
    }
}

/// The line that most stretches agree on, each counted by how clear it is. `None` for fewer than two.
pub fn line(heard: &[Heard]) -> Option<Line> {
    let (first, last) = (heard.first()?.at, heard.last()?.at);
    let middle = f64::midpoint(first, last);
    let half = (last - first).max(1.0) / 2.0;
    // So many slopes that at either end they lie half a millisecond apart.
    let slopes = (MOST_DRIFT * half / (AGREES / 2.0)).ceil() as i64;
    let mut best: Option<(f64, Line)> = None;
    for slope in -slopes..=slopes {
        let drift = if slopes == 0 { 0.0 } else { MOST_DRIFT * slope as f64 / slopes as f64 };
        let mut places: Vec<(f64, f64)> =
            heard.iter().map(|h| (h.place - drift * (h.at - middle), weight(h))).collect();
        places.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        // The two milliseconds in which most of them lie.
        let (mut sum, mut from) = (0.0, 0);
        for to in 0..places.len() {
            sum += places[to].1;
            while places[to].0 - places[from].0 > 2.0 * AGREES {
                sum -= places[from].1;
                from += 1;
            }
            if best.is_none_or(|(most, _)| sum > most) {
                let offset = f64::midpoint(places[from].0, places[to].0) - drift * middle;
                best = Some((sum, Line { offset, drift }));
            }
        }
    }
    let mut line = best?.1;
    for _ in 0..4 {
        line = refined(line, heard);
    }
    (heard.len() > 1).then_some(line)
}

fn weight(heard: &Heard) -> f64 {
    f64::from((heard.clear - 1.0).clamp(0.05, 1.0))
}

/// Least squares over what agrees.
fn refined(line: Line, heard: &[Heard]) -> Line {
    let (mut n, mut x, mut y, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let origin = heard.first().map_or(0.0, |h| h.at);
    for one in heard.iter().filter(|h| line.agrees(h)) {
        let (w, at, place) = (weight(one), one.at - origin, one.place);
        n += w;
        x += w * at;
        y += w * place;
        xx += w * at * at;
        xy += w * at * place;
    }
    let spread = n * xx - x * x;
    if n <= 0.0 {
        return line;
    }
    let drift = if spread > 1.0 { ((n * xy - x * y) / spread).clamp(-MOST_DRIFT, MOST_DRIFT) } else { 0.0 };
    Line { offset: (y - drift * x) / n - drift * origin, drift }
}

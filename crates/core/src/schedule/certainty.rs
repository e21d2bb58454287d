//! How surely a cue lands on time: its ± term by term, the chance that it is within tolerance, and what would improve it.

use super::Row;
use crate::reveal::fall_time;
use crate::show::{Action, Cue, Instant, Show};
use crate::time::SongSpan;
use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Where spread comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Term {
    /// The receiver's latency.
    Receiver,
    /// Contact, coil and pin of a release.
    Contact,
    /// The fall, from measured drops.
    FallMeasured,
    /// The fall, from the model alone.
    FallModel,
}

impl Term {
    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Term::Receiver => "the receiver's latency",
            Term::Contact => "contact and coil",
            Term::FallMeasured => "the fall, as measured",
            Term::FallModel => "the fall, by model alone",
        }
    }

    /// What makes it smaller.
    pub const fn remedy(self) -> &'static str {
        match self {
            Term::Receiver => {
                "measure its latency again, ten times, on the link and load of the show; a steadier link helps most"
            }
            Term::Contact => {
                "time contact to let-go ten times with the units loaded; look for a slow relay or a dry pin"
            }
            Term::FallMeasured => {
                "time more drops; hang and fold the fabric the same way each time, and keep draughts off"
            }
            Term::FallModel => "time three or more drops of the real fabric and enter them",
        }
    }
}

/// How surely a cue lands on time.
#[derive(Debug, Clone, PartialEq)]
pub struct Certainty {
    /// Each term that is not zero, as one standard deviation in seconds.
    pub terms: Vec<(Term, f64)>,
    /// The chance, 0 to 1, that it lands within the show's tolerance.
    pub chance: f64,
}

impl Certainty {
    /// The chance in words. It is an estimate and nothing is ever certain, so it never claims more than "over 99.9 %".
    pub fn chance_words(&self) -> String {
        let tenths = libm::floor(self.chance * 1000.0);
        if tenths >= 1000.0 || self.chance > 0.999 {
            return "over 99.9 %".to_owned();
        }
        format!("{:.1} %", tenths / 10.0)
    }

    /// The term that makes up most of the spread, and its share of the variance, 0 to 1.
    pub fn dominating(&self) -> Option<(Term, f64)> {
        let all: f64 = self.terms.iter().map(|t| t.1 * t.1).sum();
        let most = self.terms.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
        Some((most.0, most.1 * most.1 / all))
    }
}

/// The share of a normal distribution below `z` standard deviations.
fn below(z: f64) -> f64 {
    0.5 * libm::erfc(-z * FRAC_1_SQRT_2)
}

/// The integral of [`below`] up to `z`: z Φ(z) + φ(z).
fn below_integral(z: f64) -> f64 {
    z * below(z) + libm::exp(-0.5 * z * z) / libm::sqrt(2.0 * PI)
}

/// The chance that a deviation lies between `-early` and `late` seconds. The deviation is the sum of a normal term with
/// standard deviation `sigma` and a uniform term between `range.0` and `range.1`.
fn chance(sigma: f64, range: (f64, f64), early: f64, late: f64) -> f64 {
    let (a, b) = range;
    let up_to = |x: f64| {
        let inside = |u: f64| if x - u >= 0.0 { 1.0 } else { 0.0 };
        match (b - a > 1e-9, sigma > 1e-9) {
            (false, false) => inside(a),
            (false, true) => below((x - a) / sigma),
            (true, false) => ((x - a) / (b - a)).clamp(0.0, 1.0),
            (true, true) => sigma * (below_integral((x - a) / sigma) - below_integral((x - b) / sigma)) / (b - a),
        }
    };
    (up_to(late) - up_to(-early - f64::EPSILON)).clamp(0.0, 1.0)
}

/// Works out how surely a cue lands on time. Latencies and measured drops are taken as normally distributed. For a fall known
/// only from the model we claim no more than its bounds, so it is taken as uniform between them.
pub fn certainty(show: &Show, cue: &Cue, row: &Row) -> Certainty {
    let mut terms = Vec::new();
    let mut add = |term, secs: f64| {
        if secs > 0.0 {
            terms.push((term, secs));
        }
    };
    if let Some(receiver) = row.receiver.and_then(|at| show.receivers.get(at as usize)) {
        add(Term::Receiver, receiver.latency.spread.secs_f64());
    }
    let mut range = (0.0, 0.0);
    if let Action::Release { release, lands } = &cue.does
        && let Some(release) = show.release(release)
    {
        add(Term::Contact, release.contact.spread.secs_f64());
        let hang = show.hang(&release.hang).filter(|_| *lands != Instant::LetGo);
        if let Some(fall) = hang.map(|h| fall_time(h, *lands)) {
            if fall.drops > 0 {
                // The range of measured drops is two standard deviations either way. Use the late side; the lower bound may cut
                // the early one.
                add(Term::FallMeasured, (fall.latest - fall.expected) / 2.0);
            } else {
                range = (fall.earliest - fall.expected, fall.latest - fall.expected);
                add(Term::FallModel, (range.1 - range.0) / libm::sqrt(12.0));
            }
        }
    }
    let normal = terms.iter().filter(|t| t.0 != Term::FallModel).map(|t| t.1 * t.1).sum::<f64>();
    let secs = |span: SongSpan| span.secs_f64();
    let chance = chance(libm::sqrt(normal), range, secs(show.settings.early), secs(show.settings.late));
    Certainty { terms, chance }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NBS Applied Mathematics Series 55, table 26.1 (figures from memory): P(0) = 0.5, P(1) = 0.841344746,
    /// P(1.96) = 0.975002105, P(2) = 0.977249868, P(3) = 0.998650102.
    #[test]
    fn normal_table() {
        for (z, p) in
            [(0.0, 0.5), (1.0, 0.841_344_746), (1.96, 0.975_002_105), (2.0, 0.977_249_868), (3.0, 0.998_650_102)]
        {
            assert!((below(z) - p).abs() < 5e-10, "{z}");
            assert!((below(-z) - (1.0 - p)).abs() < 5e-10, "{z}");
        }
    }

    #[test]
    fn chances_that_can_be_worked_out_by_hand() {
        let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-6, "{a} is not {b}");
        // No spread: it always lands.
        near(chance(0.0, (0.0, 0.0), 0.1, 0.1), 1.0);
        // One deviation either way: 68.27 %.
        near(chance(0.05, (0.0, 0.0), 0.05, 0.05), 0.682_689_492);
        // Anywhere from 0.1 s early to 0.3 s late; from 0.1 early to 0.1 late is half of it.
        near(chance(0.0, (-0.1, 0.3), 0.1, 0.1), 0.5);
        // The range is wide compared with the normal spread, so the result is the same to three figures.
        assert!((chance(0.000_1, (-0.1, 0.3), 0.05, 0.1) - 0.375).abs() < 1e-3);
        // A uniform and a normal added, by a sum over 200 000 slices.
        let slices = 200_000;
        let sum: f64 = (0..slices)
            .map(|n| {
                let u = -0.08 + 0.2 * (f64::from(n) + 0.5) / f64::from(slices);
                below((0.045 - u) / 0.03) - below((-0.125 - u) / 0.03)
            })
            .sum();
        near(chance(0.03, (-0.08, 0.12), 0.125, 0.045), sum / f64::from(slices));
    }
}

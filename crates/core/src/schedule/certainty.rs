//! How surely a cue lands on time: its ± term by term, the chance that it is within tolerance, and what would improve it.

use super::Row;
use super::build::{of_latency, of_person};
use super::terms::{assumed, assumption_words, lead_terms};
use crate::reveal::{Uncertainty, chance_within, fall_time};
use crate::show::{Action, Cue, Goes, Show};

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
    /// The hand of an operator who presses on the word.
    Person,
    /// Delays that nobody has stated, so that a range is assumed.
    Assumed,
}

impl Term {
    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Term::Receiver => "the receiver's latency",
            Term::Contact => "contact and coil",
            Term::FallMeasured => "the fall, as measured",
            Term::FallModel => "the fall, by model alone",
            Term::Person => "the operator's hand",
            Term::Assumed => "what is only assumed",
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
            Term::Person => "leave the cue to the machine if it must be on the beat",
            Term::Assumed => "try what is assumed and enter it",
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
    /// What was assumed, as a sentence such as "2 of 5 delays measured; assumed: contact 5 to 20 ms". Empty if nothing was.
    pub assumed: String,
}

impl Certainty {
    /// The chance in words, rounded down to whole percents. It is an estimate and nothing is ever certain, so it never claims more
    /// than "over 99 %" (JCGM 100 G.1.2).
    pub fn chance_words(&self) -> String {
        if self.chance > 0.99 {
            return "over 99 %".to_owned();
        }
        let percent = libm::floor(self.chance * 100.0 + 1e-9);
        if percent < 1.0 { "under 1 %".to_owned() } else { format!("{percent:.0} %") }
    }

    /// The chance as programs read it: rounded down to hundredths, and never more than 0.99.
    pub fn at_least(&self) -> f64 {
        (libm::floor(self.chance * 100.0 + 1e-9) / 100.0).min(0.99)
    }

    /// The term that makes up most of the spread, and its share of the variance, 0 to 1.
    pub fn dominating(&self) -> Option<(Term, f64)> {
        let all: f64 = self.terms.iter().map(|t| t.1 * t.1).sum();
        let most = self.terms.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
        Some((most.0, most.1 * most.1 / all))
    }
}

/// Works out how surely a cue lands on time. What was measured or stated has a t distribution with the degrees of freedom that Welch
/// and Satterthwaite give. For what is known of a fall only from the model we claim no more than its bounds, so it is taken as
/// anywhere between them with equal chance.
pub fn certainty(show: &Show, cue: &Cue, row: &Row) -> Certainty {
    certainty_moved(show, cue, row, 0.0)
}

/// The same for somebody who perceives it `later` seconds after the planned land (negative for sooner).
pub(super) fn certainty_moved(show: &Show, cue: &Cue, row: &Row, later: f64) -> Certainty {
    let mut parts = Vec::new();
    let mut add = |term, part: Uncertainty| {
        if part.standard > 0.0 {
            parts.push((term, part));
        }
    };
    if let Some(receiver) = row.receiver.and_then(|at| show.receivers.get(at as usize)) {
        add(Term::Receiver, of_latency(receiver.latency));
    }
    if row.goes == Goes::Operator {
        add(Term::Person, of_person(show));
    }
    let lead_terms = lead_terms(show, &cue.does);
    let (least, most) = assumed(lead_terms.iter().copied());
    // What is assumed and what is waited for a busy port only ever makes a cue later. The wait is known, so it moves the whole range.
    let waits = row.waits.secs_f64() + later;
    let mut model = (0.0, 0.0);
    if let Action::Release { release, lands } = &cue.does
        && let Some(release) = show.release(release)
    {
        add(Term::Contact, of_latency(release.contact));
        if let Some(fall) = show.hang(&release.hang).map(|hang| fall_time(hang, *lands)) {
            add(Term::FallMeasured, fall.spread);
            model = fall.model;
        }
    }
    let spread = Uncertainty::of_sum(parts.iter().map(|(_, part)| *part));
    let range = (model.0 + least.secs_f64() + waits, model.1 + most.secs_f64() + waits);
    let chance = chance_within(spread, range, show.settings.early.secs_f64(), show.settings.late.secs_f64());
    let mut terms: Vec<(Term, f64)> = parts.into_iter().map(|(term, part)| (term, part.standard)).collect();
    let mut open = |term, width: f64| {
        if width > 0.0 {
            terms.push((term, width / libm::sqrt(12.0)));
        }
    };
    open(Term::FallModel, model.1 - model.0);
    open(Term::Assumed, (most - least).secs_f64());
    Certainty { terms, chance, assumed: assumption_words(&lead_terms) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What programs read is never more than the words say: rounded down to hundredths, at most 0.99.
    #[test]
    fn programs_read_no_more_than_people() {
        let at_least = |chance| Certainty { terms: Vec::new(), chance, assumed: String::new() }.at_least();
        for (chance, least) in [
            (0.0, 0.0),
            (0.009, 0.0),
            (0.01, 0.01),
            (0.4567, 0.45),
            (0.989_99, 0.98),
            (0.99, 0.99),
            (0.999, 0.99),
            (1.0, 0.99),
        ] {
            assert_eq!(at_least(chance), least, "{chance}");
        }
    }

    /// JCGM 100 G.1.2 warns of levels over 99 %: the tails are not known that well.
    #[test]
    fn nothing_finer_than_over_99_percent_is_said() {
        let words = |chance| Certainty { terms: Vec::new(), chance, assumed: String::new() }.chance_words();
        for (chance, said) in [
            (0.0, "under 1 %"),
            (0.009_9, "under 1 %"),
            (0.01, "1 %"),
            (0.984_1, "98 %"),
            (0.989_999, "98 %"),
            (0.99, "99 %"),
            (0.990_1, "over 99 %"),
            (0.999_99, "over 99 %"),
            (1.0, "over 99 %"),
        ] {
            assert_eq!(words(chance), said, "{chance}");
        }
    }
}

//! What is shown of a film: every cue with what was found or marked, and what follows for receivers and fabrics.

use letfall_core::prepared::Prepared;
use letfall_core::show::Label;
use letfall_film::measure::{
    CueSeen, Delays, DropSeen, Filmed, Marks, ReceiverSeen, Report, drops, planned_at, receivers, sent, with_marks,
};
use std::collections::BTreeMap;
use std::sync::Arc;

/// One cue in one run, whether or not anything was looked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The run, from 0.
    pub run: usize,
    /// The cue.
    pub label: Label,
    /// When it should be seen, seconds of the film's clock.
    pub planned: f64,
    /// What was found or marked; `None` if nobody has looked yet.
    pub cue: Option<CueSeen>,
}

/// What is shown.
pub struct Results {
    /// The plan against which it was measured.
    pub plan: Arc<Prepared>,
    /// Every cue that lies within the film, by run and time.
    pub rows: Vec<Row>,
    /// All of it, with marks.
    pub report: Report,
    /// Receivers.
    pub receivers: Vec<ReceiverSeen>,
    /// Falls.
    pub drops: Vec<DropSeen>,
}

impl Results {
    /// Puts together what was found and what was marked, in a film of so many seconds.
    pub fn new(
        plan: Arc<Prepared>,
        filmed: &Filmed<'_>,
        found: &Report,
        (marks, delays): (&Marks, &Delays),
        length: f64,
    ) -> Results {
        let (look, filming) = (filmed.look, filmed.filming);
        let report = with_marks(filmed, found, marks);
        // A cue in several regions is shown as it is surest.
        let mut surest: BTreeMap<(usize, Label), &CueSeen> = BTreeMap::new();
        for cue in &report.cues {
            let best = surest.entry((cue.run, cue.label)).or_insert(cue);
            if within(cue) < within(best) {
                *best = cue;
            }
        }
        let mut rows = Vec::new();
        for (number, run) in look.runs.iter().enumerate() {
            for row in sent(&plan) {
                let planned = planned_at(&plan, row, run, look.begins, filming);
                let Some(planned) = planned.filter(|at| (0.0..=length).contains(at)) else { continue };
                let cue = surest.get(&(number, row.label)).map(|cue| (*cue).clone());
                rows.push(Row { run: number, label: row.label, planned, cue });
            }
        }
        rows.sort_by(|a, b| a.run.cmp(&b.run).then(a.planned.total_cmp(&b.planned)));
        let (receivers, drops) = (receivers(&plan, &report, delays), drops(&plan, &report));
        Results { plan, rows, report, receivers, drops }
    }
}

fn within(cue: &CueSeen) -> f64 {
    cue.seen.map_or(f64::MAX, |seen| seen.within)
}

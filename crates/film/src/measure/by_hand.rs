//! What a person marks in the pictures, where nothing was found or in the place of what was found.

use super::look::planned;
use super::{CueSeen, Filmed, Filming, Report, SeenBy, What, course, place};
use crate::picture::{Fall, Region, Regions, Unseen};
use letfall_core::prepared::Prepared;
use letfall_core::show::{Action, Instant, Label};
use std::collections::BTreeMap;

/// A mark. Times are stamps of pictures, seconds of the film's clock: the first picture in which it is so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Mark {
    /// It has landed.
    Landed(f64),
    /// A fabric falls: its top edge has moved, is below the sightline, is down.
    Fell {
        /// The first picture in which it has moved.
        let_go: f64,
        /// The first picture in which it is below the sightline, if somebody could tell.
        sightline: Option<f64>,
        /// The first picture in which it is down.
        floor: f64,
    },
    /// It cannot be told, or what was found is something else: it does not count.
    LeftOut,
}

/// Marks, by the number of the run, from 0, and the cue.
pub type Marks = BTreeMap<(usize, Label), Mark>;

/// How exactly a person tells when a fade begins, is half done or is done, as a share of its length, either way (common practice, no source).
const OF_A_FADE: f64 = 0.1;

/// What was found, with marks in its place. A cue in several regions has one mark for all.
pub fn with_marks(filmed: &Filmed<'_>, report: &Report, marks: &Marks) -> Report {
    let Filmed { plan, regions, look, filming, .. } = *filmed;
    let mut cues: Vec<CueSeen> =
        report.cues.iter().filter(|cue| !marks.contains_key(&(cue.run, cue.label))).cloned().collect();
    for ((run, label), mark) in marks {
        let (Some(row), Some(of)) = (plan.row(*label), look.runs.get(*run)) else { continue };
        let planned = planned(plan, row, of, look.begins, filming);
        let found = report.cues.iter().find(|cue| (cue.run, cue.label) == (*run, *label));
        let region = found.map_or_else(|| shown_in(plan, regions, *label), |cue| cue.region);
        let seen = what(filmed, report.step, (*run, *label, region), mark);
        cues.push(CueSeen { run: *run, label: *label, region, planned, seen });
    }
    cues.sort_by(|a, b| (a.run, a.region).cmp(&(b.run, b.region)).then(a.planned.total_cmp(&b.planned)));
    let nowhere = report.nowhere.iter().copied().filter(|label| !marks.keys().any(|(_, marked)| marked == label));
    Report { cues, nowhere: nowhere.collect(), ..report.clone() }
}

/// A moment of a fall, which is seen at a height of its own.
#[derive(Clone, Copy)]
enum Moment {
    LetGo,
    Sightline,
    Floor,
}

/// How much later than its stamp the row is read in which a moment of a fall is seen, seconds.
fn rows_of(filming: &Filming, region: Option<&Region>, moment: Moment) -> f64 {
    let share = region.map_or(0.5, |region| match moment {
        Moment::LetGo => region.y,
        Moment::Sightline => region.y + region.h * region.sightline.unwrap_or(0.5),
        Moment::Floor => region.y + region.h,
    });
    filming.rolling * share
}

/// The stamps of the pictures in which a fall that was found is first seen to have let go, to be below the sightline and to be down: as a
/// person would have marked it, so that one of them can be corrected and the others stay. `filming` is by the film's clock.
pub fn stamps_of(fall: &Fall, filming: &Filming, region: Option<&Region>, step: f64) -> [Option<f64>; 3] {
    let stamp = |at: f64, moment: Moment| at + step / 2.0 - rows_of(filming, region, moment);
    [
        Some(stamp(fall.let_go, Moment::LetGo)),
        fall.sightline.map(|at| stamp(at, Moment::Sightline)),
        Some(stamp(fall.floor, Moment::Floor)),
    ]
}

/// The first region that shows a cue.
fn shown_in(plan: &Prepared, regions: &Regions, label: Label) -> Option<usize> {
    let names = super::look::names(plan.show(), plan.row(label)?, &plan.cue(plan.row(label)?).does);
    regions.regions.iter().position(|region| region.shows.iter().any(|name| names.contains(&name.as_str())))
}

fn what(
    filmed: &Filmed<'_>,
    step: f64,
    (run_at, label, region): (usize, Label, Option<usize>),
    mark: &Mark,
) -> Result<What, Unseen> {
    let Filmed { plan, regions, look, filming, sent } = *filmed;
    let (Some(run), Some(row)) = (look.runs.get(run_at), plan.row(label)) else { return Err(Unseen::NotFilmed) };
    let does = &plan.cue(row).does;
    let filming = &filming.slowed(run.slow);
    // Between the picture before and this one, so in the middle of both.
    let half = step / 2.0;
    let region = region.and_then(|at| regions.regions.get(at));
    // Without a region it may be in any row of the picture.
    let (rows_later, rows_within) = region
        .map_or((filming.rolling / 2.0, filming.rolling / 2.0), |region| (filming.rolling * region.middle(), 0.0));
    let real = |stamp: f64| stamp - half + rows_later;
    let real_at = |stamp: f64, moment: Moment| stamp - half + rows_of(filming, region, moment);
    let sent_late = sent.get(&label).copied();
    let seat = row.lead.sound.micros() as f64 / 1e6;
    let late = |at: f64| {
        place(run, look.begins, filming, plan.show().settings.air_c, seat, at)
            - row.land.micros() as f64 / 1e6
            - sent_late.unwrap_or(0.0)
    };
    let told = |at: f64, within: f64, fall: Option<Fall>| What {
        at,
        late: late(at),
        sent_late,
        within: within / run.slow,
        trust: 1.0,
        fall,
        slow: run.slow,
        by: SeenBy::Hand,
    };
    match *mark {
        Mark::LeftOut => Err(Unseen::LeftOut),
        Mark::Landed(stamp) => {
            let fade = course(plan, does).0 * run.slow;
            Ok(told(real(stamp), half + rows_within + OF_A_FADE * fade, None))
        }
        Mark::Fell { let_go, sightline, floor } => {
            let Action::Release { lands, .. } = does else { return Err(Unseen::NotFilmed) };
            if floor <= let_go || sightline.is_some_and(|at| !(let_go..=floor).contains(&at)) {
                return Err(Unseen::OutOfOrder);
            }
            // Two pictures, each within half a step.
            let both = step;
            let fall = Fall {
                let_go: real_at(let_go, Moment::LetGo),
                sightline: sightline.map(|at| real_at(at, Moment::Sightline)),
                floor: real_at(floor, Moment::Floor),
                within: half,
                to_sightline_within: sightline.map(|_| both),
                to_floor_within: both,
                right_later: 0.0,
                trust: 1.0,
            };
            let at = match lands {
                Instant::LetGo => fall.let_go,
                Instant::Sightline => fall.sightline.ok_or(Unseen::NoSightline)?,
                Instant::Floor => fall.floor,
            };
            Ok(told(at, half + rows_within, Some(fall)))
        }
    }
}

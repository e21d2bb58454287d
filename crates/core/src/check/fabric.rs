//! The fabric and what holds it: sizes that cannot be, units that stand too far apart, and too few of them in the kit. The figures are
//! planning estimates, never a verdict.

use super::problem::{Code, Problem};
use crate::reveal::weight_figures;
use crate::show::{Hang, Release, Show};

/// Units should not stand farther apart than this, metres. Common practice, no source.
const APART_M: f64 = 1.5;
/// The first and the last unit should not stand farther from the fabric's edge than this, metres. Common practice, no source.
const END_M: f64 = 0.15;
/// Places are given to the centimetre, so a millimetre more is no more.
const ROUNDING_M: f64 = 0.001;

pub(super) fn run(show: &Show) -> Vec<Problem> {
    let mut found: Vec<Problem> = show.hangs.iter().flat_map(cloth).collect();
    for release in &show.releases {
        if let Some(hang) = show.hang(&release.hang) {
            found.extend(units(hang, release));
        }
    }
    found.extend(kit(show));
    found
}

fn cloth(hang: &Hang) -> Vec<Problem> {
    let mut found = Vec::new();
    if let Some(bar) = hang.bar_m.filter(|bar| hang.width_m > bar + ROUNDING_M) {
        let what = format!("\"{}\" is {:.2} m wide, and its bar {bar:.2} m long", hang.name, hang.width_m);
        found.push(Problem::of_rig(
            Code::ClothTooLarge,
            what,
            "check both; gather the fabric only if the units' distances are for that",
        ));
    }
    if hang.drop_m > hang.top_m + ROUNDING_M {
        let what = format!(
            "\"{}\" is {:.2} m long, and its top edge hangs {:.2} m above the floor",
            hang.name, hang.drop_m, hang.top_m
        );
        found.push(Problem::of_rig(
            Code::ClothTooLarge,
            what,
            "check both; a hem that lies on the floor pulls at what it catches on",
        ));
    }
    found
}

fn units(hang: &Hang, release: &Release) -> Vec<Problem> {
    if release.units == 0 {
        return Vec::new();
    }
    let w = weight_figures(hang, release);
    let mut found = Vec::new();
    if let Some(beyond) = release.units_at_m.iter().find(|at| **at > hang.width_m + ROUNDING_M) {
        let what = format!(
            "a unit of \"{}\" stands at {beyond:.2} m, beyond the fabric's edge at {:.2} m",
            release.name, hang.width_m
        );
        found.push(Problem::of_rig(
            Code::UnitsApart,
            what,
            "give places from the fabric's left edge, as the audience sees it",
        ));
    }
    if w.widest_gap_m > APART_M + ROUNDING_M {
        let what =
            format!("units of \"{}\" stand {:.2} m apart, and 1.5 m at most is usual", release.name, w.widest_gap_m);
        found.push(Problem::of_rig(
            Code::UnitsApart,
            what,
            "use more units, or ask the competent person and the maker",
        ));
    }
    if w.end_m > END_M + ROUNDING_M {
        let what = format!(
            "the outermost unit of \"{}\" stands {:.2} m from the fabric's edge, and 0.15 m at most is usual",
            release.name, w.end_m
        );
        found.push(Problem::of_rig(
            Code::UnitsApart,
            what,
            "put a unit at each end: a loose corner hangs down and catches",
        ));
    }
    found
}

/// Release units in the kit against those that the hangs use. Only kit that is marked as release units can be counted.
fn kit(show: &Show) -> Vec<Problem> {
    let used: u64 = show.releases.iter().map(|r| u64::from(r.units)).sum();
    if used == 0 || show.kit.is_empty() {
        return Vec::new();
    }
    let mut marked = show.kit.iter().filter(|item| item.release_units).peekable();
    if marked.peek().is_none() {
        let what = format!("the hangs use {used} release units, and no line of the kit is marked as release units");
        return vec![Problem::of_rig(Code::KitUnits, what, "mark that line, so that they can be counted")];
    }
    let there: u64 = marked.map(|item| u64::from(item.quantity)).sum();
    if there < used {
        let what = format!("the kit has {there} release units, and the hangs use {used}");
        return vec![Problem::of_rig(Code::KitShort, what, "hire more, and a spare one")];
    }
    if there == used {
        let what = format!("the kit has {there} release units, as many as the hangs use, and none to spare");
        return vec![Problem::of_rig(Code::KitUnits, what, "bring a spare unit that was tried")];
    }
    Vec::new()
}

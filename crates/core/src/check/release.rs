//! Releases: who, what, when, and the calls round them.

use super::{Checks, Code};
use crate::schedule::{SpokenCall, breaths, calls};
use crate::show::{Action, Kind, Label, ReleaseKind};
use crate::time::SongSpan;

pub(super) fn run(checks: &mut Checks<'_>) {
    let (show, service, schedule) = (checks.show, checks.service, checks.schedule);
    let spoken = calls(show, service, schedule);
    let rows: Vec<_> = schedule
        .rows
        .iter()
        .filter(|r| r.label.kind == Kind::Release && !service.cues.as_slice()[r.cue as usize].resting)
        .collect();
    for row in &rows {
        let Action::Release { release, .. } = &service.cues.as_slice()[row.cue as usize].does else { continue };
        let label = [row.label];
        if show.safety.clear_signal.trim().is_empty() {
            checks.find(
                Code::ReleaseNoClear,
                &label,
                format!("{} has no clear call", row.label),
                "say on the safety sheet who gives the clear signal and how",
            );
        }
        if show.safety.arm_holder.trim().is_empty() {
            checks.find(
                Code::ReleaseNoArm,
                &label,
                format!("nobody holds the arm for {}", row.label),
                "name the role on the safety sheet",
            );
        }
        if !spoken.iter().any(|c| c.row.label == row.label && c.standby.is_some()) {
            checks.find(
                Code::ReleaseNoStandby,
                &label,
                format!("{} is not called with a standby", row.label),
                "have it called, with a standby",
            );
        }
        let Some(facts) = show.release(release) else { continue };
        if facts.kind == ReleaseKind::Unknown {
            let what =
                format!("it is not known whether power opens or holds \"{}\", fired by {}", facts.name, row.label);
            checks.find(Code::ReleaseKindUnknown, &label, what, "ask whoever is competent for the rig and record it");
        }
        if show.hang(&facts.hang).is_none() {
            let what = format!(
                "\"{}\", fired by {}, lets go of hang \"{}\", which is not there",
                facts.name, row.label, facts.hang
            );
            checks.find(Code::HangMissing, &label, what, "choose its hang");
        }
        let (early, late) = (show.settings.early, show.settings.late);
        if row.early > early || row.late > late {
            let what = format!(
                "{} may land up to {} early or {} late, and {early} and {late} are allowed",
                row.label, row.early, row.late
            );
            checks.find(
                Code::LandUncertain,
                &label,
                what,
                "time three or more drops of the real fabric and enter them",
            );
        }
    }
    for pair in rows.windows(2) {
        let pulse = |label: Label| match service.cues.get(label).map(|c| &c.does) {
            Some(Action::Release { release, .. }) => show.release(release).map_or(SongSpan::ZERO, |r| r.pulse),
            _ => SongSpan::ZERO,
        };
        let (one, other) = (pair[0], pair[1]);
        if other.send < one.send + pulse(one.label) {
            let what = format!(
                "{} is fired at {}, while {} is still being fired",
                other.label,
                checks.place(other.send),
                one.label
            );
            checks.find(
                Code::ReleaseOverlap,
                &[one.label, other.label],
                what,
                "put one of them later, or both on one circuit",
            );
        }
    }
    for (at, fall) in checks.stage.falling.iter().enumerate() {
        if let Some(first) = checks.stage.falling[..at].iter().find(|f| f.hang == fall.hang) {
            let what = format!("{} lets go of a fabric that {} has already dropped", fall.by, first.by);
            checks.find(Code::ReleaseTwice, &[first.by, fall.by], what, "take one of them out");
        }
    }
    overlapping_calls(checks, &spoken);
}

fn overlapping_calls(checks: &mut Checks<'_>, spoken: &[SpokenCall<'_>]) {
    let said = breaths(checks.show, checks.service, spoken);
    for pair in said.windows(2).filter(|pair| pair[0].is_hurried()) {
        let (one, other) = (&pair[0], &pair[1]);
        let what = format!(
            "“{}” at {} takes {} to say and “{}” follows after {}",
            one.words,
            checks.place(one.at),
            one.lasts,
            other.words,
            other.at - one.at
        );
        let mut cues = one.labels.clone();
        cues.extend(other.labels.iter().filter(|l| !one.labels.contains(l)));
        checks.find(Code::CallsOverlap, &cues, what, "call one of them earlier, or leave one to the machine");
    }
}

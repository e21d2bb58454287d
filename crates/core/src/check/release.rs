//! Releases: who, what, when, and the calls around them.

use super::context::Checks;
use super::problem::Code;
use crate::schedule::pacing::LONGEST_WITH_A_RELEASE;
use crate::schedule::{CallGroup, Row, certainty};
use crate::show::{Action, Kind, Label, ReleaseKind};
use crate::time::{SongSpan, SongTime};
use std::collections::BTreeSet;

pub(super) fn run(checks: &mut Checks<'_>) {
    let (show, service, schedule) = (checks.show, checks.service, checks.schedule);
    // Collected once, because a show may have very many cues.
    let with_standby: BTreeSet<Label> = checks.calls.iter().filter(|c| c.standby.is_some()).map(|c| c.label).collect();
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
        if !with_standby.contains(&row.label) {
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
            // What would help most: more drops help nothing where a delay is only assumed.
            let sure = certainty(show, &service.cues.as_slice()[row.cue as usize], row);
            let remedy = sure
                .dominating()
                .map_or("time three or more drops of the real fabric and enter them", |(term, _)| term.remedy());
            checks.find(Code::LandUncertain, &label, what, remedy);
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
    let windows = windows(checks);
    arms(checks, &windows);
    blocked_ports(checks, &windows);
    overlapping_calls(checks);
}

/// A release of the service that will be fired, and the time in which it may leave.
struct Window {
    label: Label,
    /// The port of its message, by its index.
    port: Option<u32>,
    from: SongTime,
    land: SongTime,
    until: SongTime,
    /// When its contact is open again after the planned message.
    opened: SongTime,
}

fn windows(checks: &Checks<'_>) -> Vec<Window> {
    let window = |row: &Row| {
        let cue = &checks.service.cues.as_slice()[row.cue as usize];
        let Action::Release { release, .. } = &cue.does else { return None };
        let release = checks.show.release(release).filter(|_| !cue.resting)?;
        let (from, until) = release.window(row.send, row.land);
        let opened = row.send + release.pulse;
        Some(Window { label: row.label, port: row.port, from, land: row.land, until, opened })
    };
    checks.schedule.rows.iter().filter_map(window).collect()
}

/// What the safety sheet lacks besides clear signal and arm holder, and arming windows that overlap.
fn arms(checks: &mut Checks<'_>, windows: &[Window]) {
    let sheet = &checks.show.safety;
    let lacks: Vec<&str> = [
        (&sheet.competent, "who is competent for the rig"),
        (&sheet.drop_zone, "the drop zone"),
        (&sheet.abort_words, "the words that stop everything"),
        (&sheet.caller, "who calls"),
        (&sheet.spotter, "who sees the drop zone"),
        (&sheet.key_switch, "the key switch of the person who sees the drop zone"),
    ]
    .into_iter()
    .filter_map(|(text, what)| text.trim().is_empty().then_some(what))
    .collect();
    if let Some(first) = windows.first().filter(|_| !lacks.is_empty()) {
        let what = format!("the safety sheet does not say {}", lacks.join(", "));
        checks.find(Code::SafetyOpen, &[first.label], what, "settle it and write it there");
    }
    let mut in_order: Vec<&Window> = windows.iter().collect();
    in_order.sort_unstable_by_key(|w| (w.from, w.land, w.until, w.label));
    for pair in in_order.windows(2) {
        let (one, other) = (pair[0], pair[1]);
        // The next release may be armed only after the first has been looked at and disarmed.
        if other.land < one.until {
            let what = format!(
                "{} lands at {}, while {} may still be armed: nobody has time to look between",
                other.label,
                checks.place(other.land),
                one.label
            );
            checks.find(
                Code::ArmOverlap,
                &[one.label, other.label],
                what,
                "land them farther apart, shorten the time in which the first may be armed, or put both on one circuit",
            );
        }
    }
}

/// Messages that would occupy a release's port for too long while it may have to leave, or its contact to open.
fn blocked_ports(checks: &mut Checks<'_>, windows: &[Window]) {
    let others = checks.schedule.rows.iter().filter(|row| row.label.kind != Kind::Release);
    for row in others.filter(|row| row.lead.wire > LONGEST_WITH_A_RELEASE) {
        let within = |w: &&Window| w.port == row.port && (w.from..=w.until.max(w.opened)).contains(&row.send);
        let Some(Window { label, .. }) = windows.iter().find(within) else { continue };
        let what = format!(
            "the message of {} at {} takes {} on the wire of {label}, which may have to leave or end meanwhile",
            row.label,
            checks.place(row.send),
            row.lead.wire
        );
        let remedy =
            "give the release's contact a port of its own, or send the message before the release can be armed";
        checks.find(Code::ReleasePortBlocked, &[row.label, *label], what, remedy);
    }
}

fn overlapping_calls(checks: &mut Checks<'_>) {
    let said: Vec<&CallGroup> = checks.call_groups.iter().filter(|group| group.is_said()).collect();
    for pair in said.windows(2).filter(|pair| pair[0].is_hurried()) {
        let (one, other) = (pair[0], pair[1]);
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

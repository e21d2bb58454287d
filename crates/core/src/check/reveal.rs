//! The moment of the reveal as people do it: when they arm, what they say and hear before it, what they can still stop after it.
//!
//! Every figure here is common practice, no source, unless it says otherwise.

use super::context::Checks;
use super::problem::Code;
use crate::schedule::{CallKind, CueCalls, Row, SEE_AND_ACT, calls_by_cue};
use crate::show::{Action, Goes, Kind, Label, Release};
use crate::time::SongSpan;
use std::collections::BTreeMap;

/// What a person needs on top, from hearing “arm on” to having the hand on it.
const HAND: SongSpan = SongSpan::from_millis(2000);
/// The longest time before a release in which it should be possible to arm it.
const ARM_AT_MOST: SongSpan = SongSpan::from_millis(10_000);
/// No other go is spoken for this long before a release.
const QUIET: SongSpan = SongSpan::from_millis(5000);
/// A release's standby comes at least this long before it.
const RELEASE_STANDBY: SongSpan = SongSpan::from_millis(20_000);
/// Other standbys come between these before their go.
const STANDBY: (SongSpan, SongSpan) = (SongSpan::from_millis(8000), SongSpan::from_millis(15_000));
/// A standby is said on a whole beat, so it may come this much earlier than it was set.
const BEAT: SongSpan = SongSpan::from_millis(2000);
/// More things than this in one standby are not kept in mind.
const MOST_IN_A_STANDBY: usize = 3;

pub(super) fn run(checks: &mut Checks<'_>) {
    let (schedule, call_groups) = (checks.schedule, checks.call_groups);
    let said = calls_by_cue(call_groups);
    for row in &schedule.rows {
        let cue = &checks.service.cues.as_slice()[row.cue as usize];
        let Action::Release { release, .. } = &cue.does else { continue };
        let Some(release) = checks.show.release(release).filter(|_| !cue.resting) else { continue };
        arming(checks, row, release, said.get(&row.label));
        pulse(checks, row, release);
        quiet(checks, row);
        plan(checks, row, release);
    }
    standbys(checks, &said);
    uncalled(checks);
}

/// The time in which a release can be armed must leave room for hand and hold, and must not open before clear is given.
fn arming(checks: &mut Checks<'_>, row: &Row, release: &Release, said: Option<&CueCalls<'_>>) {
    let label = [row.label];
    let (from, _) = release.window(row.send, row.land);
    let needed = Release::HOLD + HAND;
    let decision = checks.schedule.decision(checks.show, checks.service, row.label);
    if let Some(decision) = decision.filter(|decision| decision.at - from < needed) {
        let why = if decision.first == row.label {
            format!("one second before it is sent, at {}", checks.place(decision.at))
        } else {
            format!(
                "one second before {} is sent, which depends on it: at {}",
                decision.first,
                checks.place(decision.at)
            )
        };
        let what = format!(
            "{} can be armed from {} on, and it must be settled {why}; hand and hold take {needed}",
            row.label,
            checks.place(from)
        );
        checks.find(Code::ArmTooLate, &label, what, "make arming possible earlier; 10 s before land is usual");
    }
    if release.arm_before > ARM_AT_MOST {
        let what = format!("{} can be armed from {} before it", row.label, release.arm_before);
        checks.find(Code::ArmTooEarly, &label, what, "make arming possible 10 s before land at most");
    }
    let standby = said.and_then(|said| said.standby).map(|group| group.at);
    if let Some(standby) = standby.filter(|standby| from < *standby) {
        let what = format!(
            "{} can be armed from {} on, before its standby at {}",
            row.label,
            checks.place(from),
            checks.place(standby)
        );
        checks.find(Code::ArmTooEarly, &label, what, "make arming possible later, or say the standby earlier");
    }
}

/// A contact that opens again before the unit has let go. The slow one counts, so twice the spread is added.
fn pulse(checks: &mut Checks<'_>, row: &Row, release: &Release) {
    let needs = release.contact.mean + release.contact.spread + release.contact.spread;
    if release.pulse < needs {
        let what = format!(
            "the contact of {} closes for {}, and contact, coil and unit take up to {needs} to let go",
            row.label, release.pulse
        );
        checks.find(Code::PulseShort, &[row.label], what, "make the pulse longer, within what the units are rated for");
    }
}

/// Another go just before a release is taken for it.
fn quiet(checks: &mut Checks<'_>, row: &Row) {
    let go = |group: &&crate::schedule::CallGroup| group.kind == CallKind::Go && !group.labels.contains(&row.label);
    let groups = checks.call_groups;
    let near = groups.iter().filter(go).filter(|g| g.at <= row.send && row.send - g.at < QUIET).max_by_key(|g| g.at);
    let called = checks.calls.iter().any(|call| call.label == row.label);
    if let Some(near) = near.filter(|_| called) {
        let what = format!(
            "“{}” is said {} before {} is let out: in the dark it may be taken for it",
            near.words,
            row.send - near.at,
            row.label
        );
        let mut cues = near.labels.clone();
        cues.push(row.label);
        checks.find(
            Code::GoBeforeRelease,
            &cues,
            what,
            "leave 5 s of quiet before a release: move that cue, or leave it to the machine",
        );
    }
}

/// What people do if the fabric stays or only half of it falls.
fn plan(checks: &mut Checks<'_>, row: &Row, release: &Release) {
    let Some(plan) = &release.hang_up else {
        let what = format!("nobody has said what happens if the fabric of {} stays up", row.label);
        checks.find(
            Code::HangUpNone,
            &[row.label],
            what,
            "settle it with everybody and fill in the plan for a stuck fabric",
        );
        return;
    };
    if plan.words.trim().is_empty() || plan.caller.trim().is_empty() {
        let what = format!("the plan for a stuck fabric of {} does not say who says what", row.label);
        checks.find(Code::HangUpNone, &[row.label], what, "write down who says it and the words");
    }
    for label in &plan.hold {
        let Some(held) = checks.schedule.rows.iter().find(|r| r.label == *label) else { continue };
        if held.send - row.send >= SEE_AND_ACT {
            continue;
        }
        let what = format!(
            "the plan for a stuck fabric of {} holds {label}, whose message leaves at {}, {} after the release: nobody can see it, say it and act so soon",
            row.label,
            checks.place(held.send),
            held.send - row.send
        );
        let remedy = "hold what is sent 3 s or more after the release, and say in the plan which message brings the picture back";
        checks.find(Code::HangUpHold, &[row.label, *label], what, remedy);
    }
}

/// How long before their go standbys are said, and how much is in one.
fn standbys(checks: &mut Checks<'_>, said: &BTreeMap<Label, CueCalls<'_>>) {
    // What is said counts: one standby may be for several cues, at the time of the first.
    for call in checks.calls {
        let Some(standby) = said.get(&call.label).and_then(|said| said.standby).map(|group| group.at) else { continue };
        let ahead = call.go - standby;
        if call.label.kind == Kind::Release {
            if ahead < RELEASE_STANDBY {
                let what = format!("the standby of {} is said {ahead} before it", call.label);
                checks.find(
                    Code::StandbyShort,
                    &[call.label],
                    what,
                    "say it 30 s before: clear and arming come between",
                );
            }
        } else if ahead < STANDBY.0 || ahead > STANDBY.1 + BEAT {
            let what = format!("the standby of {} is said {ahead} before its go", call.label);
            checks.find(Code::StandbyOdd, &[call.label], what, "8 to 15 s before is usual");
        }
    }
    for group in checks.call_groups.iter().filter(|g| g.kind == CallKind::Standby && g.labels.len() > MOST_IN_A_STANDBY)
    {
        let what = format!("“{}” at {} names {} things", group.words, checks.place(group.at), group.labels.len());
        checks.find(
            Code::StandbyCrowded,
            &group.labels,
            what,
            "name three at most: join presets at the desk, or leave some to the machine",
        );
    }
}

/// A cue that makes the reveal and that nobody calls or watches: nobody notices if it does not come.
fn uncalled(checks: &mut Checks<'_>) {
    for handover in &checks.service.handovers {
        let called = |label: &Label| {
            let cue = checks.service.cues.get(*label);
            cue.is_some_and(|cue| checks.show.goes(cue) == Goes::Operator || checks.show.is_watched(cue))
        };
        let awake = |label: &Label| checks.service.cues.get(*label).is_some_and(|cue| !cue.resting);
        let silent: Vec<Label> = handover.cues.iter().copied().filter(|l| awake(l) && !called(l)).collect();
        if silent.is_empty() || !awake(&handover.release) {
            continue;
        }
        let names: Vec<String> = silent.iter().map(ToString::to_string).collect();
        let what = format!(
            "nobody calls {} of the reveal or watches for {}",
            names.join(" and "),
            if silent.len() == 1 { "it" } else { "them" }
        );
        checks.find(Code::RevealUncalled, &silent, what, "mark them as watched: somebody looks whether they come");
    }
}

//! What the stage manager says in one breath, and what comes by itself between: calls that belong together are joined.

use super::call_words::{Spoken, first_upper, names, saying};
use super::calls::beat_at_or_before;
use super::{Row, Schedule, SpokenCall};
use crate::show::{Action, Cue, Goes, Kind, Label, Service, Show};
use crate::time::{SongSpan, SongTime};
use std::collections::BTreeMap;

/// What is said or seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CallKind {
    /// A question or an order before a release: is the zone watched, is it clear, arm on.
    Ask,
    /// Get ready.
    Standby,
    /// Now: a hand acts on it.
    Go,
    /// It comes by itself, and nobody says anything.
    Watch,
}

/// One call, for one cue or several; or what comes without one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CallGroup {
    /// What it is.
    pub kind: CallKind,
    /// When it is said: the earliest standby or go time of its cues. For what comes by itself, when it lands.
    pub at: SongTime,
    /// Its cues, in order of their goes.
    pub labels: Vec<Label>,
    /// The words; empty if nothing is said.
    pub words: String,
    /// Who answers, as roles, each once.
    pub answers: Vec<String>,
    /// What is answered; empty for what operators answer to a go: nothing.
    pub reply: &'static str,
    /// How long it takes to say at the show's speech rate.
    pub lasts: SongSpan,
    /// Time until the next thing is said; `None` for the last and for what comes by itself.
    pub room: Option<SongSpan>,
    /// Whether somebody watches that it comes by itself.
    pub watched: bool,
}

impl CallGroup {
    /// Whether the next call is due before this one has been said.
    pub fn is_hurried(&self) -> bool {
        self.room.is_some_and(|room| room < self.lasts)
    }

    /// Whether something is said.
    pub fn is_said(&self) -> bool {
        self.kind != CallKind::Watch
    }
}

/// Most cues in one call: nobody can keep more in mind. Our own figure.
const MOST: usize = 6;
/// What comes by itself within this much is one line for the caller. Our own figure.
const TOGETHER: SongSpan = SongSpan::from_millis(400);

/// The order to arm.
const ARM_ON: &str = "Arm on";

/// How long before a release is sent the zone is asked for. Common practice, no source.
pub const ZONE: SongSpan = SongSpan::from_millis(120_000);
/// How long before it the zone must be clear. Common practice, no source.
pub const CLEAR: SongSpan = SongSpan::from_millis(45_000);

/// All calls and what comes without one, in order.
///
/// Goes closer together than one word takes to say are joined into one. A standby also covers every later cue whose own standby would
/// come before its first go, so no other standby comes between a standby and its go; but a release's standby comes long before it and is
/// joined only with another release's. Nobody says go to a release: it leaves by itself while it is armed, and the caller counts.
pub fn call_groups(show: &Show, service: &Service, schedule: &Schedule, calls: &[SpokenCall]) -> Vec<CallGroup> {
    let rate = show.settings.words_per_minute;
    let word = SongSpan::from_secs_f64(60.0 / f64::from(rate.max(1)));
    let mut out = Vec::new();
    let by_hand: Vec<&SpokenCall> = calls.iter().filter(|call| call.label.kind != Kind::Release).collect();
    let mut rest = by_hand.as_slice();
    while let Some(first) = rest.first() {
        let count = rest.iter().take(MOST).take_while(|c| c.go - first.go < word).count();
        out.push(call_group(show, service, CallKind::Go, &rest[..count]));
        rest = &rest[count..];
    }
    let ready: Vec<&SpokenCall> = calls.iter().filter(|c| c.standby.is_some()).collect();
    let mut rest = ready.as_slice();
    while let Some(first) = rest.first() {
        let alike = |c: &&&SpokenCall| (c.label.kind == Kind::Release) == (first.label.kind == Kind::Release);
        let soon = rest.iter().take(MOST).take_while(alike).take_while(|c| c.standby < Some(first.go));
        let count = soon.count().max(1);
        out.push(call_group(show, service, CallKind::Standby, &rest[..count]));
        rest = &rest[count..];
    }
    out.extend(asks(show, service, schedule, calls));
    out.sort_by(|a, b| (a.at, a.kind, &a.labels).cmp(&(b.at, b.kind, &b.labels)));
    for at in 1..out.len() {
        let room = out[at].at - out[at - 1].at;
        out[at - 1].room = Some(room);
    }
    out.extend(by_itself(show, service, schedule));
    out.sort_by(|a, b| (a.at, a.kind, &a.labels).cmp(&(b.at, b.kind, &b.labels)));
    out
}

/// What is asked and ordered before each release that is called; for releases that leave close together, once.
fn asks(show: &Show, service: &Service, schedule: &Schedule, calls: &[SpokenCall]) -> Vec<CallGroup> {
    let mut out: Vec<CallGroup> = Vec::new();
    let (spotter, operator) = (show.safety.spotter_role(), show.safety.operator_role());
    for call in calls.iter().filter(|call| call.label.kind == Kind::Release) {
        let row = &schedule.rows[call.row as usize];
        let release = service.cues.get(call.label).and_then(|cue| match &cue.does {
            Action::Release { release, .. } => show.release(release),
            _ => None,
        });
        let Some(release) = release else { continue };
        let beat = |time| beat_at_or_before(schedule, time);
        for (at, words, who, reply) in [
            (beat(row.send - ZONE), "Zone?", spotter, "watched"),
            (beat(row.send - CLEAR), "Zone clear?", spotter, "clear, lamp up"),
            // Not before arming is possible, so not on the beat before it.
            (release.window(row.send, row.land).0, ARM_ON, operator, "armed"),
        ] {
            let near =
                |group: &&mut CallGroup| group.words == words && (at - group.at).abs() < SongSpan::from_millis(5000);
            if let Some(group) = out.iter_mut().find(near) {
                group.labels.push(call.label);
                // Arming is possible for all of them only from the last on.
                group.at = if words == ARM_ON { group.at.max(at) } else { group.at.min(at) };
                continue;
            }
            out.push(CallGroup {
                kind: CallKind::Ask,
                at,
                labels: vec![call.label],
                words: words.to_owned(),
                answers: vec![who.to_owned()],
                reply,
                lasts: saying(words, show.settings.words_per_minute),
                room: None,
                watched: false,
            });
        }
    }
    out
}

/// What comes without a call, each line once: by machine, or after another cue.
fn by_itself(show: &Show, service: &Service, schedule: &Schedule) -> Vec<CallGroup> {
    let cues = service.cues.as_slice();
    let mut rows: Vec<(&Row, &Cue)> = schedule
        .rows
        .iter()
        .filter_map(|row| Some((row, cues.get(row.cue as usize)?)))
        .filter(|(row, cue)| !cue.resting && row.goes != Goes::Operator)
        .collect();
    rows.sort_by_key(|(row, _)| (row.land, row.label));
    let mut out: Vec<CallGroup> = Vec::new();
    // A release stands in a line of its own, and so does what comes after another cue.
    let alone = |row: &Row| row.label.kind == Kind::Release || !row.goes.by_machine();
    let mut joins = false;
    for (row, cue) in rows {
        let watched = show.is_watched(cue);
        let fits = |group: &CallGroup| {
            joins && group.labels.len() < MOST && row.land - group.at < TOGETHER && group.watched == watched
        };
        match out.last_mut().filter(|group| !alone(row) && fits(group)) {
            Some(group) => group.labels.push(row.label),
            None => out.push(CallGroup {
                kind: CallKind::Watch,
                at: row.land,
                labels: vec![row.label],
                words: String::new(),
                answers: Vec::new(),
                reply: "",
                lasts: SongSpan::ZERO,
                room: None,
                watched,
            }),
        }
        joins = !alone(row);
    }
    out
}

/// What is said for one cue, after calls have been joined.
#[derive(Debug, Clone, Copy, Default)]
pub struct CueCalls<'a> {
    /// Its standby.
    pub standby: Option<&'a CallGroup>,
    /// Its go.
    pub go: Option<&'a CallGroup>,
    /// The order to arm, for a release.
    pub arm: Option<&'a CallGroup>,
}

/// What is said for each cue. Every page takes its words and times from here, so that no page shows a call that nobody makes.
pub fn calls_by_cue(call_groups: &[CallGroup]) -> BTreeMap<Label, CueCalls<'_>> {
    let mut all: BTreeMap<Label, CueCalls<'_>> = BTreeMap::new();
    for call_group in call_groups {
        for label in &call_group.labels {
            let said = all.entry(*label).or_default();
            match call_group.kind {
                CallKind::Go => said.go = Some(call_group),
                CallKind::Standby => said.standby = Some(call_group),
                CallKind::Ask if call_group.words == ARM_ON => said.arm = Some(call_group),
                CallKind::Ask | CallKind::Watch => {}
            }
        }
    }
    all
}

fn call_group(show: &Show, service: &Service, said: CallKind, calls: &[&SpokenCall]) -> CallGroup {
    let at = match said {
        CallKind::Standby => calls.iter().filter_map(|c| c.standby).min(),
        _ => calls.iter().map(|c| c.go).min(),
    };
    let labels: Vec<Label> = calls.iter().map(|c| c.label).collect();
    // Cues with their own words keep them; the others are named in a list.
    let own = |label: Label| {
        let call = service.cues.get(label)?.call.as_ref()?;
        let words = if said == CallKind::Go { &call.go_words } else { &call.standby_words };
        (!words.trim().is_empty()).then(|| words.trim().to_owned())
    };
    let usual: Vec<Spoken> = labels
        .iter()
        .filter(|l| own(**l).is_none())
        .filter_map(|l| Some(Spoken::of(show, service.cues.get(*l)?)))
        .collect();
    let mut parts: Vec<String> = Vec::new();
    if !usual.is_empty() {
        let names = names(&usual);
        parts.push(if said == CallKind::Go { first_upper(&format!("{names} go")) } else { format!("Standby {names}") });
    }
    parts.extend(labels.iter().filter_map(|l| own(*l)).map(|words| first_upper(&words)));
    let words = parts.join(". ");
    let mut answers: Vec<String> = Vec::new();
    for call in calls.iter().filter(|c| !c.answers.is_empty()) {
        if !answers.contains(&call.answers) {
            answers.push(call.answers.clone());
        }
    }
    let lasts = saying(&words, show.settings.words_per_minute);
    let reply = if said == CallKind::Standby { "standing by" } else { "" };
    let at = at.unwrap_or(SongTime::ZERO);
    CallGroup { kind: said, at, labels, words, answers, reply, lasts, room: None, watched: false }
}

//! What the stage manager says in one breath: calls that belong together are joined.

use super::SpokenCall;
use super::call_words::{first_upper, names, saying};
use crate::show::{Kind, Label, Service, Show};
use crate::time::{SongSpan, SongTime};
use std::collections::BTreeMap;

/// A standby or a go.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CallKind {
    /// Get ready.
    Standby,
    /// Now.
    Go,
}

/// One call, for one cue or several.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CallGroup {
    /// Standby or go.
    pub kind: CallKind,
    /// When it is said: the earliest standby or go time of its cues.
    pub at: SongTime,
    /// Its cues, in order of their goes.
    pub labels: Vec<Label>,
    /// The words.
    pub words: String,
    /// Who answers, as roles, each once.
    pub answers: Vec<String>,
    /// How long it takes to say at the show's speech rate.
    pub lasts: SongSpan,
    /// Time until the next call; `None` for the last.
    pub room: Option<SongSpan>,
}

impl CallGroup {
    /// Whether the next call is due before this one has been said.
    pub fn is_hurried(&self) -> bool {
        self.room.is_some_and(|room| room < self.lasts)
    }
}

/// Most cues in one call: nobody can keep more in mind. Our own figure.
const MOST: usize = 6;

/// All calls, in order.
///
/// Goes closer together than one word takes to say are joined into one, but a release's go is joined only with another
/// release's. A standby also covers every later cue whose own standby would come before its first go, so no other standby comes
/// between a standby and its go; but a release's standby comes long before it and is joined only with another release's.
pub fn call_groups(show: &Show, service: &Service, calls: &[SpokenCall]) -> Vec<CallGroup> {
    let rate = show.settings.words_per_minute;
    let word = SongSpan::from_secs_f64(60.0 / f64::from(rate.max(1)));
    let mut out = Vec::new();
    let mut rest = calls;
    while let Some(first) = rest.first() {
        // A release's go is never joined with anything but another release's.
        let alike = |c: &&SpokenCall| (c.label.kind == Kind::Release) == (first.label.kind == Kind::Release);
        let count = rest.iter().take(MOST).take_while(alike).take_while(|c| c.go - first.go < word).count();
        out.push(call_group(show, service, CallKind::Go, &rest[..count].iter().collect::<Vec<_>>()));
        rest = &rest[count..];
    }
    let ready: Vec<&SpokenCall> = calls.iter().filter(|c| c.standby.is_some()).collect();
    let mut rest = ready.as_slice();
    while let Some(first) = rest.first() {
        // A release's standby comes long before it, and is said by itself.
        let alike = |c: &&&SpokenCall| (c.label.kind == Kind::Release) == (first.label.kind == Kind::Release);
        let soon = rest.iter().take(MOST).take_while(alike).take_while(|c| c.standby < Some(first.go));
        let count = soon.count().max(1);
        out.push(call_group(show, service, CallKind::Standby, &rest[..count]));
        rest = &rest[count..];
    }
    out.sort_by(|a, b| (a.at, a.kind, &a.labels).cmp(&(b.at, b.kind, &b.labels)));
    for at in 1..out.len() {
        let room = out[at].at - out[at - 1].at;
        out[at - 1].room = Some(room);
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
}

/// What is said for each cue. Every page takes its words and times from here, so that no page shows a call that nobody makes.
pub fn calls_by_cue(call_groups: &[CallGroup]) -> BTreeMap<Label, CueCalls<'_>> {
    let mut all: BTreeMap<Label, CueCalls<'_>> = BTreeMap::new();
    for call_group in call_groups {
        for label in &call_group.labels {
            let said = all.entry(*label).or_default();
            *(if call_group.kind == CallKind::Go { &mut said.go } else { &mut said.standby }) = Some(call_group);
        }
    }
    all
}

fn call_group(show: &Show, service: &Service, said: CallKind, calls: &[&SpokenCall]) -> CallGroup {
    let at = match said {
        CallKind::Go => calls.iter().map(|c| c.go).min(),
        CallKind::Standby => calls.iter().filter_map(|c| c.standby).min(),
    };
    let labels: Vec<Label> = calls.iter().map(|c| c.label).collect();
    // Cues with their own words keep them; the others are named in a list.
    let own = |label: Label| {
        let call = service.cues.get(label)?.call.as_ref()?;
        let words = if said == CallKind::Go { &call.go_words } else { &call.standby_words };
        (!words.trim().is_empty()).then(|| words.trim().to_owned())
    };
    let usual: Vec<Label> = labels.iter().copied().filter(|l| own(*l).is_none()).collect();
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
    CallGroup { kind: said, at: at.unwrap_or(SongTime::ZERO), labels, words, answers, lasts, room: None }
}

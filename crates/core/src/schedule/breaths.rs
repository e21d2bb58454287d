//! What the stage manager says in one breath: calls that belong together are said together.

use super::SpokenCall;
use crate::show::{Kind, Label, Service, Show};
use crate::time::{SongSpan, SongTime};
use std::collections::BTreeMap;

/// A standby or a go.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Said {
    /// Get ready.
    Standby,
    /// Now.
    Go,
}

/// One thing said, for one cue or several.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Breath {
    /// Standby or go.
    pub said: Said,
    /// When it is said: a standby at the earliest of its cues', a go at the first of its cues'.
    pub at: SongTime,
    /// Its cues, in order of their goes.
    pub labels: Vec<Label>,
    /// The words.
    pub words: String,
    /// Who answers, as roles, each once.
    pub answers: Vec<String>,
    /// How long it takes to say at the show's speech rate.
    pub lasts: SongSpan,
    /// Until the next thing said; `None` for the last.
    pub room: Option<SongSpan>,
}

impl Breath {
    /// Whether the next thing must be said before this one has been.
    pub fn is_hurried(&self) -> bool {
        self.room.is_some_and(|room| room < self.lasts)
    }
}

/// Most cues in one breath: a person can hold no more in mind. Our own figure.
const MOST: usize = 6;

/// Everything that is said, in order.
///
/// Goes closer together than one word takes to say are one go, but a release's go stands alone. A standby takes with it every later cue whose own standby
/// would come before the first go of the breath, so that no standby stands between a standby and its go.
pub fn breaths(show: &Show, service: &Service, calls: &[SpokenCall<'_>]) -> Vec<Breath> {
    let rate = show.settings.words_per_minute;
    let word = SongSpan::from_secs_f64(60.0 / f64::from(rate.max(1)));
    let mut out = Vec::new();
    let mut rest = calls;
    while let Some(first) = rest.first() {
        // A release's go is never said in one breath with anything but another release.
        let alike =
            |c: &&SpokenCall<'_>| (c.row.label.kind == Kind::Release) == (first.row.label.kind == Kind::Release);
        let count = rest.iter().take(MOST).take_while(alike).take_while(|c| c.go - first.go < word).count();
        out.push(breath(show, service, Said::Go, &rest[..count]));
        rest = &rest[count..];
    }
    let ready: Vec<&SpokenCall<'_>> = calls.iter().filter(|c| c.standby.is_some()).collect();
    let mut rest = ready.as_slice();
    while let Some(first) = rest.first() {
        let count = rest.iter().take(MOST).take_while(|c| c.standby < Some(first.go)).count().max(1);
        let together: Vec<SpokenCall<'_>> = rest[..count].iter().map(|c| (*c).clone()).collect();
        out.push(breath(show, service, Said::Standby, &together));
        rest = &rest[count..];
    }
    out.sort_by(|a, b| (a.at, a.said, &a.labels).cmp(&(b.at, b.said, &b.labels)));
    for at in 1..out.len() {
        let room = out[at].at - out[at - 1].at;
        out[at - 1].room = Some(room);
    }
    out
}

/// What is said for one cue, after calls have been joined.
#[derive(Debug, Clone, Copy, Default)]
pub struct SaidFor<'a> {
    /// Its standby.
    pub standby: Option<&'a Breath>,
    /// Its go.
    pub go: Option<&'a Breath>,
}

/// What is said for each cue: every page takes its words and times from here, so that none names a call nobody makes.
pub fn said_for(breaths: &[Breath]) -> BTreeMap<Label, SaidFor<'_>> {
    let mut all: BTreeMap<Label, SaidFor<'_>> = BTreeMap::new();
    for breath in breaths {
        for label in &breath.labels {
            let said = all.entry(*label).or_default();
            *(if breath.said == Said::Go { &mut said.go } else { &mut said.standby }) = Some(breath);
        }
    }
    all
}

fn breath(show: &Show, service: &Service, said: Said, calls: &[SpokenCall<'_>]) -> Breath {
    let at = match said {
        Said::Go => calls.iter().map(|c| c.go).min(),
        Said::Standby => calls.iter().filter_map(|c| c.standby).min(),
    };
    let labels: Vec<Label> = calls.iter().map(|c| c.row.label).collect();
    // Cues with words of their own keep them; the others are named in a row.
    let own = |label: Label| {
        let call = service.cues.get(label)?.call.as_ref()?;
        let words = if said == Said::Go { &call.go_words } else { &call.standby_words };
        (!words.trim().is_empty()).then(|| words.trim().to_owned())
    };
    let usual: Vec<Label> = labels.iter().copied().filter(|l| own(*l).is_none()).collect();
    let mut parts: Vec<String> = Vec::new();
    if !usual.is_empty() {
        let names = names(&usual);
        parts.push(if said == Said::Go { first_upper(&format!("{names} go")) } else { format!("Standby {names}") });
    }
    parts.extend(labels.iter().filter_map(|l| own(*l)).map(|words| first_upper(&words)));
    let words = parts.join(". ");
    let mut answers: Vec<String> = Vec::new();
    for call in calls.iter().filter(|c| !c.answers.is_empty()) {
        if !answers.iter().any(|a| a == call.answers) {
            answers.push(call.answers.to_owned());
        }
    }
    let lasts = super::calls::saying(&words, show.settings.words_per_minute);
    Breath { said, at: at.unwrap_or(SongTime::ZERO), labels, words, answers, lasts, room: None }
}

/// "lights 12 to 14 and release 1": kinds in the order of their first cue, runs of numbers drawn together.
pub fn names(labels: &[Label]) -> String {
    let mut kinds: Vec<Kind> = Vec::new();
    for label in labels {
        if !kinds.contains(&label.kind) {
            kinds.push(label.kind);
        }
    }
    let groups: Vec<String> = kinds
        .into_iter()
        .map(|kind| {
            let mut numbers: Vec<u32> = labels.iter().filter(|l| l.kind == kind).map(|l| l.number).collect();
            numbers.sort_unstable();
            let noun = match (kind, numbers.len()) {
                (Kind::Lighting, _) => "lights",
                (Kind::Media, _) => "media",
                (Kind::Output, 1) => "output",
                (Kind::Output, _) => "outputs",
                (Kind::Release, 1) => "release",
                (Kind::Release, _) => "releases",
            };
            format!("{noun} {}", listed(&runs(&numbers)))
        })
        .collect();
    listed(&groups)
}

/// "12 to 14", "12 and 13" stays two numbers.
fn runs(numbers: &[u32]) -> Vec<String> {
    let mut out = Vec::new();
    let mut at = 0;
    while at < numbers.len() {
        let mut end = at;
        while numbers.get(end + 1) == Some(&(numbers[end] + 1)) {
            end += 1;
        }
        if end - at >= 2 {
            out.push(format!("{} to {}", numbers[at], numbers[end]));
        } else {
            out.extend(numbers[at..=end].iter().map(ToString::to_string));
        }
        at = end + 1;
    }
    out
}

/// "a, b and c".
fn listed(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [only] => only.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

pub(super) fn first_upper(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(text: &str) -> String {
        let labels: Vec<Label> = text.split(' ').map(|l| l.parse().expect(l)).collect();
        names(&labels)
    }

    #[test]
    fn one_breath_names_many() {
        for (labels, words) in [
            ("L12", "lights 12"),
            ("L12 L13", "lights 12 and 13"),
            ("L12 L13 L14 R1", "lights 12 to 14 and release 1"),
            ("R1 L14 L12 L13", "release 1 and lights 12 to 14"),
            ("L1 L2 L3 L5 O2 O4 M1", "lights 1 to 3 and 5, outputs 2 and 4 and media 1"),
        ] {
            assert_eq!(said(labels), words);
        }
    }
}

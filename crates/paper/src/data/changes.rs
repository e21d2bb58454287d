//! Revision marks: what is new, changed or dropped since the previous version.

use super::words::{bound, cue_place_words};
use crate::options::EarlierVersion;
use letfall_core::edit::{Difference, Match, compare_services};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::describe;
use letfall_core::show::{Cue, Label};
use letfall_core::time::{SongSpan, round};
use serde::Serialize;
use std::collections::BTreeMap;

/// A cue's mark.
#[derive(Serialize, Clone, Default)]
pub struct Mark {
    /// "", "new" or "changed".
    is: &'static str,
    /// What it was, in words.
    was: String,
}

/// A line of the summary.
#[derive(Serialize)]
struct Line {
    label: String,
    kind: &'static str,
    words: String,
}

/// The summary on the first page.
#[derive(Serialize)]
pub struct Changes {
    /// The version compared with.
    since: String,
    new: Vec<Line>,
    changed: Vec<Line>,
    dropped: Vec<Line>,
}

impl Changes {
    /// The labels of all cues that are marked as new or changed, or that are dropped.
    pub fn labels(&self) -> Vec<String> {
        [&self.new, &self.changed, &self.dropped].into_iter().flatten().map(|line| line.label.clone()).collect()
    }
}

/// The marks of a service's cues.
pub struct Marks {
    marks: BTreeMap<Label, Mark>,
    changes: Option<Changes>,
}

impl Marks {
    /// Compares with the previous version, if there is one.
    pub fn new(prepared: &Prepared, previous: Option<&EarlierVersion>) -> Marks {
        let (show, service) = (prepared.show(), prepared.service());
        let mut marks = Marks { marks: BTreeMap::new(), changes: None };
        let Some(old) = previous else { return marks };
        let version = match old.version.as_str() {
            "" => "the version before".to_owned(),
            same if same == show.version => format!("an earlier “{same}” (give each printing a version of its own)"),
            other => other.to_owned(),
        };
        let mut changes = Changes { since: version, new: Vec::new(), changed: Vec::new(), dropped: Vec::new() };
        let now = |label: Label| service.cues.get(label).map_or_else(String::new, |c| bound(&describe(show, c)));
        let line = |label: Label, words: String| Line { label: label.to_string(), kind: label.kind.name(), words };
        let Some(planned) = &old.plan else {
            // If the service did not exist before, all of it is new.
            for cue in &service.cues {
                changes.new.push(line(cue.label, now(cue.label)));
                marks.marks.insert(cue.label, Mark { is: "new", was: String::new() });
            }
            marks.changes = Some(changes);
            return marks;
        };
        let before = planned.service();
        for difference in compare_services(before, service, Match::Bars).unwrap_or_default() {
            match difference {
                Difference::OnlySecond(label) => {
                    changes.new.push(line(label, now(label)));
                    marks.marks.insert(label, Mark { is: "new", was: String::new() });
                }
                Difference::OnlyFirst(label) => {
                    let Some(cue) = before.cues.get(label) else { continue };
                    let words = format!(
                        "{} at {}",
                        bound(&describe(planned.show(), cue)),
                        cue_place_words(cue, planned.grid())
                    );
                    changes.dropped.push(line(label, words));
                }
                Difference::Differs(..) => {}
            }
        }
        for cue in &service.cues {
            let Some(was) = before.cues.get(cue.label) else { continue };
            let words = differences((planned, was), (prepared, cue));
            if !words.is_empty() {
                changes.changed.push(line(cue.label, words.clone()));
                marks.marks.insert(cue.label, Mark { is: "changed", was: words });
            }
        }
        marks.changes = Some(changes);
        marks
    }

    /// A cue's mark.
    pub fn of(&self, label: Label) -> Mark {
        self.marks.get(&label).cloned().unwrap_or_default()
    }

    /// The summary.
    pub fn into_changes(self) -> Option<Changes> {
        self.changes
    }
}

/// What a cue was before, where it differs, in the words of the page. What counts is what people see or do: a cue whose message
/// now leaves at another time has changed, even if nobody edited the cue.
fn differences(old: (&Prepared, &Cue), new: (&Prepared, &Cue)) -> String {
    let mut out = Vec::new();
    let (place_then, place_now) = (cue_place_words(old.1, old.0.grid()), cue_place_words(new.1, new.0.grid()));
    if place_then != place_now {
        out.push(format!("was at {place_then}"));
    }
    let (was, is) = (describe(old.0.show(), old.1), describe(new.0.show(), new.1));
    if was != is {
        out.push(format!("was “{}”", bound(&was)));
    } else if old.1.does != new.1.does {
        out.push("does another thing".to_owned());
    }
    let track = |(plan, cue): (&Prepared, &Cue)| {
        plan.show().track(&cue.track).map_or_else(|| cue.track.to_string(), |t| t.name.clone())
    };
    if track(old) != track(new) {
        out.push(format!("was on {}", track(old)));
    }
    if old.1.resting != new.1.resting {
        out.push(if old.1.resting { "was resting".to_owned() } else { "was not resting".to_owned() });
    }
    if old.1.call != new.1.call {
        out.push("call changed".to_owned());
    }
    if old.1.note != new.1.note {
        out.push(if old.1.note.is_empty() {
            "note added".to_owned()
        } else {
            format!("note was “{}”", old.1.note)
        });
    }
    let lead = |(plan, cue): (&Prepared, &Cue)| plan.row(cue.label).map(|r| r.lead.total());
    if let (Some(then), Some(now)) = (lead(old), lead(new)) {
        let by = round::div_nearest(i128::from((now - then).micros()), 1000);
        if by != 0 {
            let way = if by > 0 { "earlier" } else { "later" };
            out.push(format!("message {}\u{a0}ms {way} before its beat", by.abs()));
        }
    }
    let bytes = |(plan, cue): (&Prepared, &Cue)| {
        plan.row(cue.label).and_then(|r| plan.schedule().wire(r)).map(|w| w.on.clone())
    };
    if bytes(old) != bytes(new) {
        out.push("another message".to_owned());
    }
    if place_then == place_now {
        let land = |(plan, cue): (&Prepared, &Cue)| plan.row(cue.label).map(|r| r.land);
        if let (Some(then), Some(now)) = (land(old), land(new))
            && (now - then).micros().abs() >= SongSpan::from_millis(1).micros()
        {
            out.push(format!("was at {then:.1} of the song"));
        }
    }
    out.join("; ")
}

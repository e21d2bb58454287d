//! What hands set off: numbers at an operator's desk, and cues that come after others.

use super::context::Checks;
use super::problem::{Code, Problem};
use crate::show::{Goes, Label, ReceiverKey, Show};
use std::collections::{BTreeMap, BTreeSet};

/// Two things under one number at one desk: the word for one of them brings the other.
pub(super) fn numbers(show: &Show) -> Vec<Problem> {
    let presets = show.presets.iter().map(|p| (&p.receiver, &p.desk, &p.name));
    let media = show.media.iter().map(|m| (&m.receiver, &m.desk, &m.name));
    let routes = show.routes.iter().map(|r| (&r.receiver, &r.desk, &r.name));
    let mut named: BTreeMap<(&ReceiverKey, &str), Vec<&str>> = BTreeMap::new();
    for (receiver, desk, name) in presets.chain(media).chain(routes).filter(|item| !item.1.trim().is_empty()) {
        named.entry((receiver, desk.trim())).or_default().push(name);
    }
    let twice = named.into_iter().filter(|(_, names)| names.len() > 1);
    twice
        .map(|((receiver, desk), names)| {
            let name = show.receiver(receiver).map_or(receiver.as_str(), |r| r.name.as_str());
            let names: Vec<String> = names.into_iter().map(|name| format!("“{name}”")).collect();
            let what = format!("at {name}, desk number {desk} is given to {}", names.join(" and "));
            Problem::of_rig(Code::DeskNumberTwice, what, "give each a number of its own, the one that its desk shows")
        })
        .collect()
}

/// Cues that come after one that is not there, that rests, or that comes after them.
pub(super) fn after(checks: &mut Checks<'_>) {
    let (show, service) = (checks.show, checks.service);
    let follows = |label: Label| {
        service.cues.get(label).filter(|cue| !cue.resting).map(|cue| match show.goes(cue) {
            Goes::After(first) => Some(first),
            _ => None,
        })
    };
    for cue in service.cues.iter().filter(|cue| !cue.resting) {
        let Goes::After(first) = show.goes(cue) else { continue };
        let mut seen = BTreeSet::from([cue.label]);
        let mut at = first;
        let why = loop {
            if !seen.insert(at) {
                break Some(format!("{} comes after {first}, and {first} in the end after it", cue.label));
            }
            match follows(at) {
                None if at == first => {
                    break Some(format!("{} comes after {first}, which is not sent in this service", cue.label));
                }
                Some(Some(next)) => at = next,
                _ => break None,
            }
        };
        if let Some(what) = why {
            let remedy = "say what sets it off: the machine, an operator on the word, or another cue of this service";
            checks.find(Code::AfterNothing, &[cue.label], what, remedy);
        }
    }
}

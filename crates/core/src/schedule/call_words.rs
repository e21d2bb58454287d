//! How calls are put into words, and how long they take to say.

use crate::show::{Cue, Kind, Show};
use crate::time::SongSpan;

/// How long words take to say at a speech rate, in words a minute. A label such as "R 1" is two words.
pub(super) fn saying(words: &str, per_minute: u16) -> SongSpan {
    let count = words.split_whitespace().count();
    SongSpan::from_secs_f64(60.0 * count as f64 / f64::from(per_minute.max(1)))
}

/// A cue as it is named aloud: by the number that the operator's console shows, or else by its label's number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Spoken {
    kind: Kind,
    number: String,
}

impl Spoken {
    pub(super) fn of(show: &Show, cue: &Cue) -> Spoken {
        let desk = show.desk_number(cue);
        let number = if desk.is_empty() { cue.label.number.to_string() } else { desk.to_owned() };
        Spoken { kind: cue.label.kind, number }
    }
}

/// "lights 12 to 14 and release 1": kinds in the order of their first cue, consecutive numbers as ranges. A number that two cues share is
/// said once.
pub(super) fn names(cues: &[Spoken]) -> String {
    let mut kinds: Vec<Kind> = Vec::new();
    for cue in cues {
        if !kinds.contains(&cue.kind) {
            kinds.push(cue.kind);
        }
    }
    let groups: Vec<String> = kinds
        .into_iter()
        .map(|kind| {
            let mut numbers: Vec<&str> = cues.iter().filter(|c| c.kind == kind).map(|c| c.number.as_str()).collect();
            // Whole numbers in their order, then whatever else a desk calls its cues.
            numbers.sort_by_key(|number| (number.parse::<u32>().unwrap_or(u32::MAX), *number));
            numbers.dedup();
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

/// Three or more consecutive numbers become "12 to 14"; two stay two numbers.
fn runs(numbers: &[&str]) -> Vec<String> {
    let follows = |one: &str, next: &str| {
        let whole = |text: &str| text.parse::<u32>().ok().filter(|number| number.to_string() == text);
        whole(one).and_then(|one| one.checked_add(1)).is_some_and(|one| whole(next) == Some(one))
    };
    let mut out = Vec::new();
    let mut at = 0;
    while at < numbers.len() {
        let mut end = at;
        while numbers.get(end + 1).is_some_and(|next| follows(numbers[end], next)) {
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

/// The text with a capital at its beginning.
pub fn first_upper(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(text: &str) -> String {
        let cue = |text: &str| {
            let (kind, number) = text.split_at(1);
            let kind = Kind::ALL.into_iter().find(|k| k.letter().to_string() == kind).expect(text);
            Spoken { kind, number: number.to_owned() }
        };
        names(&text.split(' ').map(cue).collect::<Vec<_>>())
    }

    #[test]
    fn one_breath_names_many() {
        for (cues, words) in [
            ("L12", "lights 12"),
            ("L12 L13", "lights 12 and 13"),
            ("L12 L13 L14 R1", "lights 12 to 14 and release 1"),
            ("R1 L14 L12 L13", "release 1 and lights 12 to 14"),
            ("L1 L2 L3 L5 O2 O4 M1", "lights 1 to 3 and 5, outputs 2 and 4 and media 1"),
            // What a desk shows is said as it stands there.
            ("L12.5 L12 L13", "lights 12, 13 and 12.5"),
            ("L07 L08 L09", "lights 07, 08 and 09"),
            ("L9 L10 L11 L11", "lights 9 to 11"),
            ("L4294967295 L1", "lights 1 and 4294967295"),
            ("LB2 L3", "lights 3 and B2"),
        ] {
            assert_eq!(said(cues), words);
        }
    }
}

//! How calls are put into words, and how long they take to say.

use crate::show::{Kind, Label};
use crate::time::SongSpan;

/// How long words take to say at a speech rate, in words a minute. A label such as "R 1" is two words.
pub(super) fn saying(words: &str, per_minute: u16) -> SongSpan {
    let count = words.split_whitespace().count();
    SongSpan::from_secs_f64(60.0 * count as f64 / f64::from(per_minute.max(1)))
}

/// "lights 12 to 14 and release 1": kinds in the order of their first cue, consecutive numbers as ranges.
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

/// Three or more consecutive numbers become "12 to 14"; two stay two numbers.
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

/// The text with a capital at its beginning.
pub fn first_upper(words: &str) -> String {
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

//! Words of the safety sheet and of a release's plan: whether they can be mistaken for a call, and whether they fit the release.

use super::context::Checks;
use super::problem::{Code, Problem};
use crate::show::{Course, Release, ReleaseKind, Show};
use std::collections::BTreeSet;

/// The words of a text in small letters, without punctuation.
fn words(text: &str) -> Vec<String> {
    let parts = text.split(|c: char| !c.is_alphanumeric() && c != '\'');
    parts.filter(|part| !part.is_empty()).map(str::to_lowercase).collect()
}

/// Words of fewer letters than this make nothing sound like a call, but for "go".
const SHORT: usize = 4;
/// Nor do these.
const FILLERS: [&str; 4] = ["with", "from", "that", "this"];

/// What is said when something goes wrong must not hold a word of any call: on a clipped headset "no go" is heard as "go".
pub(super) fn like_a_call(checks: &mut Checks<'_>) {
    let show = checks.show;
    let mut called: BTreeSet<String> = ["go", "standby", "stand", "ready"].map(str::to_owned).into();
    for group in checks.call_groups {
        called.extend(words(&group.words));
    }
    // Short words are in every other sentence of any language.
    let short = |word: &str| word != "go" && word.chars().count() < SHORT;
    called.retain(|word| !FILLERS.contains(&word.as_str()) && !short(word) && word.parse::<u32>().is_err());
    let mut said: Vec<(String, &str)> = vec![
        ("the words that stop everything".to_owned(), show.safety.abort_words.as_str()),
        ("the words for a fabric that stays".to_owned(), show.safety.stay_words.as_str()),
    ];
    said.extend(show.releases.iter().filter_map(|release| {
        let plan = release.hang_up.as_ref()?;
        Some((format!("the words for a stuck \"{}\"", release.name), plan.words.as_str()))
    }));
    said.extend(show.releases.iter().flat_map(|release| {
        let branches = [(Course::Stays, &release.stays), (Course::Early, &release.early)];
        branches.into_iter().filter_map(|(course, branch)| {
            let branch = branch.as_ref()?;
            Some((format!("the words for “{}” of \"{}\"", course.name(), release.name), branch.words.as_str()))
        })
    }));
    for (what, text) in said {
        let alike: Vec<String> = words(text).into_iter().filter(|word| called.contains(word)).collect();
        if let Some(first) = alike.first() {
            let what = format!(
                "{what} (“{}”) hold “{first}”, a word of a call: on a bad line it is heard as one",
                text.trim()
            );
            checks.find(Code::WordsLikeCall, &[], what, "choose words that are in no call");
        }
    }
}

/// What the sheet says about people and signals that work against each other.
pub(super) fn sheet(show: &Show) -> Vec<Problem> {
    let sheet = &show.safety;
    let mut found = Vec::new();
    if show.releases.is_empty() {
        return found;
    }
    let mut add = |code, what: String, remedy: &str| found.push(Problem::of_rig(code, what, remedy));
    let clear = words(&sheet.clear_signal);
    // Who gives it stands first: "deputy, a white lamp to the release operator".
    let giver = words(sheet.clear_signal.split([',', ';', ':']).next().unwrap_or_default());
    let operator = words(&sheet.arm_holder);
    if !operator.is_empty() && giver.windows(operator.len()).any(|part| part == operator.as_slice()) {
        add(
            Code::ClearByOperator,
            format!("the clear signal is given by the person who holds the arm (“{}”)", sheet.arm_holder.trim()),
            "let another person, who sees the drop zone, give the clear signal",
        );
    }
    if clear.iter().any(|word| word == "green") {
        add(
            Code::ClearIsGreen,
            format!("the clear signal is green (“{}”), and green means go", sheet.clear_signal.trim()),
            "use a steady white light that stays up until the fall; down means that the fabric stays",
        );
    }
    if sheet.stay_words.trim().is_empty() {
        add(
            Code::NoStayWords,
            "the safety sheet has no words for a fabric that stays up".to_owned(),
            "agree on them and write them there, such as “fabric stays”",
        );
    }
    found.extend(show.releases.iter().filter_map(power_held_steps));
    found
}

/// Steps that are right for units that need power to let go, and let the fabric fall where power holds it.
fn power_held_steps(release: &Release) -> Option<Problem> {
    let plan = release.hang_up.as_ref().filter(|_| release.kind == ReleaseKind::Deenergise)?;
    let said = words(&plan.then);
    let is = |word: &String, list: &[&str]| list.contains(&word.as_str());
    let cut = (0..said.len()).find(|at| {
        let alone = ["unplug", "unplugs", "isolate", "isolates", "isolated"];
        let verbs =
            ["cut", "cuts", "switch", "switches", "turn", "turns", "pull", "pulls", "take", "takes", "power", "key"];
        let things = ["power", "supply", "off", "down", "key", "plug", "fuse", "breaker", "current", "out"];
        let after = &said[at + 1..said.len().min(at + 5)];
        let before = &said[at.saturating_sub(3)..*at];
        let means = is(&said[*at], &alone) || is(&said[*at], &verbs) && after.iter().any(|word| is(word, &things));
        // "Nobody switches the power off" is the right thing to write.
        means && !before.iter().any(|word| is(word, &["not", "never", "nobody", "no", "don't", "without"]))
    })?;
    let cut = said[cut..said.len().min(cut + 4)].join(" ");
    let what = format!(
        "the plan for a stuck \"{}\" says “{cut}”, and power holds that fabric: without power it drops",
        release.name
    );
    let remedy = "write steps for a power-held release: the power stays on until the zone is shut and the competent person says so";
    Some(Problem::of_rig(Code::PowerHeldSteps, what, remedy))
}

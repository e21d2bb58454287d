//! What a sheet says, fact by fact: its fingerprint, and what has changed of it since an earlier version.
//!
//! Both are worked out from the very data that the template gets, so nothing that is printed can be forgotten.

use crate::options::Sheet;
use letfall_core::fingerprint::{Fingerprint, FingerprintMaker};
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// Parts of the data that say nothing about the plan: how and when it was printed, and what is worked out from a comparison.
const NOT_FACTS: [&str; 7] = ["paper", "printed", "version", "changes", "facts", "fingerprints", "mark"];

/// What every sheet has in its head or foot.
const EVERYWHERE: [&str; 10] =
    ["title", "venue", "date", "service", "song", "starts", "ends", "length", "bars", "tempo"];

/// What people have settled about a release, on every sheet that shows the caution.
const SAFETY: [&str; 13] = [
    "abort_words",
    "stay_words",
    "tells_band",
    "clear_signal",
    "drop_zone",
    "competent",
    "caller",
    "arm_holder",
    "spotter",
    "key_switch",
    "local_rule",
    "safety_lacks",
    "press_start",
];

/// The parts of the data that a sheet prints, besides [`EVERYWHERE`].
fn parts(sheet: Sheet) -> Vec<&'static str> {
    let own: &[&str] = match sheet {
        Sheet::Order => &["sections"],
        Sheet::Calls => &["calls"],
        Sheet::Media => &["media"],
        Sheet::Lighting => &["lighting"],
        Sheet::Outputs => &["outputs"],
        Sheet::Release => &["releases", "cautions", "standards"],
        Sheet::Wall => &["wall"],
        Sheet::Kit => &["kit"],
        Sheet::Crew => &["crew"],
        Sheet::StandIn => &["stand_ins"],
        Sheet::Patch => &["patch"],
        Sheet::Between => &["between"],
        Sheet::Papers => &["papers"],
        Sheet::Facts => &["risk"],
        Sheet::ShowStop => &["stop_card"],
        Sheet::Report => &["report"],
        Sheet::Strike => &["strike"],
        Sheet::Room => &["room"],
        Sheet::Known => &["known"],
        Sheet::Survey => &["survey"],
        Sheet::Request => &["request"],
        Sheet::Offers => &["offers"],
        Sheet::Week => &["week"],
        // They are of no plan.
        Sheet::Filming | Sheet::Filmed => &[],
        // Who was given what is no part of the plan, so it has no part in the fingerprint.
        Sheet::Checklist => &["checklist"],
        Sheet::All => return Sheet::EACH.iter().flat_map(|(sheet, _)| parts(*sheet)).collect(),
    };
    let with_caution = matches!(sheet, Sheet::Order | Sheet::Calls | Sheet::Release | Sheet::Checklist);
    own.iter().chain(if with_caution { &SAFETY[..] } else { &[] }).copied().collect()
}

/// The fingerprint of a sheet.
pub fn fingerprint(sheet: Sheet, data: &Value) -> Fingerprint {
    let mut maker = FingerprintMaker::new(sheet.name());
    for part in EVERYWHERE.into_iter().chain(parts(sheet)) {
        maker.text(part);
        add(&mut maker, &data[part]);
    }
    maker.finish()
}

fn add(maker: &mut FingerprintMaker, value: &Value) {
    match value {
        Value::Object(fields) => {
            for (name, below) in fields.iter().filter(|(name, _)| !NOT_FACTS.contains(&name.as_str())) {
                maker.text(name);
                add(maker, below);
            }
            maker.text("}");
        }
        Value::Array(items) => {
            maker.number(i64::try_from(items.len()).unwrap_or(i64::MAX));
            for below in items {
                add(maker, below);
            }
        }
        plain => maker.text(&plain.to_string()),
    }
}

/// A fact that has changed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FactChange {
    /// Which, such as "R1: at the farthest unit, hot and lowest supply".
    what: String,
    /// What it was; "nothing" if it was not there.
    was: String,
    /// What it is now; "nothing" if it is gone.
    is: String,
}

impl FactChange {
    /// Whether a row that is marked as changed says this of itself: where it is, what it does, when it is sent. Who answers and what is
    /// called it does not say.
    pub fn is_in_a_mark(&self) -> bool {
        let said = [
            "place",
            "beyond",
            "time",
            "clock",
            "next",
            "sent",
            "go at",
            "standby at",
            "what",
            "details",
            "message",
            "note",
            "lead",
            "track",
            "resting",
            "there",
        ];
        self.what.rsplit(": ").next().is_some_and(|field| said.contains(&field))
    }

    /// Whether it is of the cue with this label.
    pub fn is_of(&self, label: &str) -> bool {
        self.what.split(": ").any(|part| part == label)
    }
}

/// What has changed on each sheet, by its name on the page, what people's safety hangs on first.
pub fn changes(old: &Value, new: &Value) -> BTreeMap<&'static str, Vec<FactChange>> {
    let mut found = BTreeMap::new();
    for sheet in Sheet::all() {
        // The wall sheet is a picture; its cues are marked, and their facts are on the other sheets.
        let mut of_sheet: Vec<&str> = parts(sheet).into_iter().filter(|part| *part != "wall").collect();
        of_sheet.sort_by_key(|part| {
            let safety = SAFETY.iter().position(|safety| safety == part);
            (safety.is_none(), *part != "releases", safety)
        });
        of_sheet.extend(EVERYWHERE);
        let mut seen = Vec::new();
        of_sheet.retain(|part| {
            !seen.contains(part) && {
                seen.push(*part);
                true
            }
        });
        let changes: Vec<FactChange> =
            of_sheet.into_iter().flat_map(|part| between(part, &old[part], &new[part])).collect();
        found.insert(sheet.name(), changes);
    }
    found
}

/// The changes below one part of the data.
fn between(part: &str, old: &Value, new: &Value) -> Vec<FactChange> {
    let (mut before, mut after) = (Vec::new(), Vec::new());
    leaves(&words(part), old, &mut before);
    leaves(&words(part), new, &mut after);
    let was: BTreeMap<&str, &str> = before.iter().map(|(what, is)| (what.as_str(), is.as_str())).collect();
    let now: BTreeMap<&str, &str> = after.iter().map(|(what, is)| (what.as_str(), is.as_str())).collect();
    let nothing = |text: Option<&&str>| match text {
        None | Some(&"") => "nothing".to_owned(),
        Some(text) => (*text).to_owned(),
    };
    let mut found = Vec::new();
    for (what, is) in &after {
        if was.get(what.as_str()).copied().unwrap_or_default() != is {
            found.push(FactChange {
                what: what.clone(),
                was: nothing(was.get(what.as_str())),
                is: nothing(Some(&is.as_str())),
            });
        }
    }
    for (what, was) in before.iter().filter(|(what, was)| !now.contains_key(what.as_str()) && !was.is_empty()) {
        found.push(FactChange { what: what.clone(), was: was.clone(), is: "nothing".to_owned() });
    }
    found
}

/// All facts below a value, each with its name. Things of a list are known by their label or name, and by their number only if they
/// have neither.
fn leaves(what: &str, value: &Value, out: &mut Vec<(String, String)>) {
    let below = |name: &str| match (what, name) {
        ("", _) => name.to_owned(),
        (_, "") => what.to_owned(),
        _ => format!("{what}: {name}"),
    };
    match value {
        Value::Null => {}
        Value::Object(fields) => {
            for (name, inside) in fields.iter().filter(|(name, _)| !NOT_FACTS.contains(&name.as_str())) {
                // What a thing is known by is in the name of its facts already.
                let id = matches!(name.as_str(), "label" | "name") && inside.is_string();
                if !id {
                    leaves(&below(&words(name)), inside, out);
                }
            }
        }
        Value::Array(items) if items.iter().all(Value::is_string) => {
            let texts: Vec<&str> = items.iter().filter_map(Value::as_str).collect();
            // Two texts are a name and its figure.
            match texts[..] {
                [name, figure] if !name.is_empty() => out.push((below(name), figure.to_owned())),
                _ => out.push((what.to_owned(), texts.join("; "))),
            }
        }
        Value::Array(items) => {
            let mut times: BTreeMap<String, usize> = BTreeMap::new();
            for (at, item) in items.iter().enumerate() {
                let id = ["label", "name", "what", "words"].into_iter().find_map(|id| item[id].as_str());
                if is_pair(item) {
                    leaves(what, item, out);
                    continue;
                }
                let id = id.map_or_else(|| (at + 1).to_string(), str::to_owned);
                let again = times.entry(id.clone()).or_default();
                *again += 1;
                let id = if *again > 1 { format!("{id} ({again})") } else { id };
                out.push((below(&id), "there".to_owned()));
                leaves(&below(&id), item, out);
            }
        }
        Value::String(text) => out.push((what.to_owned(), text.clone())),
        Value::Bool(yes) => out.push((what.to_owned(), if *yes { "yes" } else { "no" }.to_owned())),
        Value::Number(number) => out.push((what.to_owned(), number.to_string())),
    }
}

fn is_pair(value: &Value) -> bool {
    value.as_array().is_some_and(|pair| pair.len() == 2 && pair.iter().all(Value::is_string))
}

/// The name of a part of the data, as people say it.
fn words(part: &str) -> String {
    let said = match part {
        // Things in these are known by their own names.
        "sections" | "calls" | "media" | "lighting" | "outputs" | "releases" | "kit" | "checklist" | "rows"
        | "groups" | "lead" | "hang" | "fall" | "circuit" | "items" | "blocks" => "",
        "abort_words" => "words that stop everything",
        "stay_words" => "words for a fabric that stays",
        "arm_holder" => "release operator",
        "competent" => "competent person",
        "safety_lacks" => "still to settle",
        "press_start" => "start of the files",
        "on_power_loss" => "if power is lost",
        "kind" => "what opens it",
        "ends" => "end",
        "hang_up" => "if the fabric is stuck",
        "courses" | "what_if" => "if it goes otherwise",
        "then" => "what is done next",
        "starts" => "song starts",
        "settled_by" => "armed by",
        "arm_from" => "arm on from",
        "arm_until" => "arm off by",
        other => return other.replace('_', " "),
    };
    said.to_owned()
}

#[cfg(test)]
mod tests {
    use super::super::for_template;
    use super::*;
    use crate::options::{EarlierVersion, PaperOptions};
    use letfall_core::prepared::Prepared;
    use letfall_core::show::{ReleaseKind, Show};
    use std::sync::Arc;

    fn demo() -> Show {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-shows/lantern-night.letfall");
        letfall_core::file::read(&std::fs::read(path).expect("the demo show")).expect("a show")
    }

    fn prepared(show: Show) -> Arc<Prepared> {
        Prepared::hypothetical(Arc::new(show), 1).expect("its late service")
    }

    /// What the release sheet, or another, says has changed.
    fn told(sheet: Sheet, change: impl FnOnce(&mut Show)) -> Vec<FactChange> {
        let mut now = demo();
        change(&mut now);
        let previous = Some(EarlierVersion::of(Arc::new(demo()), "Late"));
        let data = for_template(&prepared(now), &PaperOptions { sheet, previous, ..PaperOptions::default() });
        let of = |fact: &Value| FactChange {
            what: fact["what"].as_str().expect("what").to_owned(),
            was: fact["was"].as_str().expect("was").to_owned(),
            is: fact["is"].as_str().expect("is").to_owned(),
        };
        data["facts"][sheet.name()].as_array().expect("facts").iter().map(of).collect()
    }

    type Change = fn(&mut Show);

    /// Each of these once gave "nothing has changed". Each is told on the release sheet, with what it was.
    #[test]
    fn every_safety_fact_that_changes_is_told() {
        let changes: [(&str, Change); 20] = [
            ("what opens it", |s| s.releases[0].kind = ReleaseKind::Deenergise),
            ("words that stop everything", |s| s.safety.abort_words = "Halt halt halt".into()),
            ("if the fabric is stuck: words", |s| s.releases[0].hang_up.as_mut().unwrap().words = "Stuck".into()),
            ("cloth", |s| s.hangs[0].areal_mass_kg_m2 = 0.2),
            ("song starts", |s| s.services[1].starts = Some("20:45".parse().unwrap())),
            ("words for a fabric that stays", |s| s.safety.stay_words = "It stays".into()),
            ("clear signal", |s| s.safety.clear_signal = "somebody else".into()),
            ("drop zone", |s| s.safety.drop_zone = "The whole stage".into()),
            ("competent person", |s| s.safety.competent = "another rigger".into()),
            ("caller", |s| s.safety.caller = "somebody".into()),
            ("release operator", |s| s.safety.arm_holder = "somebody".into()),
            ("spotter", |s| s.safety.spotter = "somebody".into()),
            ("key switch", |s| s.safety.key_switch = "elsewhere".into()),
            ("units", |s| s.releases[0].units = 8),
            ("end", |s| s.releases[0].pulse = letfall_core::time::SongSpan::from_millis(600)),
            ("at the farthest unit, hot and lowest supply", |s| {
                s.releases[0].circuit.as_mut().unwrap().supply_low_v = Some(22.0);
            }),
            ("rated pull-in", |s| s.releases[0].circuit.as_mut().unwrap().pull_in_v = 18.0),
            ("sightline", |s| s.hangs[0].sightline_m = 1.8),
            ("message", |s| s.releases[0].message = s.releases[0].stand_in.clone().unwrap()),
            ("local rule", |s| s.safety.local_rule.clear()),
        ];
        for (what, change) in changes {
            let told = told(Sheet::Release, change);
            let fact = told.iter().find(|fact| fact.what == what || fact.what == format!("R1: {what}"));
            let fact = fact.unwrap_or_else(|| panic!("{what} is not among {told:#?}"));
            assert!(fact.was != fact.is && !fact.was.is_empty() && !fact.is.is_empty(), "{fact:?}");
        }
        assert_eq!(told(Sheet::Release, |_| {}), []);
    }

    /// A fact is told on the sheet that prints it, and the roles of people come before the rest.
    #[test]
    fn a_fact_is_told_where_it_is_printed() {
        let kit: Change = |s| s.kit[0].quantity = 2;
        let whats = |sheet, change| told(sheet, change).into_iter().map(|fact| fact.what).collect::<Vec<_>>();
        assert!(!whats(Sheet::Kit, kit).is_empty() && whats(Sheet::Lighting, kit).is_empty());
        let answers: Change = |s| s.receivers[0].answers = "somebody".into();
        assert!(!whats(Sheet::Lighting, answers).is_empty() && whats(Sheet::Kit, answers).is_empty());
        let both: Change = |s| {
            s.hangs[0].hardware_kg = 50.0;
            s.safety.abort_words = "Halt".into();
        };
        assert_eq!(whats(Sheet::Release, both)[0], "words that stop everything");
    }

    /// A sheet's fingerprint is of what it says: other paper, another date or version, or an earlier show beside it change nothing.
    #[test]
    fn a_fingerprint_is_of_what_the_sheet_says() {
        let of = |show: Show, options: &PaperOptions| {
            for_template(&prepared(show), options)["fingerprints"]["Call sheet"].as_str().expect("it").to_owned()
        };
        let plain = PaperOptions { sheet: Sheet::Calls, ..PaperOptions::default() };
        let print = of(demo(), &plain);
        let all = PaperOptions {
            sheet: Sheet::All,
            size: crate::options::Size::A3,
            printed: "today".into(),
            previous: Some(EarlierVersion::of(Arc::new(Show { title: "Once".into(), ..demo() }), "Late")),
            ..PaperOptions::default()
        };
        assert_eq!(of(demo(), &all), print);
        assert_eq!(of(Show { version: "draft 99".into(), ..demo() }, &plain), print);
        let mut moved = demo();
        moved.settings.standby = letfall_core::time::SongSpan::from_millis(9000);
        assert_ne!(of(moved, &plain), print);
        let same = crate::fingerprints(&prepared(demo())).into_iter().find(|(sheet, _)| *sheet == Sheet::Calls);
        assert_eq!(same.expect("the call sheet").1.to_string(), print);
        // Every sheet has another.
        let all: std::collections::BTreeSet<_> =
            crate::fingerprints(&prepared(demo())).into_iter().map(|(_, p)| p).collect();
        assert_eq!(all.len(), Sheet::EACH.len() + 1);
    }
}

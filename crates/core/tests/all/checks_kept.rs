//! What the checks say, and the figures, for thousands of small changes of the demo shows: each number halved, doubled, moved by one, negated,
//! set to nothing; each choice turned; each item of a list and each field taken away. A change of a rule or a figure, however small, changes
//! a line of `tests/assets/checks/kept.txt`; whoever means it stores the lines anew with
//! `LETFALL_KEEP_CHECKS=write cargo test --package letfall-core --test all checks_kept`, after a look at what has changed.
//!
//! This is no proof that a rule is right: what is right is tested against published values beside it. It sees that no rule moves unseen.

use letfall_core::prepared::{OutsideFacts, PreparedShow};
use letfall_core::reveal;
use letfall_core::schedule::certainty;
use letfall_core::show::{Circuit, Projection, Show, Wiring};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

const SHOWS: [&str; 3] = ["lantern-night", "first-opener", "three-houses"];
/// Every so manyth change is tried. A prime, so that it meets all kinds.
const EVERY: usize = 7;
/// So many limits are looked for among the values of each kind of place.
const LIMITS: usize = 3;

fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// One step into a show: a field, or an item of a list.
#[derive(Clone)]
enum Step {
    Field(String),
    Item(usize),
}

/// The value at a place.
fn at<'a>(mut value: &'a mut Value, place: &[Step]) -> &'a mut Value {
    for step in place {
        value = match step {
            Step::Field(name) => &mut value[name.as_str()],
            Step::Item(number) => &mut value[*number],
        };
    }
    value
}

fn named(place: &[Step]) -> String {
    let mut text = String::new();
    for step in place {
        match step {
            Step::Field(name) => write!(text, ".{name}").unwrap(),
            Step::Item(_) => text.push_str("[]"),
        }
    }
    text
}

/// All changes of one value, without those of what is in it.
fn changes(value: &Value) -> Vec<Value> {
    match value {
        Value::Bool(yes) => vec![Value::Bool(!yes)],
        Value::Number(number) if number.is_i64() || number.is_u64() => {
            let of = number.as_i64().unwrap_or(0);
            let all = [of + 1, of - 1, of * 2, of / 2, of + of / 10, of - of / 10, -of, 0];
            all.iter().filter(|new| **new != of).map(|new| Value::from(*new)).collect()
        }
        Value::Number(number) => {
            let of = number.as_f64().unwrap_or(0.0);
            let all = [of * 1.01, of * 0.99, of * 2.0, of * 0.5, of * 1.1, of * 0.9, -of, 0.0];
            all.iter().filter(|new| **new != of).map(|new| Value::from(*new)).collect()
        }
        Value::String(text) if text.is_empty() => Vec::new(),
        Value::String(_) => vec![Value::from("")],
        Value::Null | Value::Array(_) | Value::Object(_) => Vec::new(),
    }
}

/// Every place of a show that can be changed, in order.
fn places(value: &Value, here: &mut Vec<Step>, all: &mut Vec<Vec<Step>>) {
    all.push(here.clone());
    match value {
        Value::Array(items) => {
            for (number, item) in items.iter().enumerate() {
                here.push(Step::Item(number));
                places(item, here, all);
                here.pop();
            }
        }
        Value::Object(fields) => {
            for (name, field) in fields {
                here.push(Step::Field(name.clone()));
                places(field, here, all);
                here.pop();
            }
        }
        _ => {}
    }
}

/// FNV-1a, 64 bits (its authors' published constants, from memory).
fn sum(mut sum: u64, text: &str) -> u64 {
    for byte in text.bytes() {
        sum = (sum ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    }
    sum
}

/// All that is said of a show, and all its figures.
fn said(show: &Show) -> String {
    let mut text = String::new();
    let prepared = PreparedShow::new(Arc::new(show.clone()), OutsideFacts::none());
    for problem in prepared.problems() {
        writeln!(text, "{problem:?} {:?}", problem.code.severity()).unwrap();
    }
    for service in 0..show.services.len() {
        let Ok(plan) = prepared.prepare(service) else { continue };
        for row in &plan.schedule().rows {
            let sure = certainty(show, plan.cue(row), row);
            let most = sure.dominating().map(|(term, share)| format!("{} {share:.4} {}", term.name(), term.remedy()));
            let words = (sure.chance_words(), most);
            writeln!(
                text,
                "{} {} {} {} {} {:.6} {words:?}",
                row.label,
                row.send,
                row.early,
                row.late,
                row.waits,
                sure.at_least()
            )
            .unwrap();
        }
    }
    writeln!(text, "{:?}", letfall_core::check::not_checked(show)).unwrap();
    for release in &show.releases {
        let Some(hang) = show.hang(&release.hang) else { continue };
        writeln!(text, "{:?} {:?}", reveal::weight_figures(hang, release), reveal::unit_places(hang, release)).unwrap();
        for to in [letfall_core::show::Instant::Sightline, letfall_core::show::Instant::Floor] {
            let fall = reveal::fall_time(hang, to);
            writeln!(text, "{fall:?} {} {:?}", fall.source(), reveal::fallen(hang, fall, 0.3)).unwrap();
        }
        if let Some(circuit) = &release.circuit {
            let units = release.units;
            writeln!(text, "{:?}", reveal::hot_pull_in_v(circuit)).unwrap();
            // However it is wired.
            let own = circuit.wiring;
            let chain = Wiring::Chain { feed_m: 12.0, step_m: 2.5 };
            for wiring in [own, Wiring::Together { feed_m: 14.0 }, Wiring::Star { longest_m: 9.0 }, chain] {
                let of = Circuit { wiring, ..circuit.clone() };
                let figures = reveal::circuit_figures(&of, units, of.supply_v, of.cable_c, of.coil_c);
                let worst = reveal::worst_case(&of, units).map(|worst| (worst, worst.margin_v()));
                writeln!(text, "{figures:?} {worst:?} {:?}", reveal::unit_volts(&of, units)).unwrap();
            }
        }
    }
    for projection in show.outputs.iter().filter_map(|output| output.projection.as_ref()) {
        writeln!(text, "{:?} {:?}", reveal::light_figures(projection), reveal::impossible_gain(projection)).unwrap();
        let other = reveal::OtherLight { front_lux: 3.0, back_lux: 40.0 };
        for from_behind in [false, true] {
            let of = Projection { from_behind, ..projection.clone() };
            let figures = (reveal::light_figures_with(&of, other), reveal::impossible_gain(&of));
            writeln!(text, "{} {figures:?}", reveal::lumens_for(&of, 48.0)).unwrap();
        }
    }
    text
}

/// The problems of a show by their codes alone, or why it cannot be read.
fn codes(changed: &Value) -> String {
    let text = serde_json::to_vec(changed).unwrap();
    match letfall_core::file::read(&text) {
        Ok(show) => {
            let problems = PreparedShow::new(Arc::new(show), OutsideFacts::none()).problems();
            let mut codes: Vec<String> =
                problems.iter().map(|problem| format!("{:?}{:?}", problem.code, problem.cues)).collect();
            codes.sort_unstable();
            codes.join(" ")
        }
        Err(why) => why.to_string(),
    }
}

/// The value between two at which the problems become others, to the last bit: a limit that moves by one is seen.
fn limit(changed: &mut Value, place: &[Step], (from, to): (&Value, &Value)) -> Option<Value> {
    let mut codes_of = |value: &Value| {
        *at(changed, place) = value.clone();
        codes(changed)
    };
    let own = codes_of(from);
    if codes_of(to) == own {
        return None;
    }
    if let (Some(mut low), Some(mut high)) = (from.as_i64(), to.as_i64()) {
        while low.abs_diff(high) > 1 {
            let middle = low.midpoint(high);
            *(if codes_of(&Value::from(middle)) == own { &mut low } else { &mut high }) = middle;
        }
        return Some(Value::from(high));
    }
    let (mut low, mut high) = (from.as_f64()?, to.as_f64()?);
    loop {
        let middle = f64::midpoint(low, high);
        if middle == low || middle == high {
            return Some(Value::from(high));
        }
        *(if codes_of(&Value::from(middle)) == own { &mut low } else { &mut high }) = middle;
    }
}

/// The changes of a show: for each kind of place, a sum of what was said after them; and how many were tried.
fn tried(name: &str) -> (BTreeMap<String, u64>, usize) {
    let (mut lines, mut counted) = (BTreeMap::new(), 0);
    let bytes = std::fs::read(top().join("demo-shows").join(name).with_extension("letfall")).unwrap();
    let whole: Value = serde_json::from_slice(&bytes).unwrap();
    let mut all = Vec::new();
    places(&whole, &mut Vec::new(), &mut all);
    // For each kind of place, how many limits have been looked for.
    let mut limits: BTreeMap<String, usize> = BTreeMap::new();
    let mut try_out = |changed: &mut Value, place: &[Step], was: Option<&Value>| {
        counted += 1;
        if counted % EVERY != 0 {
            return;
        }
        let text = serde_json::to_vec(changed).unwrap();
        let mut said = letfall_core::file::read(&text).map_or_else(|why| why.to_string(), |show| said(&show));
        let known = limits.entry(named(place)).or_default();
        if let Some(was) = was.filter(|was| was.is_number() && *known < LIMITS) {
            let new = at(changed, place).clone();
            if let Some(limit) = limit(changed, place, (was, &new)) {
                *known += 1;
                write!(said, "{limit}").unwrap();
            }
        }
        let line = lines.entry(format!("{name}{}", named(place))).or_insert(0xcbf2_9ce4_8422_2325);
        *line = sum(*line, &said);
    };
    let mut changed = whole.clone();
    for place in &all {
        let was = at(&mut changed, place).clone();
        for new in changes(&was) {
            *at(&mut changed, place) = new;
            try_out(&mut changed, place, Some(&was));
        }
        *at(&mut changed, place) = was;
        let Some((last, before)) = place.split_last() else { continue };
        let parent = at(&mut changed, before);
        let whole = parent.clone();
        match (parent, last) {
            (Value::Array(items), Step::Item(number)) => drop(items.remove(*number)),
            (Value::Object(fields), Step::Field(name)) => drop(fields.remove(name)),
            _ => continue,
        }
        try_out(&mut changed, place, None);
        *at(&mut changed, before) = whole;
    }
    (lines, counted / EVERY)
}

#[test]
fn no_rule_and_no_figure_moves_unseen() {
    let found: Vec<_> = std::thread::scope(|scope| {
        let all = SHOWS.map(|name| scope.spawn(move || tried(name)));
        all.into_iter().map(|one| one.join().unwrap()).collect()
    });
    let tried: usize = found.iter().map(|(_, tried)| tried).sum();
    let lines: BTreeMap<String, u64> = found.into_iter().flat_map(|(lines, _)| lines).collect();
    println!("{tried} changes");
    assert!(tried > 1500, "{tried}");
    let mut now = String::new();
    for (place, sum) in &lines {
        writeln!(now, "{sum:016x} {place}").unwrap();
    }
    let path = top().join("tests/assets/checks/kept.txt");
    if std::env::var_os("LETFALL_KEEP_CHECKS").is_some() {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, now).unwrap();
        return;
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default().replace('\r', "");
    let other: Vec<&str> = now.lines().filter(|line| !kept.lines().any(|was| was == *line)).collect();
    assert!(
        other.is_empty() && now.len() == kept.len(),
        "other words or figures than were kept, after changes at {} places, such as:\n{}",
        other.len(),
        other.iter().take(12).copied().collect::<Vec<_>>().join("\n")
    );
}

//! Every number of the show file that a person can enter: the schema, `validate` and the limit must agree about it.
//!
//! The schema and the file are walked as plain JSON, by the rules of JSON Schema 2020-12, without using the code that made
//! them.

use letfall_core::{file, limits};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// Numbers that nobody types in directly: set by the program, or checked in their own way.
const NOT_TYPED: [&str; 14] = [
    "Anchor.bar", // typed as a text, within the bounds of BarBeat
    "Anchor.beat",
    "Anchor.ticks",
    "Anchor.nudge_us",
    "Anchor.song_us",
    "BarBeat.bar",
    "BarBeat.beat",
    "BarBeat.ticks",
    "Cue.placed_on",       // fingerprint of the grid that the cue was placed on
    "Guide.length_us",     // read from the recording
    "MetreMark.cut_ticks", // typed as quarter notes
    "Conductor.mm2",       // chosen from the standard's sizes
    "Conductor.awg",
    "Envelope.letfall",
];

/// The demo shows, completed so that between them they have every field.
fn shows() -> Vec<Value> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows");
    let read = |name: &str| {
        let bytes = std::fs::read(folder.join(name).with_extension("letfall")).unwrap();
        serde_json::from_slice::<Value>(&bytes).unwrap()
    };
    let mut shows = ["lantern-night", "first-opener", "three-houses"].map(read).to_vec();
    // Fields that the demo shows leave out.
    let full = &mut shows[0]["show"];
    full["ports"][0]["link"] = json!({ "bytes-per-second": 3125 });
    full["outputs"][0]["projection"]["target_cd_m2"] = json!(48.0);
    for field in ["supply_low_v", "branch_v", "supply_w", "branch_a"] {
        full["releases"][0]["circuit"][field] = json!(20.0);
    }
    full["releases"][0]["circuit"]["wiring"] = json!({ "chain": { "feed_m": 10.0, "step_m": 1.0 } });
    full["services"][0]["song"]["grid"]["pins"] = json!([{ "bar": 1, "at_us": 0 }]);
    full["releases"][0]["message"] = json!({ "note": { "key": 60, "velocity": 100, "length_us": 100_000 } });
    full["presets"][0]["message"] =
        json!({ "show-control": { "timed-go": { "time_us": 1_000_000, "rate": "25", "of": { "cue": "1" } } } });
    full["services"][0]["song"]["grid"]["origin_us"] = json!(0);
    let cues = full["services"][0]["cues"].as_array_mut().unwrap();
    let light = cues.iter_mut().find(|cue| cue["does"]["lighting"].is_object()).unwrap();
    light["does"]["lighting"]["fade_us"] = json!(1_000_000);
    light["lead_adjust_us"] = json!(1000);
    let star = shows[2]["show"]["releases"][0]["circuit"].as_object_mut().unwrap();
    star["wiring"] = json!({ "star": { "longest_m": 5.0 } });
    shows[1]["show"]["releases"][0]["units_at_m"] = json!([0.0, 1.25, 2.5, 3.75, 5.0]);
    shows
}

struct Walk {
    schema: Value,
}

impl Walk {
    fn of<'a>(&'a self, schema: &'a Value) -> (Option<String>, &'a Value) {
        match schema["$ref"].as_str() {
            Some(to) => {
                let name = to.rsplit('/').next().unwrap();
                (Some(name.to_owned()), &self.schema["$defs"][name])
            }
            None => (None, schema),
        }
    }

    /// Walks down a file and its schema together.
    fn down(&self, schema: &Value, value: &Value, kind: &str, at: &str, found: &mut BTreeMap<String, String>) {
        let (name, schema) = self.of(schema);
        let kind = name.as_deref().unwrap_or(kind);
        for branch in ["oneOf", "anyOf", "allOf"] {
            for one in schema[branch].as_array().into_iter().flatten() {
                self.down(one, value, kind, at, found);
            }
        }
        if let (Some(fields), Some(object)) = (schema["properties"].as_object(), value.as_object()) {
            for (field, below) in fields {
                let Some(inside) = object.get(field) else { continue };
                let at = format!("{at}/{field}");
                if inside.is_number() {
                    found.entry(format!("{kind}.{field}")).or_insert_with(|| at.clone());
                }
                if inside[0].is_number() {
                    found.entry(format!("{kind}.{field}")).or_insert_with(|| format!("{at}/0"));
                }
                self.down(below, inside, kind, &at, found);
            }
        }
        if let (true, Some(list)) = (schema["items"].is_object(), value.as_array()) {
            for (n, inside) in list.iter().enumerate() {
                self.down(&schema["items"], inside, kind, &format!("{at}/{n}"), found);
            }
        }
    }
}

/// Every number field of the schema, by "Type.field", with its part of the schema.
fn numbers(schema: &Value) -> BTreeMap<String, Value> {
    fn walk(schema: &Value, of: &Value, kind: &str, out: &mut BTreeMap<String, Value>) {
        for (field, below) in of["properties"].as_object().into_iter().flatten() {
            let target = below["$ref"]
                .as_str()
                .or_else(|| below["anyOf"].as_array().and_then(|all| all.iter().find_map(|one| one["$ref"].as_str())))
                .map(|to| &schema["$defs"][to.rsplit('/').next().unwrap()]);
            let number = |of: &Value| {
                let is = |kind: &Value| kind == "number" || kind == "integer";
                is(&of["type"]) || of["type"].as_array().is_some_and(|kinds| kinds.iter().any(is))
            };
            // A number type with its own range, such as a MIDI channel, needs no other limit.
            let own = |target: &&Value| target["minimum"].is_number() && target["maximum"].as_f64() <= Some(16_383.0);
            if number(&below["items"]) {
                out.insert(format!("{kind}.{field}"), below["items"].clone());
            } else if number(below) || target.is_some_and(|t| number(t) && !own(&t)) {
                out.insert(format!("{kind}.{field}"), below.clone());
            }
            walk(schema, below, kind, out);
        }
        for branch in ["oneOf", "anyOf"] {
            for one in of[branch].as_array().into_iter().flatten() {
                walk(schema, one, kind, out);
            }
        }
    }
    let mut out = BTreeMap::new();
    for (kind, of) in schema["$defs"].as_object().unwrap() {
        walk(schema, of, kind, &mut out);
    }
    out
}

#[test]
fn the_schema_has_a_range_for_every_number_and_it_is_the_limits() {
    let schema: Value = serde_json::from_str(&file::schema()).unwrap();
    let numbers = numbers(&schema);
    let limits: BTreeMap<&str, &limits::Limit> = limits::ALL.iter().map(|limit| (limit.field, limit)).collect();
    assert_eq!(limits.len(), limits::ALL.len(), "each field once");
    for (field, says) in &numbers {
        if NOT_TYPED.contains(&field.as_str()) {
            continue;
        }
        let limit = limits.get(field.as_str()).unwrap_or_else(|| panic!("{field} has no limit"));
        assert_eq!(says["minimum"].as_f64(), Some(limit.low), "{field}");
        assert_eq!(says["maximum"].as_f64(), Some(limit.high), "{field}");
        assert_eq!(says["x-step"].as_f64(), Some(limit.step), "{field}");
        assert!(limit.low < limit.high && limit.step > 0.0 && limit.step < limit.high - limit.low, "{field}");
    }
    for field in limits.keys() {
        assert!(numbers.contains_key(*field), "there is no number {field} in the file");
    }
}

/// A number is accepted at both ends of its range and refused beyond them, with a reason that says what is allowed.
#[test]
fn validate_takes_just_what_the_schema_says() {
    let schema: Value = serde_json::from_str(&file::schema()).unwrap();
    let walk = Walk { schema: schema.clone() };
    let shows = shows();
    let mut found: BTreeMap<String, (usize, String)> = BTreeMap::new();
    for (n, show) in shows.iter().enumerate() {
        let bytes = serde_json::to_vec(show).unwrap();
        file::read(&bytes).unwrap_or_else(|why| panic!("show {n}: {why}"));
        let mut here = BTreeMap::new();
        walk.down(&schema, show, "Envelope", "", &mut here);
        for (field, at) in here {
            found.entry(field).or_insert((n, at));
        }
    }
    let numbers = numbers(&schema);
    let missing: Vec<&String> =
        numbers.keys().filter(|f| !found.contains_key(*f) && !NOT_TYPED.contains(&f.as_str())).collect();
    assert!(missing.is_empty(), "no show here has {missing:?}");
    let mut tried = 0;
    for (field, says) in numbers.iter().filter(|(field, _)| !NOT_TYPED.contains(&field.as_str())) {
        let (n, at) = &found[field];
        let with = |value: f64| {
            let mut show = shows[*n].clone();
            let place = show.pointer_mut(at).unwrap();
            #[allow(clippy::cast_possible_truncation)] // whole numbers within a day of microseconds
            let whole = value.fract() == 0.0;
            *place = if whole { json!(value as i64) } else { json!(value) };
            // These two heights depend on each other: the sightline is never above the top.
            if field == "Hang.top_m" {
                let hang = at.trim_end_matches("top_m");
                *show.pointer_mut(&format!("{hang}sightline_m")).unwrap() = json!(0.0);
            } else if field == "Hang.sightline_m" {
                let hang = at.trim_end_matches("sightline_m");
                *show.pointer_mut(&format!("{hang}top_m")).unwrap() = json!(100.0);
            }
            file::read(&serde_json::to_vec(&show).unwrap())
        };
        let (low, high) = (says["minimum"].as_f64().unwrap(), says["maximum"].as_f64().unwrap());
        let out_of_range = |why: &str| why.contains("; give ") && why.contains(" to ");
        for inside in [low, high] {
            // A mark that makes no valid grid is refused for that reason, never for its range.
            if let Err(why) = with(inside) {
                let marks = ["Song.bars", "GridPlan.", "MetreMark.", "Pin.", "Section.", "ShowCommand.", "Projector."];
                let by_another_rule = marks.iter().any(|mark| field.starts_with(mark));
                assert!(
                    by_another_rule && !why.to_string().contains(&format!("give {low} to")),
                    "{field} {inside}: {why}"
                );
            }
        }
        let by = ((high - low) / 1e6).max(1.0);
        for outside in [low - by, high + by] {
            let why = with(outside).expect_err(&format!("{field} {outside} is taken")).to_string();
            let by_type = why.contains("invalid value") || why.contains("is not") || why.contains("expected");
            assert!(out_of_range(&why) || by_type || !why.is_empty(), "{field} {outside}: {why}");
        }
        tried += 1;
    }
    assert!(tried >= 60, "{tried} numbers tried");
}

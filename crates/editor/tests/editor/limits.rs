//! A field can show every value that a show may have: viewing it, or going through it with the keyboard, changes nothing.

use crate::desk::{Desk, RIG_TABLES, demo};
use egui::accesskit::Role;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use letfall_core::limits::{self, Limit};
use letfall_core::show::Show;
use letfall_editor::Screen;
use serde_json::{Value, json};

/// For each part of the show file that the Rig screen edits, a field that identifies the part.
const MARKS: [(&str, &str); 13] = [
    ("Settings", "words_per_minute"),
    ("Latency", "mean_us"),
    ("Receiver", "answers"),
    ("Preset", "colour"),
    ("MediaItem", "pre_roll_us"),
    ("Projection", "lumens"),
    ("Hang", "sightline_m"),
    ("MeasuredDrop", "seconds"),
    ("Release", "arm_before_us"),
    ("Circuit", "pull_in_v"),
    ("Wiring", "feed_m"),
    ("KitItem", "quantity"),
    ("Budget", "contingency_percent"),
];

/// Sets every number of the rig to what `want` gives for its limit. Returns how many there were.
fn set(value: &mut Value, want: &dyn Fn(&Limit, f64) -> f64) -> usize {
    let mut count = 0;
    match value {
        Value::Object(object) => {
            for limit in limits::ALL {
                let (kind, field) = limit.field.split_once('.').unwrap();
                let is = MARKS.iter().any(|(of, mark)| *of == kind && object.contains_key(*mark));
                if let Some(number) = object.get_mut(field).filter(|v| is && v.is_number()) {
                    let wanted = want(limit, number.as_f64().unwrap());
                    // A whole number must stay a whole number.
                    let whole = number.is_i64() || number.is_u64();
                    let whole = whole.then(|| letfall_core::time::round::nearest(wanted));
                    *number = whole.map_or_else(|| json!(wanted), |whole| json!(whole));
                    count += 1;
                }
            }
            count + object.values_mut().map(|below| set(below, want)).sum::<usize>()
        }
        Value::Array(list) => list.iter_mut().map(|below| set(below, want)).sum(),
        _ => 0,
    }
}

fn with(want: &dyn Fn(&Limit, f64) -> f64) -> Show {
    let mut file: Value = serde_json::from_slice(&letfall_core::file::write(&demo())).unwrap();
    let circuit = &mut file["show"]["releases"][0]["circuit"];
    circuit["wiring"] = json!({ "chain": { "feed_m": 10.0, "step_m": 1.0 } });
    assert!(set(&mut file, want) > 60, "numbers of the rig");
    // A sightline cannot be above the top edge.
    let hang = &mut file["show"]["hangs"][0];
    if hang["sightline_m"].as_f64() > hang["top_m"].as_f64() {
        hang["sightline_m"] = hang["top_m"].clone();
    }
    letfall_core::file::read(&serde_json::to_vec(&file).unwrap()).unwrap()
}

fn visit(show: &Show, what: &str) {
    let desk = Desk::new();
    let mut h = desk.editor(show.clone());
    h.set_size(egui::vec2(2400.0, 2400.0));
    h.state_mut().screen = Screen::Rig;
    h.run_steps(2);
    let mut visited = 0;
    for (table, _) in RIG_TABLES.into_iter().filter(|(_, figures)| *figures) {
        h.get_by_role_and_label(Role::Button, table).click();
        h.run_steps(3);
        let count = h.get_all_by(|node| node.role() == Role::SpinButton).count();
        for at in 0..count {
            h.get_all_by(|node| node.role() == Role::SpinButton).nth(at).unwrap().focus();
            h.run_steps(2);
            visited += 1;
        }
        h.get_by_role_and_label(Role::Button, table).focus();
        h.run_steps(2);
        let document = &h.state().document;
        let named = h.get_all_by(|node| node.role() == Role::SpinButton);
        let names: Vec<_> = named.filter_map(|node| node.accesskit_node().label()).collect();
        assert_eq!(document.history.depth(), 0, "{what}, {table}: something was changed by looking, of {names:?}");
    }
    assert!(visited > 80, "{visited} fields");
    let (now, before) = (letfall_core::file::write(&h.state().document.show), letfall_core::file::write(show));
    assert!(now == before, "{what}: the file's bytes are the same");
}

#[test]
fn fields_hold_the_least_the_most_and_what_is_no_step() {
    visit(&with(&|limit, _| limit.low), "the least");
    visit(&with(&|limit, _| limit.high), "the most");
    let odd = |limit: &Limit, _: f64| limit.low + (limit.high - limit.low) * 0.123_456_789;
    visit(&with(&odd), "between two steps");
    let mut imperial = with(&odd);
    imperial.settings.units = letfall_core::show::Units::Imperial;
    visit(&imperial, "in feet and pounds");
}

/// A show without a budget still has none after its equipment was viewed.
#[test]
fn a_budget_is_not_made_by_looking() {
    let mut show = demo();
    show.budget = None;
    visit(&show, "no budget");
}

/// The song's marks beside the score: times in microseconds are shown in milliseconds but keep their value.
#[test]
fn a_songs_marks_are_not_changed_by_looking() {
    let mut show = demo();
    let grid = &mut show.services[1].song.grid;
    grid.origin = letfall_core::time::SongTime::saturating(7);
    let at = grid.build().unwrap().bar_time(9) + letfall_core::time::SongSpan::from_micros(123);
    grid.pins = vec![letfall_core::time::Pin { bar: 9, at }];
    assert!(show.validate().is_ok());
    let desk = Desk::new();
    let mut h = desk.editor(show.clone());
    h.set_size(egui::vec2(1440.0, 2400.0));
    h.get_by_label("Song: bars, metre, tempo, sections…").click();
    h.run_steps(3);
    let count = h.get_all_by(|node| node.role() == Role::SpinButton).count();
    assert!(count > 8, "{count} fields");
    for at in 0..count {
        h.get_all_by(|node| node.role() == Role::SpinButton).nth(at).unwrap().focus();
        h.run_steps(2);
    }
    h.get_by_label("Close the song's marks").focus();
    h.run_steps(2);
    assert_eq!(h.state().document.history.depth(), 0);
    assert_eq!(*h.state().document.show, show);
}

/// Types a text into the number field with this name, over what stands there.
fn type_in(h: &mut egui_kittest::Harness<'_, letfall_editor::Editor>, name: &str, text: &str) {
    use egui::{Event, Key};
    h.get_all_by_role_and_label(Role::SpinButton, name).next().unwrap().focus();
    h.run_steps(3);
    h.key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
    h.event(Event::Text(text.to_owned()));
    h.run_steps(2);
    h.key_press(Key::Enter);
    h.run_steps(4);
}

/// Every number field of Rig takes a number with a unit, converts it, and refuses what is another quantity, with a sentence, keeping what
/// was there. Units are typed both ways: on a metric show in feet, pounds and milliseconds, on an imperial one in metres, kilograms and
/// seconds.
#[test]
fn units_typed_into_every_field_are_converted_or_refused() {
    for units in [letfall_core::show::Units::Metric, letfall_core::show::Units::Imperial] {
        let mut show = demo();
        show.settings.units = units;
        let desk = Desk::new();
        let mut h = desk.editor(show);
        h.set_size(egui::vec2(2400.0, 2400.0));
        h.state_mut().screen = Screen::Rig;
        h.run_steps(2);
        let mut tried = 0;
        for (table, _) in RIG_TABLES.into_iter().filter(|(_, figures)| *figures) {
            h.get_by_role_and_label(Role::Button, table).click();
            h.run_steps(3);
            let names: Vec<String> = h
                .get_all_by(|node| node.role() == Role::SpinButton)
                .filter_map(|node| node.accesskit_node().label())
                .collect();
            for name in names {
                let shown = |h: &egui_kittest::Harness<'_, letfall_editor::Editor>| {
                    let mut all = h.get_all_by_role_and_label(Role::SpinButton, &name);
                    all.next().and_then(|node| node.accesskit_node().value()).unwrap_or_default()
                };
                let before = shown(&h);
                // A unit that the field's own quantity has too, in another size; and one that it has not.
                let unit = before.trim_start_matches('≈').split_once(' ').map_or("", |(_, unit)| unit).to_owned();
                let (typed, wrong) = match unit.as_str() {
                    "ms" => ("0.25 s", "3 ft"),
                    "s" => ("1500 ms", "3 %"),
                    "m" => ("10 ft", "2 s"),
                    "ft" => ("2 m", "2 s"),
                    "kg" => ("10 lb", "2 m"),
                    "lb" => ("2 kg", "2 m"),
                    "kg/m²" | "lb/sq ft" => ("150 g/m²", "2 kg"),
                    "V" => ("20000 mV", "2 A"),
                    "%" => ("30 %", "3 s"),
                    _ => continue,
                };
                type_in(&mut h, &name, wrong);
                let kept = shown(&h);
                assert_eq!(kept, before, "{units:?}, {table}, {name}: {wrong} was taken");
                let said = h.query_all_by_label_contains(&format!("“{wrong}” is not")).count();
                assert!(said > 0, "{units:?}, {table}, {name}: no word about {wrong}");
                let depth = h.state().document.history.depth();
                type_in(&mut h, &name, typed);
                let now = shown(&h);
                let number: f64 = now.trim_start_matches('≈').split(' ').next().unwrap().parse().unwrap();
                let wanted = match unit.as_str() {
                    "ms" => 250.0,
                    "s" => 1.5,
                    "m" => 3.048,
                    "ft" => 6.562,
                    "kg" => 4.536,
                    "lb" => 4.409,
                    "kg/m²" => 0.15,
                    "lb/sq ft" => 0.031,
                    "V" => 20.0,
                    _ => 30.0,
                };
                assert!((number - wanted).abs() < 0.0006, "{units:?}, {table}, {name}: {typed} became {now}");
                let steps = h.state().document.history.depth() - depth;
                assert!(steps <= 1, "{name}: {steps} steps");
                // Put back, so that fields do not meet each other's limits.
                while h.state().document.history.depth() > 0 {
                    h.state_mut().document.undo();
                }
                h.run_steps(3);
                tried += 1;
            }
        }
        assert!(tried > 40, "{units:?}: {tried} fields");
    }
}

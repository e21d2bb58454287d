//! What the light does at an instant: each track its own, and how a receiver adds them up.

use super::checks::{light, with};
use super::plans::one;
use letfall_core::prepared::Prepared;
use letfall_core::show::Show;
use letfall_core::time::SongTime;
use std::sync::Arc;

/// A matt surface that throws back and lets through more than falls on it, and one that does not: cases of the checks.
pub fn impossible_gain() -> (Show, Show) {
    let gain = |gain: f64| {
        with(one(""), |s| {
            let p =
                serde_json::json!({"lumens": 5000, "width_m": 4, "height_m": 2.25, "gain": gain, "transmission": 0.5});
            s.outputs[0].projection = Some(serde_json::from_value(p).unwrap());
        })
    };
    (gain(1.0), gain(0.5))
}

/// A picture under too much other light, and under just little enough: cases of the checks. check-values 9: 39.0873 lx is the most ambient
/// light for 15:1 under 555.5556 lx.
pub fn washed_out() -> (Show, Show) {
    let lux = |lux: f64| {
        let o1 = r#"{"label":"O1","track":"o","at":"3|1","does":{"output":{"route":"house-still"}}}"#;
        with(one(&format!("{o1},{}", light("L1", "5|1", "cold"))), |s| {
            let p = serde_json::json!({"lumens": 5000, "width_m": 4, "height_m": 2.25, "viewing": "basic-decisions"});
            s.outputs[1].projection = Some(serde_json::from_value(p).unwrap());
            s.presets[1].front_lux = lux;
        })
    };
    (lux(39.09), lux(39.08))
}

/// Two lighting tracks. Bar 5 is at 8 s; "warm" fades for 2 s to 100 %, "low" for 4 s to 20 % and "out" for 1 s to nothing.
fn show(rule: &str) -> Show {
    let cue = |label: &str, track: &str, at: &str, preset: &str| {
        format!(r#"{{"label":"{label}","track":"{track}","at":"{at}","does":{{"lighting":{{"preset":"{preset}"}}}}}}"#)
    };
    let cues = [
        cue("L1", "l", "5|1", "warm"),
        cue("L2", "back", "6|1", "warm"),
        cue("L3", "back", "9|1", "out"),
        cue("L4", "l", "9|3", "low"),
        cue("L5", "l", "10|1", "out"),
    ];
    let mut show = one(&cues.join(","));
    show.tracks.push(serde_json::from_str(r#"{"key":"back","name":"Backlight","kind":"lighting"}"#).unwrap());
    for (key, colour, fade_us, level) in [("low", "0000ff", 4_000_000, 20), ("out", "000000", 1_000_000, 0)] {
        let mut preset = show.presets[0].clone();
        preset.key = key.parse().unwrap();
        colour.clone_into(&mut preset.colour);
        preset.fade = letfall_core::time::SongSpan::from_micros(fade_us);
        preset.level = level;
        show.presets.push(preset);
    }
    "ff8000".clone_into(&mut show.presets[0].colour);
    show.receivers[0].combines = serde_json::from_str(rule).unwrap();
    show
}

/// Each state as its preset and level in percent.
fn at(show: &Show, millis: i64) -> Vec<(String, i64)> {
    let plan = Prepared::hypothetical(Arc::new(show.clone()), 0).unwrap();
    let lights = plan.stage().lights_at(show, SongTime::saturating(millis * 1000));
    let words = |light: &letfall_core::stage::Light| {
        (show.presets[light.preset].key.to_string(), letfall_core::time::round::nearest(light.level * 100.0))
    };
    lights.iter().map(words).collect()
}

fn states(list: &[(&str, i64)]) -> Vec<(String, i64)> {
    list.iter().map(|(preset, level)| ((*preset).to_owned(), *level)).collect()
}

/// "Backlight off, 0 %" does not stand for the whole stage while the wash is at 100 %.
#[test]
fn each_track_keeps_its_own_light() {
    let show = show("\"highest\"");
    for (millis, wanted) in [
        (7_999, &[][..]),
        (8_000, &[("warm", 0)]),
        (9_000, &[("warm", 50)]),
        (11_000, &[("warm", 100), ("warm", 50)]),
        (16_500, &[("warm", 100), ("out", 50)]),
        (17_000, &[("low", 100), ("out", 0)]),
        // From 100 % towards 20 % in 4 s: after one of them 80 %. The next fade takes over from there.
        (18_000, &[("out", 80), ("out", 0)]),
        (18_500, &[("out", 40), ("out", 0)]),
        (60_000, &[("out", 0), ("out", 0)]),
    ] {
        assert_eq!(at(&show, millis), states(wanted), "{millis} ms");
    }
}

#[test]
fn on_some_receivers_the_newest_preset_replaces_all_others() {
    let show = show("\"latest\"");
    for (millis, wanted) in [(11_000, &[("warm", 100)][..]), (16_500, &[("out", 50)]), (18_000, &[("out", 5)])] {
        assert_eq!(at(&show, millis), states(wanted), "{millis} ms");
    }
}

/// A colour goes over with its fade; dark takes the colour of what it was, and what comes out of the dark has its own at once.
#[test]
fn a_colour_goes_over_in_a_fade() {
    let show = show("\"highest\"");
    let plan = Prepared::hypothetical(Arc::new(show.clone()), 0).unwrap();
    let colour = |millis: i64, slot: usize| {
        plan.stage().lights_at(&show, SongTime::saturating(millis * 1000))[slot]
            .colour
            .map(letfall_core::time::round::nearest)
    };
    assert_eq!(colour(8_100, 0), [255, 128, 0]);
    assert_eq!(colour(17_500, 0), [223, 112, 32]);
    assert_eq!(colour(16_900, 1), [255, 128, 0]);
}

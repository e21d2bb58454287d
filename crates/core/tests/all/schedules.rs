//! Working back from the beat.

use super::plans;
use letfall_core::schedule::{Schedule, calls};
use letfall_core::stage::Stage;
use letfall_core::time::SongSpan;

fn row(show: &letfall_core::show::Show, label: &str) -> (i64, i64) {
    let schedule = Schedule::build(show, &show.services[0]).unwrap();
    let row = schedule.row(label.parse().unwrap()).unwrap();
    (row.send.micros(), row.land.micros())
}

/// check-values 10, combined check (own composition there): top edge past 1.8 m from 4 m at 60.000 s; free fall
/// 0.669832 s, device 0.040 s, three bytes 0.000960 s: send at 59.289208 s. The fall is given as measured drops.
#[test]
fn combined_check() {
    let cue = r#"{"label":"R1","track":"r","at":"31|1","does":{"release":{"release":"front","lands":"sightline"}}}"#;
    let mut show = plans::one(cue);
    show.receivers[2].latency.mean = SongSpan::ZERO;
    for drop in &mut show.hangs[0].measured {
        drop.seconds = 0.669_832;
    }
    let (send, land) = row(&show, "R1");
    assert_eq!(land, 60_000_000);
    assert!((send - 59_289_208).abs() <= 1, "{send}");
}

/// MIDI 1.0: 320 µs a byte at 31.25 kbaud, so two bytes of program change are 640 µs of the lead.
#[test]
fn leads_add_up() {
    let light = |extra: &str| {
        format!(r#"{{"label":"L1","track":"l","at":"5|1","does":{{"lighting":{{"preset":"warm"{extra}}}}}}}"#)
    };
    assert_eq!(row(&plans::one(&light("")), "L1").0, 8_000_000 - 40_000 - 640);
    assert_eq!(row(&plans::one(&light(r#","share":"half""#)), "L1").0, 8_000_000 - 40_000 - 640 - 1_000_000);
    assert_eq!(
        row(&plans::one(&light(r#","share":"done","fade_us":500000"#)), "L1").0,
        8_000_000 - 40_000 - 640 - 500_000
    );
    let media = r#"{"label":"M1","track":"m","at":"5|1","does":{"media":{"item":"film"}},"lead_adjust_us":-20000}"#;
    assert_eq!(row(&plans::one(media), "M1").0, 8_000_000 - 90_000 - 960 - 500_000 + 20_000);
    // 10 m at 20 °C are 29.136 ms (check-values 10): sent so much later, to meet the sound at that seat.
    let mut far = plans::one(&light(""));
    far.settings.seat_m = 10.0;
    assert_eq!(row(&far, "L1").0, 8_000_000 - 40_000 - 640 + 29_136);
}

#[test]
fn due_together_releases_leave_first() {
    let cues = r#"{"label":"L1","track":"l","at":"5|1","does":{"lighting":{"preset":"cold"}}},
        {"label":"R1","track":"r","at":"5|1","does":{"release":{"release":"front"}},"lead_adjust_us":-10320}"#;
    let show = plans::one(cues);
    let schedule = Schedule::build(&show, &show.services[0]).unwrap();
    let (first, second) = (&schedule.rows[0], &schedule.rows[1]);
    assert_eq!(first.send, second.send, "made so");
    assert_eq!((first.label.to_string().as_str(), first.waits.micros()), ("R1", 0));
    assert_eq!((second.label.to_string().as_str(), second.waits.micros()), ("L1", 960));
    assert_eq!(schedule.ports[0].worst.unwrap().waits.micros(), 960);
}

#[test]
fn standby_is_eight_seconds_ahead_on_a_beat() {
    let cue = r#"{"label":"R1","track":"r","at":"17|1","does":{"release":{"release":"front"}}}"#;
    let show = plans::one(cue);
    let schedule = Schedule::build(&show, &show.services[0]).unwrap();
    let spoken = calls(&show, &show.services[0], &schedule);
    // Go a little before 32 s; 8 s before that lies between beats; the beat before is 23.5 s.
    assert_eq!(spoken[0].standby.unwrap().micros(), 23_500_000);
    assert_eq!((spoken[0].standby_words.as_str(), spoken[0].go_words.as_str()), ("Standby release 1", "Release 1 go"));
}

#[test]
fn the_stage_follows_the_schedule() {
    let cues = r#"{"label":"R1","track":"r","at":"9|1","does":{"release":{"release":"front","lands":"sightline"}}},
        {"label":"O1","track":"o","at":"9|1","does":{"output":{"route":"house-still"}}},
        {"label":"O2","track":"o","at":"9|1","does":{"output":{"route":"front-blank"}}},
        {"label":"M1","track":"m","at":"5|1","does":{"media":{"item":"film"}}}"#;
    let show = plans::one(cues);
    let schedule = Schedule::build(&show, &show.services[0]).unwrap();
    let stage = Stage::new(&show, &show.services[0], &schedule);
    let at = |secs: i64| letfall_core::time::SongTime::saturating(secs * 1_000_000);
    let route = |output, secs| show.routes[stage.showing_at(output, at(secs)).unwrap().route.unwrap()].key.to_string();
    assert_eq!(
        [route(0, 15), route(1, 15), route(0, 16), route(1, 17)],
        ["front-a", "house-blank", "front-blank", "house-still"]
    );
    assert_eq!(stage.falling[0].sightline().micros(), 16_000_000);
    assert_eq!((stage.playing[0].from.micros(), stage.playing[0].until.micros()), (8_000_000, 16_000_000));
}

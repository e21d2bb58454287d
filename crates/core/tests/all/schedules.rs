//! Tests working back from the beat: land, lead and send.

use super::plans::{self, prepared};
use letfall_core::time::SongSpan;

fn row(show: &letfall_core::show::Show, label: &str) -> (i64, i64) {
    let prepared = prepared(show);
    let row = prepared.row(label.parse().unwrap()).unwrap();
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
    // 10 m at 20 °C are 29.136 ms (check-values 10): it is sent that much later, to meet the sound at that seat.
    let mut far = plans::one(&light(""));
    far.settings.seat_m = 10.0;
    assert_eq!(row(&far, "L1").0, 8_000_000 - 40_000 - 640 + 29_136);
}

#[test]
fn due_together_releases_leave_first() {
    let cues = r#"{"label":"L1","track":"l","at":"5|1","does":{"lighting":{"preset":"cold"}}},
        {"label":"R1","track":"r","at":"5|1","does":{"release":{"release":"front"}},"lead_adjust_us":-10320}"#;
    let show = plans::one(cues);
    let prepared = prepared(&show);
    let schedule = prepared.schedule();
    let (first, second) = (&schedule.rows[0], &schedule.rows[1]);
    assert_eq!(first.send, second.send, "made so");
    assert_eq!((first.label.to_string().as_str(), first.waits.micros()), ("R1", 0));
    assert_eq!((second.label.to_string().as_str(), second.waits.micros()), ("L1", 960));
    assert_eq!(schedule.ports[0].worst.unwrap().waits.micros(), 960);
}

#[test]
fn standby_is_eight_seconds_ahead_on_a_beat_and_a_releases_thirty() {
    let cues = r#"{"label":"R1","track":"r","at":"17|1","does":{"release":{"release":"front"}}},
        {"label":"L1","track":"l","at":"17|1","does":{"lighting":{"preset":"warm"}}}"#;
    let mut show = plans::one(cues);
    show.tracks.iter_mut().for_each(|t| t.called = true);
    let prepared = prepared(&show);
    let spoken = prepared.calls();
    let of = |label: &str| spoken.iter().find(|call| call.label == label.parse().unwrap()).unwrap();
    // Go a little before 32 s; 8 s before that lies between beats; the beat before is 23.5 s. 30 s before: 1.5 s.
    assert_eq!(of("L1").standby.unwrap().micros(), 23_500_000);
    assert_eq!(of("R1").standby.unwrap().micros(), 1_500_000);
    let words = (of("R1").standby_words.as_str(), of("R1").go_words.as_str());
    assert_eq!(words, ("Standby release 1", "Release 1 go"));
}

#[test]
fn the_stage_follows_the_schedule() {
    let cues = r#"{"label":"R1","track":"r","at":"9|1","does":{"release":{"release":"front","lands":"sightline"}}},
        {"label":"O1","track":"o","at":"9|1","does":{"output":{"route":"house-still"}}},
        {"label":"O2","track":"o","at":"9|1","does":{"output":{"route":"front-blank"}}},
        {"label":"M1","track":"m","at":"5|1","does":{"media":{"item":"film"}}}"#;
    let show = plans::one(cues);
    let prepared = prepared(&show);
    let stage = prepared.stage();
    let at = |secs: i64| letfall_core::time::SongTime::saturating(secs * 1_000_000);
    let route = |output, secs| show.routes[stage.showing_at(output, at(secs)).unwrap().route.unwrap()].key.to_string();
    assert_eq!(
        [route(0, 15), route(1, 15), route(0, 16), route(1, 17)],
        ["front-a", "house-blank", "front-blank", "house-still"]
    );
    assert_eq!(stage.falling[0].sightline().micros(), 16_000_000);
    assert_eq!((stage.playing[0].from.micros(), stage.playing[0].until.micros()), (8_000_000, 16_000_000));
}

/// The calls of a plan in which every track is called, each as "place kind words".
fn said(cues: &[(&str, &str)], rate: u16) -> Vec<String> {
    use letfall_core::schedule::CallKind;
    let cue = |(label, at): &(&str, &str)| match label.as_bytes()[0] {
        b'R' => format!(r#"{{"label":"{label}","track":"r","at":"{at}","does":{{"release":{{"release":"front"}}}}}}"#),
        _ => format!(r#"{{"label":"{label}","track":"l","at":"{at}","does":{{"lighting":{{"preset":"warm"}}}}}}"#),
    };
    let mut show = plans::one(&cues.iter().map(cue).collect::<Vec<_>>().join(","));
    show.settings.words_per_minute = rate;
    show.tracks.iter_mut().for_each(|t| t.called = true);
    let prepared = prepared(&show);
    let schedule = prepared.schedule();
    prepared
        .call_groups()
        .iter()
        .map(|b| {
            let place = schedule.grid.place_of(schedule.grid.tick_at(b.at));
            let sort = if b.kind == CallKind::Go { "go" } else { "standby" };
            let late = if b.is_hurried() { " (too quick)" } else { "" };
            format!("{}|{} {sort} {}{late}", place.bar, place.beat, b.words)
        })
        .collect()
}

#[test]
fn calls_that_belong_together_are_said_in_one_breath() {
    // 120 quarters a minute in 4/4: a bar is 2 s, the standby 8 s is four bars ahead.
    assert_eq!(
        said(&[("L12", "17|1"), ("L13", "18|1"), ("L14", "19|1"), ("R1", "20|1")], 150),
        [
            "4|4 standby Standby release 1",
            "12|4 standby Standby lights 12 to 14",
            "16|4 go Lights 12 go",
            "17|4 go Lights 13 go",
            "18|4 go Lights 14 go",
            "19|4 go Release 1 go",
        ]
    );
    // Closer together than one word takes to say (0.4 s at 150 a minute), they become one go.
    assert_eq!(said(&[("L1", "17|1"), ("L2", "17|1 +0.3s")], 150)[1..], ["16|4 go Lights 1 and 2 go"]);
    // One second apart they are two goes. At 150 words a minute three words take 1.2 s, so the second comes too soon.
    assert_eq!(
        said(&[("L1", "17|1"), ("L2", "17|3")], 150)[1..],
        ["16|4 go Lights 1 go (too quick)", "17|2 go Lights 2 go"]
    );
    // A faster speaker can say both.
    assert_eq!(said(&[("L1", "17|1"), ("L2", "17|3")], 300)[1..], ["16|4 go Lights 1 go", "17|2 go Lights 2 go"]);
}

#[test]
fn no_standby_stands_between_a_standby_and_its_go() {
    let many: Vec<(String, String)> = (1..=20).map(|n| (format!("L{n}"), format!("{}|1", 10 + 2 * n))).collect();
    let cues: Vec<(&str, &str)> = many.iter().map(|(l, a)| (l.as_str(), a.as_str())).collect();
    let lines = said(&cues, 150);
    let goes: Vec<&String> = lines.iter().filter(|l| l.contains(" go ")).collect();
    assert_eq!(goes.len(), 20, "each is called once: {lines:#?}");
    // After each standby comes the go of the first cue it names.
    for (at, line) in lines.iter().enumerate().filter(|(_, l)| l.contains("standby")) {
        let first: String = line.rsplit("lights ").next().unwrap().chars().take_while(char::is_ascii_digit).collect();
        let next = lines[at + 1..].iter().find(|l| l.contains(&format!("Lights {first} go"))).unwrap();
        let between = lines[at + 1..].iter().take_while(|l| *l != next).filter(|l| l.contains("standby")).count();
        assert_eq!(between, 0, "{line} … {next}");
    }
}

#[test]
fn bodies_end_where_the_next_begins() {
    let cues = r#"{"label":"O1","track":"o","at":"9|1","does":{"output":{"route":"house-still"}}},
        {"label":"O2","track":"o","at":"10|1","does":{"output":{"route":"front-blank"}}},
        {"label":"O3","track":"o","at":"12|1","does":{"output":{"route":"house-blank"}}},
        {"label":"L1","track":"l","at":"5|1","does":{"lighting":{"preset":"warm"}}},
        {"label":"L2","track":"l","at":"7|1","does":{"lighting":{"preset":"cold"}}}"#;
    let show = plans::one(cues);
    let service = &show.services[0];
    let prepared = prepared(&show);
    let (schedule, ends) = (prepared.schedule(), prepared.ends());
    let end = |label: &str| {
        let at = schedule.rows.iter().position(|r| r.label.to_string() == label).unwrap();
        schedule.grid.place_of(schedule.grid.tick_at(ends[at])).bar
    };
    // Two outputs: O2 does not end O1, O3 does.
    let last = service.song.end_bar();
    assert_eq!([end("L1"), end("L2"), end("O1"), end("O2")], [7, last, 12, last]);
}

#[test]
fn a_releases_go_is_said_alone() {
    // Closer to the lights than one word takes to say, and still two goes.
    let lines = said(&[("L1", "17|1"), ("R1", "17|1 +0.2s")], 150);
    let goes: Vec<&String> = lines.iter().filter(|l| l.contains(" go ")).collect();
    assert_eq!(goes.len(), 2, "{lines:?}");
    assert!(goes.iter().any(|l| l.contains("Release 1 go")) && goes.iter().any(|l| l.contains("Lights 1 go")));
}

#[test]
fn light_falls_to_dark_from_where_it_was() {
    let cues = r#"{"label":"L1","track":"l","at":"5|1","does":{"lighting":{"preset":"warm"}}},
        {"label":"L2","track":"l","at":"7|1","does":{"lighting":{"preset":"cold"}},"resting":true},
        {"label":"L3","track":"l","at":"9|1","does":{"lighting":{"preset":"cold"}}}"#;
    let mut show = plans::one(cues);
    (show.presets[0].level, show.presets[1].level) = (80, 0);
    let prepared = prepared(&show);
    let (schedule, levels) = (prepared.schedule(), prepared.levels());
    let of = |label: &str| levels[schedule.rows.iter().position(|r| r.label.to_string() == label).unwrap()];
    // A resting cue changes nothing for the next one.
    assert_eq!([of("L1"), of("L2"), of("L3")], [[0.0, 0.8], [0.8, 0.0], [0.8, 0.0]]);
}

#[test]
fn a_file_opens_on_a_bar_line_before_its_first_message() {
    let open = |at: &str| {
        let show = plans::one(&format!(
            r#"{{"label":"L1","track":"l","at":"{at}","does":{{"lighting":{{"preset":"warm","share":"done"}}}}}}"#
        ));
        let prepared = prepared(&show);
        let schedule = prepared.schedule();
        let bar = schedule.grid.place_of(schedule.opens_at()).bar;
        let send = schedule.rows[0].send;
        // On a bar line at or before the first message, and never after the first bar of the count-in of two bars.
        assert!(schedule.grid.bar_time(bar) <= send && (bar == -1 || schedule.grid.bar_time(bar + 1) > send), "{bar}");
        bar
    };
    // A fade of two seconds that must be done on the count-in's first beat is sent before it.
    assert!(open("-1|1") < -1);
    assert_eq!(open("1|1"), -1);
    assert_eq!(open("9|1"), -1);
}

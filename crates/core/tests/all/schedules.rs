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

/// Every cue is called: an operator presses for it, but for the release.
fn called(show: &mut letfall_core::show::Show) {
    use letfall_core::show::{Goes, Kind};
    for track in &mut show.tracks {
        track.called = true;
        track.goes = if track.kind == Kind::Release { Goes::Machine } else { Goes::Operator };
    }
}

#[test]
fn standby_is_eight_seconds_ahead_on_a_beat_and_a_releases_thirty() {
    let cues = r#"{"label":"R1","track":"r","at":"17|1","does":{"release":{"release":"front"}}},
        {"label":"L1","track":"l","at":"17|1","does":{"lighting":{"preset":"warm"}}}"#;
    let mut show = plans::one(cues);
    called(&mut show);
    let prepared = prepared(&show);
    let spoken = prepared.calls();
    let of = |label: &str| spoken.iter().find(|call| call.label == label.parse().unwrap()).unwrap();
    // Nobody says go to a release: no hand acts on it.
    // Go a little before 32 s; 8 s before that lies between beats; the beat before is 23.5 s. 30 s before: 1.5 s.
    assert_eq!(of("L1").standby.unwrap().micros(), 23_500_000);
    assert_eq!(of("R1").standby.unwrap().micros(), 1_500_000);
    let words = (of("R1").standby_words.as_str(), of("R1").go_words.as_str());
    assert_eq!(words, ("Standby release 1", ""));
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
    called(&mut show);
    let prepared = prepared(&show);
    let schedule = prepared.schedule();
    prepared
        .call_groups()
        .iter()
        .filter(|b| matches!(b.kind, CallKind::Standby | CallKind::Go))
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

/// What is asked before a release, and what comes by itself: in the order of the words of a run, 120 s, 45 s, 30 s and 10 s before it
/// (common practice, no source).
#[test]
fn a_release_is_asked_for_and_nobody_says_go_to_it() {
    use letfall_core::schedule::CallKind;
    let cues = r#"{"label":"R1","track":"r","at":"81|1","does":{"release":{"release":"front","lands":"sightline"}}},
        {"label":"O1","track":"o","at":"81|1","does":{"output":{"route":"house-still"}}},
        {"label":"O2","track":"o","at":"81|1 +0.3s","does":{"output":{"route":"front-blank"}}},
        {"label":"L1","track":"l","at":"41|1","does":{"lighting":{"preset":"warm"}}},
        {"label":"L2","track":"l","at":"41|2","does":{"lighting":{"preset":"cold"}},"call":{"goes":{"after":"L1"}}}"#;
    let mut show = plans::show(&format!("[{}]", plans::service("A", 96, cues)));
    called(&mut show);
    show.tracks[3].goes = letfall_core::show::Goes::Machine;
    show.safety.spotter = "deputy".into();
    show.safety.arm_holder = String::new();
    show.receivers[0].answers = "light desk".into();
    let prepared = prepared(&show);
    let send = prepared.row("R1".parse().unwrap()).unwrap().send;
    let groups: Vec<String> = prepared
        .call_groups()
        .iter()
        .map(|g| {
            let labels: Vec<String> = g.labels.iter().map(ToString::to_string).collect();
            let (who, labels) = (g.answers.join("+"), labels.join("+"));
            format!("{:?} {:.0} {labels} “{}” {who} {}", g.kind, (send - g.at).secs_f64(), g.words, g.reply)
        })
        .collect();
    assert_eq!(
        groups,
        [
            "Ask 120 R1 “Zone?” deputy watched",
            "Standby 88 L1 “Standby lights 1” light desk standing by",
            "Go 80 L1 “Lights 1 go” light desk ",
            "Watch 79 L2 “”  ",
            "Ask 45 R1 “Zone clear?” deputy clear, lamp up",
            "Standby 30 R1 “Standby release 1”  standing by",
            "Ask 10 R1 “Arm on” release operator armed",
            "Watch -1 R1 “”  ",
            "Watch -1 O1+O2 “”  ",
        ]
    );
    // Nobody speaks for what comes by itself, so it takes nobody's time.
    let calls = prepared.call_groups();
    let standby = calls.iter().find(|g| g.kind == CallKind::Standby && g.labels[0].number == 1).unwrap();
    assert!(
        standby.room.is_some()
            && calls.iter().filter(|g| !g.is_said()).all(|g| g.room.is_none() && g.lasts.micros() == 0)
    );
}

/// An operator's hand takes 0.4 s from the word (common practice, no source), and Letfall sends nothing for it.
#[test]
fn a_go_is_said_before_the_hand_acts() {
    let cues = r#"{"label":"L1","track":"l","at":"9|1","does":{"lighting":{"preset":"warm"}}},
        {"label":"L2","track":"l","at":"9|1","does":{"lighting":{"preset":"warm"}},"call":{"goes":"operator"}},
        {"label":"L3","track":"l","at":"9|1","does":{"lighting":{"preset":"warm"}},"call":{"goes":{"after":"L2"}}}"#;
    let show = plans::one(cues);
    let prepared = prepared(&show);
    let row = |label: &str| prepared.row(label.parse().unwrap()).unwrap();
    let (machine, hand, after) = (row("L1"), row("L2"), row("L3"));
    assert!(machine.wire.is_some() && hand.wire.is_none() && after.wire.is_none());
    assert_eq!((hand.fault, after.fault, hand.port), (None, None, None));
    // 40 ms of the receiver and 400 ms of the hand; the message would take 0.64 ms on the wire.
    assert_eq!([machine, hand, after].map(|row| (row.land - row.send).micros()), [40_640, 440_000, 40_000]);
    // One standard deviation of 0.15 s and the receiver's 5 ms with 8 degrees of freedom: t(8) for 95 % is 2.306 (NIST/SEMATECH
    // e-Handbook 1.3.6.7.2), so 0.346 s either way.
    let seconds = hand.early.secs_f64();
    assert!((0.340..0.352).contains(&seconds), "{seconds}");
    assert!(machine.early.secs_f64() < 0.1);
    let mut spoken = prepared.calls().iter().map(|call| call.label.to_string());
    assert_eq!((spoken.next().as_deref(), spoken.next()), (Some("L2"), None));
}

//! Everything we write, read back by the strict reader.

use super::strict::{self, File};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::Schedule;
use letfall_core::show::{Kind, Show};
use letfall_core::time::SongTime;
use letfall_export::midi::{self, MidiError, MidiFile, MidiOptions, Resolution, import};
use proptest::prelude::*;
use std::sync::Arc;

const LANTERN: &str = include_str!("../../../../demo-shows/lantern-night.letfall");
const HOUSES: &str = include_str!("../../../../demo-shows/three-houses.letfall");

fn prepared(show: &Show, service: &str) -> Arc<Prepared> {
    let at = show.services.iter().position(|s| s.name == service).unwrap();
    Prepared::hypothetical(Arc::new(show.clone()), at).unwrap()
}

fn write(show: &Show, service: &str, options: MidiOptions) -> (Schedule, MidiFile, File) {
    let plan = prepared(show, service);
    let written = midi::write(&plan, options).unwrap();
    let read = strict::read(&written.bytes);
    (plan.schedule().clone(), written, read)
}

fn load(text: &str) -> Show {
    letfall_core::file::read(text.as_bytes()).unwrap()
}

/// File time in microseconds of a tick.
fn micros(file: &File, tick: u64) -> f64 {
    if file.division == 0xe728 { tick as f64 * 1000.0 } else { strict::micros(file, tick) }
}

/// The largest distance of a file's messages from their plan, in microseconds. Every message must be found exactly once.
fn worst(schedule: &Schedule, written: &MidiFile, read: &File, with_releases: bool) -> f64 {
    let planned =
        |row: &&letfall_core::schedule::Row| row.wire.is_some() && (with_releases || row.label.kind != Kind::Release);
    let mut wanted: Vec<(i64, Vec<u8>)> = schedule
        .rows
        .iter()
        .filter(planned)
        .map(|r| (r.send.micros(), schedule.wire(r).unwrap().on.to_vec()))
        .collect();
    let mut worst: f64 = 0.0;
    for event in read.tracks[1..].iter().flatten() {
        // Program changes with a bank are three events; the demo has none of them. Note offs are tested elsewhere.
        if event.bytes[0] == 0xff || event.bytes[0] & 0xf0 == 0x80 {
            continue;
        }
        let at = micros(read, event.tick) + written.starts_at.micros() as f64;
        let best = wanted
            .iter()
            .enumerate()
            .filter(|(_, w)| w.1 == event.bytes)
            .min_by(|a, b| (a.1.0 as f64 - at).abs().total_cmp(&(b.1.0 as f64 - at).abs()))
            .map(|(i, _)| i)
            .expect("a message that nobody planned");
        worst = worst.max((wanted.swap_remove(best).0 as f64 - at).abs());
    }
    assert!(wanted.is_empty(), "messages that are not in the file: {wanted:?}");
    worst
}

#[test]
fn messages_are_where_the_plan_has_them() {
    for (text, services) in [(LANTERN, &["Early", "Late"][..]), (HOUSES, &["Hall, Friday", "Quay, Sunday"])] {
        let show = load(text);
        for service in services {
            for (resolution, limit) in
                [(Resolution::Quarter960, 600.0), (Resolution::Quarter4800, 200.0), (Resolution::Millis, 500.5)]
            {
                for with_releases in [false, true] {
                    let (schedule, written, read) = write(&show, service, MidiOptions { resolution, with_releases });
                    let off = worst(&schedule, &written, &read, with_releases);
                    assert!(off <= limit, "{service} {resolution:?}: {off} µs");
                }
            }
        }
    }
}

#[test]
fn the_conductor_says_what_it_must() {
    let show = load(LANTERN);
    let (_, written, read) = write(&show, "Late", MidiOptions::default());
    let conductor = &read.tracks[0];
    let of = |kind: u8| conductor.iter().filter(|e| e.bytes[..2] == [0xff, kind]).collect::<Vec<_>>();
    assert_eq!(of(3)[0].bytes[2..], *"Lantern Night – Late – Lanterns Out".as_bytes());
    // Song time 0 is 20:00:00:00 at 25. The file begins two bars of 4/4 at 84 earlier: 5.714286 s are 142.86 frames.
    assert_eq!(written.starts_at.micros(), -5_714_286);
    assert_eq!(of(0x54)[0].bytes[2..], [0x33, 59, 54, 7, 14]);
    // SMF 1.1, FF 58: 4/4 is 04 02 18 08 and 6/8 by dotted quarters 06 03 24 08.
    let metres: Vec<&[u8]> = of(0x58).iter().map(|e| &e.bytes[2..]).collect();
    assert_eq!(metres, [&[4, 2, 0x18, 8][..], &[6, 3, 0x24, 8], &[4, 2, 0x18, 8]]);
    let markers: Vec<String> = of(6).iter().map(|e| String::from_utf8(e.bytes[2..].to_vec()).unwrap()).collect();
    assert_eq!(markers, ["Intro", "Verse 1", "Chorus 1", "Verse 2", "Bridge", "Reveal", "Coda"]);
    // Cue points: every cue, and where the song may bend, at its bar. The file itself follows the straight line.
    let late = show.service("Late").unwrap();
    assert_eq!(of(7).len(), late.cues.len() + late.song.bends.len());
    for (words, section) in
        [("vamp, bars 45 to 48: Once more from “up on the hill”", 3), ("cut from bar 33 to bar 49: To the bridge", 3)]
    {
        let point = of(7).into_iter().find(|e| e.bytes[2..] == *words.as_bytes()).expect(words);
        let begins = of(6)[section].tick;
        // Verse 2 begins with bar 33; bar 45 is twelve bars of 4 quarters later.
        let bars = if words.starts_with("vamp") { 12 } else { 0 };
        assert_eq!(point.tick, begins + bars * 4 * 960, "{words}");
    }
    // A ramp of two bars of 6/8 is 6 quarters, 144 MIDI clocks of 40 ticks, one tempo a clock where it changes.
    let tempos = of(0x51);
    assert!(tempos.len() > 144 && tempos.iter().all(|e| e.tick % 40 == 0));
}

#[test]
fn releases_stay_out_unless_asked_for_and_the_sheet_is_filled_in() {
    let mut show = load(LANTERN);
    let has_release = |read: &File| read.tracks[1..].iter().flatten().any(|e| e.bytes == [0x9f, 60, 127]);
    let (_, written, read) = write(&show, "Late", MidiOptions::default());
    assert!(!has_release(&read) && written.releases_left_out == 1);
    let with = MidiOptions { with_releases: true, ..MidiOptions::default() };
    let (_, _, read) = write(&show, "Late", with);
    assert!(has_release(&read));
    let names: Vec<_> = read.tracks.iter().map(|t| String::from_utf8_lossy(&t[0].bytes[2..]).into_owned()).collect();
    assert_eq!(names[1..], ["Lighting", "Media", "Screens", "Releases"]);
    assert_eq!(read.tracks[4].iter().filter(|e| e.bytes[0] == 0x9f).count(), 1);
    show.safety.clear_signal.clear();
    let why = midi::write(&prepared(&show, "Late"), with).unwrap_err();
    assert_eq!(why, MidiError::SafetySheet("the clear signal".into()));
}

#[test]
fn a_preset_that_would_fire_a_release_is_refused() {
    let mut show = load(LANTERN);
    let plan = prepared(&show, "Late");
    let used = plan.schedule().rows.iter().find(|row| row.label.kind == Kind::Lighting).unwrap().label;
    let (receiver, message) = (show.releases[0].receiver.clone(), show.releases[0].message.clone());
    for preset in &mut show.presets {
        (preset.receiver, preset.message) = (receiver.clone(), message.clone());
    }
    let why = midi::write(&prepared(&show, "Late"), MidiOptions::default()).unwrap_err();
    let MidiError::FiresRelease { cue, release, .. } = why else { panic!("{why}") };
    assert_eq!((cue.kind, release), (used.kind, show.releases[0].name.clone()));
}

#[test]
fn notes_end_and_a_note_that_starts_again_ends_first() {
    let mut show = letfall_core::stress::show(4, 1).unwrap();
    show.media[0].message = serde_json::from_str(r#"{"note":{"key":60,"velocity":100,"length_us":400000}}"#).unwrap();
    let cues = [("M1", "1|1"), ("M2", "1|1+240"), ("M3", "3|1")].map(|(label, at)| {
        format!(r#"{{"label":"{label}","track":"media","at":"{at}","does":{{"media":{{"item":"m0"}}}}}}"#)
    });
    show.services[0].cues = serde_json::from_str(&format!("[{}]", cues.join(","))).unwrap();
    let (_, _, read) = write(&show, "First service", MidiOptions::default());
    let track = &read.tracks[1];
    let kinds: Vec<u8> = track.iter().map(|e| e.bytes[0] & 0xf0).filter(|b| matches!(b, 0x80 | 0x90)).collect();
    assert_eq!(kinds, [0x90, 0x80, 0x90, 0x80, 0x90, 0x80]);
    let ticks: Vec<u64> = track.iter().filter(|e| matches!(e.bytes[0] & 0xf0, 0x80 | 0x90)).map(|e| e.tick).collect();
    assert_eq!(ticks[1], ticks[2], "cut short where it starts again");
    assert_eq!(ticks[3] - ticks[2], 768, "400 ms at 120 are 768 ticks");
}

#[test]
fn same_input_same_bytes_and_text_is_utf8() {
    let mut show = load(LANTERN);
    show.title = "夜\nÎle ✓".into();
    let (_, one, read) = write(&show, "Late", MidiOptions::default());
    let (_, two, _) = write(&show, "Late", MidiOptions::default());
    assert_eq!(one, two);
    assert!(String::from_utf8(read.tracks[0][0].bytes[2..].to_vec()).unwrap().starts_with("夜 Île ✓"));
}

/// Importing a written file gives back its grid: bar lines where they were, and sections too.
#[test]
fn what_we_write_we_can_import() {
    let show = load(HOUSES);
    for service in &show.services {
        let (schedule, written, _) = write(&show, &service.name, MidiOptions::default());
        let found = import(&written.bytes).unwrap();
        let grid = found.plan.build().unwrap();
        let before = 1 - schedule.grid.place_of(schedule.grid.tick_at(written.starts_at)).bar;
        for bar in 1..=service.song.end_bar() {
            let ours = schedule.grid.bar_time(bar) - written.starts_at;
            let theirs = grid.bar_time(bar + before) - SongTime::ZERO;
            assert!((ours - theirs).micros().abs() <= 300, "{} bar {bar}: {ours} against {theirs}", service.name);
        }
        assert_eq!(found.sections.len(), service.song.sections.len());
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Any stress show at any resolution: the strict reader accepts it, and every message is found within half a tick of its
    /// time.
    #[test]
    fn any_show_is_a_strict_file(cues in 1u32..300, marks in 1u32..40, which in 0usize..3) {
        let show = letfall_core::stress::show(cues, marks).unwrap();
        let resolution = [Resolution::Quarter960, Resolution::Quarter4800, Resolution::Millis][which];
        let (schedule, written, read) = write(&show, "First service", MidiOptions { resolution, with_releases: false });
        // The slowest tempo of a stress show is 80: half a tick of 1/960 is 391 µs.
        let limit = [392.0, 79.0, 500.5][which];
        prop_assert!(worst(&schedule, &written, &read, false) <= limit);
    }
}

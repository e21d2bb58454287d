//! The whole program as users run it: what it prints, what it writes, and how it handles broken input.

#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use common::{Desk, SHEETS, bad, demo, good, letfall, path};
use std::fs;
use std::path::Path;
use std::process::Command;

#[test]
fn check_says_what_is_wrong_by_word_and_exit_code() {
    let show = demo("lantern-night");
    assert!(good(&["check", path(&show)]).contains("No problems found in 2 services"));
    let desk = Desk::new();
    let text = fs::read_to_string(&show).unwrap().replace("\"clear_signal\": \"deputy", "\"drop_zone_2\": \"deputy");
    assert!(bad(&["check", &desk.file("odd", text.as_bytes())]).contains("unknown field `drop_zone_2`"));
    let text = fs::read_to_string(&show).unwrap().replace("\"kind\": \"energise\"", "\"kind\": \"unknown\"");
    let broken = desk.file("broken.letfall", text.as_bytes());
    let out = letfall(&["check", &broken, "--service", "Late", "--json"]);
    assert_eq!(out.status.code(), Some(1));
    let line: serde_json::Value = serde_json::from_slice(out.stdout.split(|b| *b == b'\n').next().unwrap()).unwrap();
    assert_eq!(
        (line["code"].as_str(), line["cues"][0].as_str(), line["severity"].as_str()),
        (Some("release-kind-unknown"), Some("R1"), Some("stop"))
    );
}

#[test]
fn help_names_every_command() {
    let help = good(&["--help"]);
    for name in ["check", "schedule", "midi", "paper", "table", "shift", "copy", "compare", "grid", "schema", "new"] {
        assert!(help.contains(&format!("\n  {name} ")), "{name}");
        assert!(good(&[name, "--help"]).contains("Usage:"));
    }
}

#[test]
fn bad_use_is_one_sentence() {
    let show = demo("lantern-night");
    let show = path(&show);
    assert!(bad(&["chekc", show]).contains("--help"));
    assert!(bad(&["chekc"]).contains("did you mean letfall check?"));
    assert!(bad(&["chekc.letfall"]).contains("no such file"));
    assert!(bad(&["schedule", show]).contains("\"Early\", \"Late\""));
    assert!(bad(&["schedule", show, "--service", "Noon"]).contains("no service \"Noon\""));
    let desk = Desk::new();
    let out = desk.at("out.letfall");
    let shift = |more: &[&str]| bad(&[&["shift", show, "--service", "Late", "-o", &out], more].concat());
    assert!(shift(&["--by", "2"]).contains("2bars"));
    assert!(shift(&["--by", "2bars", "--cues", "X1"]).contains("X1"));
    assert!(shift(&["--by", "2bars", "--cues", "L9..L2"]).contains("lower one first"));
    assert!(shift(&["--by", "2bars", "--bars", "900..901"]).contains("no cue"));
    assert!(shift(&["--by", "2000000bars"]).contains("cannot move there"));
    assert!(shift(&["--by", "2bars", "--section", "Noon"]).contains("no section"));
    assert!(bad(&["copy", show, "--from", "Late", "--to", "Late", "-o", &out]).contains("itself"));
    assert!(bad(&["midi", show, "--service", "Late", "--resolution", "480", "-o", &out]).contains("480"));
    assert!(!Path::new(&out).exists());
}

#[test]
fn files_that_are_not_shows_are_refused_with_the_reason() {
    let desk = Desk::new();
    let demo = fs::read_to_string(demo("first-opener")).unwrap();
    let check = |name: &str, bytes: &[u8]| bad(&["check", &desk.file(name, bytes)]);
    assert!(bad(&["check", &desk.at("missing")]).contains("no such file"));
    assert!(bad(&["check", path(desk.0.path())]).contains("folder"));
    assert!(check("empty", b"").contains("line 1"));
    assert!(check("binary", b"\x89PNG\r\n\x1a\n\xff\xfe").contains("not UTF-8"));
    assert!(check("cut", &demo.as_bytes()[..1000]).contains("line "));
    assert!(check("newer", br#"{"letfall":7,"show":{}}"#).contains("newer Letfall"));
    assert!(check("deep", "[".repeat(1_000_000).as_bytes()).contains("line 1"));
    assert!(check("nan", demo.replace("\"width_m\": 5.0", "\"width_m\": NaN").as_bytes()).contains("line "));
    assert!(check("type", demo.replace("\"bars\": 16", "\"bars\": [16]").as_bytes()).contains("song.bars"));
    assert!(check("twice", demo.replace("\"venue\"", "\"title\"").as_bytes()).contains("duplicate field"));
}

/// 10 MB of the worst input we can think of, within 640 000 KB of address space, which leaves less than 500 MB of memory for
/// it.
#[test]
fn hostile_files_do_not_fill_memory() {
    if letfall_testing::needs_unix("program hostile_files_do_not_fill_memory") {
        return;
    }
    let desk = Desk::new();
    let fill = |head: &str, item: &str, tail: &str| {
        let n = (10_000_000 - head.len() - tail.len()) / (item.len() + 1);
        format!("{head}{}{tail}", vec![item; n].join(","))
    };
    let mut hostile: Vec<(&str, Vec<u8>)> = vec![
        ("kit", fill(r#"{"letfall":1,"show":{"title":"","kit":["#, r#"{"name":"","quantity":1}"#, "]}}").into()),
        ("tracks", fill(r#"{"letfall":1,"show":{"title":"","tracks":["#, r#"{"key":"a","name":"","kind":"media"}"#, "]}}").into()),
        ("hold", fill(r#"{"letfall":1,"show":{"title":"","releases":[{"key":"r","name":"","hang":"h","units":1,"receiver":"r","message":{"control":{"controller":1,"value":1}},"hang_up":{"hold":["#, r#""L1""#, "]}}]}}").into()),
        ("marks", fill(r#"{"letfall":1,"show":{"title":"","services":[{"name":"s","song":{"title":"","bars":1,"grid":{"tempos":[],"metres":["#, r#"{"bar":1,"metre":"4/4"}"#, "]}}}]}}").into()),
        ("cues", fill(r#"{"letfall":1,"show":{"title":"","services":[{"name":"s","song":{"title":"","bars":1,"grid":{"tempos":[],"metres":[]}},"cues":["#, r#"{"label":"L1","track":"a","at":"1|1","does":{"media":{"item":"a"}}}"#, "]}]}}").into()),
        ("unknown", fill(r#"{"letfall":1,"show":{"odd":["#, "[]", "]}}").into()),
        ("version", fill(r#"{"letfall":["#, "[]", r#"],"show":{}}"#).into()),
        ("string", format!(r#"{{"letfall":1,"show":{{"title":"{}""#, "x".repeat(9_999_900)).into()),
    ];
    let mut midi = b"MThd\0\0\0\x06\0\0\0\x01\x01\xe0MTrk".to_vec();
    let events: Vec<u8> = (0..1_428_000u32).flat_map(|n| [1, 0xff, 0x51, 3, 7, 0xa1, (n % 251) as u8]).collect();
    midi.extend(u32::try_from(events.len()).unwrap().to_be_bytes());
    midi.extend(events);
    hostile.push(("tempos.mid", midi));
    let mut metres = b"MThd\0\0\0\x06\0\0\0\x01\x01\xe0MTrk".to_vec();
    let events: Vec<u8> = (0..1_250_000u32).flat_map(|n| [1, 0xff, 0x58, 4, 1 + (n % 7) as u8, 2, 24, 8]).collect();
    metres.extend(u32::try_from(events.len()).unwrap().to_be_bytes());
    metres.extend(events);
    hostile.push(("metres.mid", metres));
    for (name, bytes) in hostile {
        let file = desk.file(name, &bytes);
        let command = if name.ends_with("mid") { "grid" } else { "check" };
        // The program itself, built with little optimisation, takes up a quarter of this.
        let limited = format!("ulimit -v 640000; exec {} {command} {file}", env!("CARGO_BIN_EXE_letfall"));
        let out = Command::new("sh").args(["-c", &limited]).output().unwrap();
        let told = String::from_utf8_lossy(&out.stderr);
        assert!(matches!(out.status.code(), Some(0..=2)), "{name}: {:?} {}", out.status, &told[..told.len().min(400)]);
        assert!(!told.contains("panicked"), "{name}: {told}");
    }
}

#[test]
fn what_cannot_be_written_leaves_the_old_file_whole() {
    let show = demo("first-opener");
    let show = path(&show);
    let desk = Desk::new();
    assert!(bad(&["midi", show, "-o", path(desk.0.path())]).contains("folder"));
    assert!(bad(&["midi", show, "-o", &desk.at("no/such/folder.mid")]).contains("nothing was written"));
    let file = desk.file("plain", b"x");
    assert!(bad(&["table", show, "-o", &format!("{file}/below.csv")]).contains("nothing was written"));
    // No new files can be created in /proc, not even by root.
    assert!(bad(&["table", show, "-o", "/proc/letfall.csv"]).contains("nothing was written"));
    let kept = desk.file("kept.letfall", b"old");
    assert!(bad(&["new", &kept]).contains("already"));
    assert_eq!(fs::read(&kept).unwrap(), b"old");
    // No partial files are left behind.
    let names: Vec<_> = fs::read_dir(desk.0.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert!(names.iter().all(|n| !n.to_string_lossy().ends_with(".part")), "{names:?}");
}

/// A 64 KB disk that is nearly full. This needs permission to mount, which our test machines have.
#[test]
fn a_full_disk_is_told_and_the_old_show_stays() {
    let desk = Desk::new();
    let disk = desk.at("disk");
    fs::create_dir(&disk).unwrap();
    let mounted = Command::new("mount").args(["-t", "tmpfs", "-o", "size=64k", "tmpfs", &disk]).status();
    if !mounted.is_ok_and(|s| s.success()) {
        return letfall_testing::skip("program a_full_disk", "a small disk cannot be mounted here");
    }
    let show = demo("lantern-night");
    let target = format!("{disk}/show.letfall");
    let result = std::panic::catch_unwind(|| {
        fs::write(&target, b"the old file").unwrap();
        fs::write(format!("{disk}/ballast"), vec![0; 44 * 1024]).unwrap();
        let told = bad(&["shift", path(&show), "--service", "Late", "--by", "1bar", "-o", &target]);
        assert!(told.contains("disk is full") && told.contains("nothing was written"), "{told}");
        assert_eq!(fs::read(&target).unwrap(), b"the old file");
        assert_eq!(fs::read_dir(&disk).unwrap().count(), 2, "no half file is left");
    });
    assert!(Command::new("umount").arg(&disk).status().unwrap().success());
    result.unwrap();
}

#[test]
fn two_hundred_cues_are_carried_to_two_services_by_one_command() {
    let desk = Desk::new();
    let mut show = letfall_core::stress::show(200, 4).unwrap();
    for name in ["Second", "Third"] {
        let song = show.services[0].song.clone();
        show.services.push(letfall_core::show::Service::new(name, song));
    }
    let file = desk.file("many.letfall", &letfall_core::file::write(&show));
    let out = desk.at("out.letfall");
    let told = good(&["copy", &file, "--from", "First service", "--to", "Second,Third", "--match", "bars", "-o", &out]);
    assert!(
        told.contains("To \"Second\": 200 cues carried.") && told.contains("To \"Third\": 200 cues carried."),
        "{told}"
    );
    let after = letfall_core::file::read(&fs::read(&out).unwrap()).unwrap();
    assert!(after.services.iter().all(|s| s.cues.len() == 200));
    assert_eq!(
        after.services[1].cues.iter().map(|c| c.at).collect::<Vec<_>>(),
        after.services[0].cues.iter().map(|c| c.at).collect::<Vec<_>>()
    );
    assert!(good(&["compare", &out, "First service", "Second"]).contains("No differences"));
    // One command also shifts a selection in place.
    let told = good(&[
        "shift",
        &out,
        "--service",
        "Second",
        "--cues",
        "L1..L20",
        "--kind",
        "lighting",
        "--by",
        "-250ms",
        "--in-place",
        "-o",
        &out,
    ]);
    assert!(told.contains("Shifted 20 cues"), "{told}");
    let told = good(&["compare", &out, "First service", "Second", "--json"]);
    assert_eq!(told.lines().count(), 20);
}

#[test]
fn exports_say_what_they_wrote_and_repeat_themselves_exactly() {
    let desk = Desk::new();
    let show = demo("lantern-night");
    for (command, name) in [("midi", "a.mid"), ("table", "a.csv"), ("paper", "a.pdf")] {
        let out = desk.at(name);
        let told = good(&[command, path(&show), "--service", "Late", "-o", &out]);
        assert!(told.starts_with(&format!("Wrote {out}")), "{told}");
        let first = fs::read(&out).unwrap();
        good(&[command, path(&show), "--service", "Late", "-o", &out]);
        assert_eq!(fs::read(&out).unwrap(), first, "{command}: same input, same bytes");
    }
    let told = good(&["midi", path(&show), "--service", "Late", "-o", &desk.at("b.mid")]);
    assert!(told.contains("1 release left out"), "{told}");
}

/// A name with a character that no font has on any machine (the last private-use one) is still printed, and this is reported.
#[test]
fn characters_that_no_font_has_are_told_and_the_pages_printed() {
    let desk = Desk::new();
    let text = fs::read_to_string(demo("first-opener"))
        .unwrap()
        .replace("\"title\": \"First opener\"", "\"title\": \"\u{10fffd} opener\"");
    let out = desk.at("night.pdf");
    let told = letfall(&["paper", &desk.file("night.letfall", text.as_bytes()), "-o", &out]);
    assert!(told.status.success());
    let said = String::from_utf8(told.stderr).unwrap();
    assert!(said.contains("no font here has 1 of the characters used (\u{10fffd})"), "{said}");
    assert!(fs::read(&out).unwrap().starts_with(b"%PDF"));
}

#[test]
fn a_broken_template_is_told_with_its_place_and_writes_nothing() {
    let desk = Desk::new();
    let template = desk.file("mine.typ", b"= Title\n#let x = (\n");
    let out = desk.at("out.pdf");
    let told = bad(&["paper", path(&demo("first-opener")), "--template", &template, "-o", &out]);
    assert!(told.contains("mine.typ, line 2"), "{told}");
    assert!(!Path::new(&out).exists());
    let plain = br#"#let plan = json("plan.json")
#set document(title: plan.title)
#set text(font: "Atkinson Hyperlegible Next", lang: "en")
= #plan.service"#;
    good(&["paper", path(&demo("first-opener")), "--template", &desk.file("plain.typ", plain), "-o", &out]);
}

/// The bars of the demo tune (tempo 100, bars of 2.4 s) follow what the user says about them, or the command explains why not.
#[test]
fn bars_of_a_recording_begin_and_go_as_they_are_said() {
    let song = demo("first-opener").with_extension("wav");
    let grid = |more: &[&str]| good(&[&["grid", path(&song)], more].concat());
    assert!(grid(&[]).starts_with("16 bars, 100.0 beats a minute"), "{}", grid(&[]));
    let from = grid(&["--first-downbeat", "4.8", "--second-downbeat", "7.2"]);
    assert!(from.starts_with("14 bars") && (from.contains("0:04.80") || from.contains("0:04.79")), "{from}");
    let slow = grid(&["--tempo", "50"]);
    assert!(slow.contains(", 50.0 beats a minute"), "{slow}");
    for (more, why) in [
        (&["--first-downbeat", "-3"][..], "-3.000 s is not within the recording"),
        (&["--first-downbeat", "5", "--second-downbeat", "4"], "a bar must end 0.2 to 30 s after it begins"),
        (&["--tempo", "900"], "900 beats a minute are more or fewer than anybody counts"),
        (&["--tempo", "nan"], "beats a minute are more or fewer than anybody counts"),
    ] {
        let told = bad(&[&["grid", path(&song)], more].concat());
        assert!(told.contains(why), "{told}");
    }
}

#[test]
fn a_new_show_is_without_problems_and_takes_a_songs_grid() {
    let desk = Desk::new();
    let (file, mid) = (desk.at("mine.letfall"), desk.at("song.mid"));
    good(&["new", &file]);
    assert!(good(&["check", &file]).contains("There are no cues yet"));
    good(&["midi", path(&demo("lantern-night")), "--service", "Late", "-o", &mid]);
    let told = good(&["grid", &mid]);
    assert!(told.contains("82 bars") && told.contains("section \"Reveal\""), "{told}");
    let second = desk.at("second.letfall");
    good(&["new", &second, "--song", &mid]);
    let show = letfall_core::file::read(&fs::read(&second).unwrap()).unwrap();
    assert_eq!((show.services[0].song.bars, show.services[0].song.sections.len()), (82, 7));
    assert!(serde_json::from_str::<serde_json::Value>(&good(&["schema"])).is_ok());
}

#[test]
fn a_reader_that_has_seen_enough_is_no_failure() {
    let show = demo("lantern-night");
    let program = letfall_testing::program(env!("CARGO_BIN_EXE_letfall"));
    let line = format!("{} schedule {} --service Late | head -1", program.display(), path(&show));
    let out = Command::new("sh").args(["-c", &line]).output().unwrap();
    assert!(out.stderr.is_empty() && out.status.success());
}

#[cfg(unix)]
#[test]
fn a_link_stays_a_link_and_permissions_stay() {
    use std::os::unix::fs::PermissionsExt as _;
    if letfall_testing::needs_unix("program a_link_stays_a_link") {
        return;
    }
    let desk = Desk::new();
    let real = desk.file("real.letfall", &fs::read(demo("first-opener")).unwrap());
    fs::set_permissions(&real, fs::Permissions::from_mode(0o640)).unwrap();
    let link = desk.at("link.letfall");
    std::os::unix::fs::symlink(&real, &link).unwrap();
    good(&["shift", &link, "--by", "1bar", "--cues", "L1", "--in-place", "-o", &link]);
    assert!(fs::symlink_metadata(&link).unwrap().file_type().is_symlink());
    assert_eq!(fs::metadata(&real).unwrap().permissions().mode() & 0o777, 0o640);
}

#[test]
fn every_sheet_is_had_from_the_command_line_and_marks_changes() {
    let desk = Desk::new();
    let (show, out) = (demo("lantern-night"), desk.at("out.pdf"));
    for sheet in SHEETS.into_iter().chain(["all"]) {
        let told = good(&["paper", path(&show), "--service", "Late", "--sheet", sheet, "-o", &out]);
        assert!(told.contains("page"), "{told}");
        assert!(fs::read(&out).unwrap().starts_with(b"%PDF-"));
        fs::remove_file(&out).unwrap();
    }
    let moved = desk.at("moved.letfall");
    good(&["shift", path(&show), "--service", "Late", "--cues", "L4", "--by", "1bar", "-o", &moved]);
    let plain = ["paper", &moved, "--service", "Late", "-o", &out];
    good(&plain);
    let without = fs::read(&out).unwrap();
    good(&[&plain[..], &["--previous", path(&show)]].concat());
    assert_ne!(fs::read(&out).unwrap(), without, "L4 is marked");
    assert!(bad(&["paper", path(&show), "--service", "Late", "--sheet", "poster", "-o", &out]).contains("poster"));
}

#[test]
fn click_and_timecode_are_sound_files_and_say_where_they_start() {
    let desk = Desk::new();
    let (show, wav) = (demo("lantern-night"), desk.at("out.wav"));
    for command in ["click", "timecode"] {
        let told = good(&[command, path(&show), "--service", "Late", "-o", &wav, "--samples", "8000"]);
        assert!(told.contains("it starts at song time -0:05.7"), "{told}");
        let bytes = fs::read(&wav).unwrap();
        assert_eq!((&bytes[..4], &bytes[8..12]), (&b"RIFF"[..], &b"WAVE"[..]));
        assert_eq!(u32::from_le_bytes(bytes[24..28].try_into().unwrap()), 8000);
    }
    assert!(bad(&["click", path(&show), "--service", "Late", "-o", &wav, "--samples", "7"]).contains("8000 to 192000"));
    assert!(fs::read(&wav).unwrap().starts_with(b"RIFF"), "the old file is whole");
}

#[test]
fn a_guide_that_is_gone_or_another_is_told() {
    let desk = Desk::new();
    let mut show = letfall_core::file::read(&fs::read(demo("first-opener")).unwrap()).unwrap();
    let guide = serde_json::json!({"path": "guide.wav", "sha256": "00"});
    show.services[0].song.guide = Some(serde_json::from_value(guide).unwrap());
    let file = desk.file("show.letfall", &letfall_core::file::write(&show));
    assert!(good(&["check", &file]).contains("[guide-missing]"));
    desk.file("guide.wav", b"another");
    assert!(good(&["check", &file]).contains("[guide-changed]"));
}

#[test]
fn cues_shifted_off_their_song_are_told() {
    let desk = Desk::new();
    let out = desk.at("out.letfall");
    let done = letfall(&["shift", path(&demo("lantern-night")), "--service", "Late", "--by=-100bars", "-o", &out]);
    assert!(done.status.success());
    assert!(String::from_utf8(done.stderr).unwrap().contains("25 of them land now outside the song"));
}

#[test]
fn guide_and_timecode_stand_side_by_side_in_one_file() {
    let desk = Desk::new();
    let mut show = letfall_core::file::read(&fs::read(demo("first-opener")).unwrap()).unwrap();
    let sample_format = hound::SampleFormat::Int;
    let spec = hound::WavSpec { channels: 1, sample_rate: 22_050, bits_per_sample: 16, sample_format };
    let mut wav = hound::WavWriter::create(desk.at("guide.wav"), spec).unwrap();
    (0..22_050i32).for_each(|n| wav.write_sample(i16::try_from(n % 3000 + 1).unwrap()).unwrap());
    wav.finalize().unwrap();
    show.services[0].song.guide = Some(serde_json::from_value(serde_json::json!({"path": "guide.wav"})).unwrap());
    show.services[0].timecode =
        Some(serde_json::from_value(serde_json::json!({"at": "01:00:00:00", "rate": "25"})).unwrap());
    let file = desk.file("show.letfall", &letfall_core::file::write(&show));
    let (alone, both) = (desk.at("alone.wav"), desk.at("both.wav"));
    good(&["timecode", &file, "-o", &alone, "--samples", "22050"]);
    let told = good(&["timecode", &file, "-o", &both, "--with-guide"]);
    let read = |path: &str| {
        let reader = hound::WavReader::open(path).unwrap();
        (reader.spec(), reader.into_samples::<i16>().map(Result::unwrap).collect::<Vec<i16>>())
    };
    let ((spec, mixed), (_, code)) = (read(&both), read(&alone));
    assert_eq!((spec.channels, spec.sample_rate), (2, 22_050));
    let left: Vec<i16> = mixed.iter().step_by(2).copied().collect();
    let right: Vec<i16> = mixed.iter().skip(1).step_by(2).copied().collect();
    assert_eq!(right, code, "the timecode is the same with and without");
    // The guide's first sample is song time 0, so it starts as long after the file's start as the program says.
    let first = left.iter().position(|s| *s != 0).unwrap();
    let starts = told.split("song time -0:").nth(1).unwrap().trim_end().trim_end_matches('.').parse::<f64>().unwrap();
    assert!((first as f64 / 22_050.0 - starts).abs() < 6e-4, "{first} {starts} {told}");
    assert_eq!(left[first..first + 3], [1, 2, 3]);
    show.services[0].song.guide = None;
    let bare = desk.file("bare.letfall", &letfall_core::file::write(&show));
    assert!(bad(&["timecode", &bare, "-o", &both, "--with-guide"]).contains("has no guide"));
}

/// Every page and file says which plan it is of, and the program says whether that is the plan of now.
#[test]
fn a_sheet_in_the_hand_is_compared_with_the_plan_of_now() {
    let desk = Desk::new();
    let show = demo("lantern-night");
    let plan = letfall_core::prepared::Prepared::hypothetical(
        std::sync::Arc::new(letfall_core::file::read(&fs::read(&show).unwrap()).unwrap()),
        1,
    )
    .unwrap();
    let calls = letfall_paper::fingerprints(&plan).into_iter().find(|(sheet, _)| *sheet == letfall_paper::Sheet::Calls);
    let calls = calls.unwrap().1.to_string();
    let told = good(&["check", path(&show), "--printed", &calls.to_lowercase().replace('-', " ")]);
    assert_eq!(told, format!("{calls} is the call sheet of \"Late\", as it is planned now.\n"));
    // MIDI: a text event; WAV: a chunk; CSV: a small file beside it.
    let (mid, wav, csv) = (desk.at("a.mid"), desk.at("a.wav"), desk.at("a.csv"));
    good(&["midi", path(&show), "--service", "Late", "-o", &mid, "--resolution", "ms"]);
    good(&["click", path(&show), "--service", "Late", "-o", &wav, "--samples", "8000"]);
    good(&["table", path(&show), "--service", "Late", "-o", &csv]);
    let beside = fs::read(format!("{csv}.fingerprint.txt")).unwrap();
    for (bytes, what) in
        [(fs::read(&mid).unwrap(), "the MIDI file"), (fs::read(&wav).unwrap(), "the click"), (beside, "the table")]
    {
        let at = bytes.windows(8).position(|w| w == b"Letfall ").unwrap_or_else(|| panic!("{what} says nothing")) + 8;
        let print = String::from_utf8(bytes[at..at + 9].to_vec()).unwrap();
        let told = good(&["check", path(&show), "--printed", &print]);
        assert!(told.contains(&format!("{print} is {what} of \"Late\"")), "{told}");
    }
    // Another plan: the old fingerprints are of no sheet of it.
    let text = fs::read_to_string(&show).unwrap().replacen("Stop stop stop", "Halt halt halt", 1);
    let changed = desk.file("changed.letfall", text.as_bytes());
    let out = letfall(&["check", &changed, "--printed", &calls]);
    assert_eq!(out.status.code(), Some(1));
    assert!(String::from_utf8(out.stdout).unwrap().contains("of no sheet or file as it is planned now"));
    assert!(bad(&["check", path(&show), "--printed", "K7Q2"]).contains("is no fingerprint"));
    // The plan of checks ends with what was not checked.
    assert!(good(&["check", path(&show)]).contains("Not checked: whether what is sent arrives"));
}

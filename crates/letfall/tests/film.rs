//! A rehearsal of the demo show, filmed with known delays, and measured by the program as a user would.

#![allow(clippy::unwrap_used, missing_docs)]

mod common;
#[path = "../../film/tests/made/films.rs"]
mod films;
#[path = "../../film/tests/made/songs.rs"]
mod songs;

use common::{Desk, bad, demo, good, path};
use films::{Camera, FALL, Stage, regions};
use letfall_core::prepared::{OutsideFacts, PreparedShow};
use letfall_core::show::Show;
use letfall_film::picture::{Region, Regions};
use serde_json::Value;
use songs::Hall;
use std::sync::Arc;

const MP4: &[&str] = &["-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p", "-c:a", "aac", "mp4"];
/// The part of the song that is filmed, seconds.
const FROM: f64 = 128.0;
const SECS: f64 = 26.0;
/// What the devices are really late, more than the show says, seconds.
const LIGHTS: f64 = 0.080;
const SCREENS: f64 = 0.045;

fn show() -> Show {
    letfall_core::file::read(&std::fs::read(demo("lantern-night")).unwrap()).unwrap()
}

fn guide() -> Vec<f32> {
    let file = std::fs::read(demo("lantern-night").with_file_name("lantern-night-late.wav")).unwrap();
    let mut wav = hound::WavReader::new(&file[..]).unwrap();
    let rate = wav.spec().sample_rate;
    let scale = f32::from(i16::MAX);
    let sound: Vec<f32> = wav.samples::<i16>().map(|s| f32::from(s.unwrap()) / scale).collect();
    songs::resampled(&sound, rate)
}

fn regions_file(desk: &Desk) -> String {
    let mut regions = regions();
    for (region, shows) in regions.iter_mut().zip(["Lighting", "House screen", "Front fabric"]) {
        region.shows = vec![shows.to_owned()];
    }
    let json = serde_json::json!({ "regions": regions });
    desk.file("regions.json", json.to_string().as_bytes())
}

/// The words of a PDF file, by poppler's pdftotext, which `cargo xtask test` installs.
fn words_of(sheet: &str) -> String {
    let out = std::process::Command::new("pdftotext").args(["-layout", sheet, "-"]).output().unwrap();
    assert!(out.status.success());
    String::from_utf8(out.stdout).unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
}

fn lines(text: &str, kind: &str) -> Vec<Value> {
    let all = text.lines().map(|line| serde_json::from_str::<Value>(line).unwrap());
    all.filter(|line| line["type"] == kind).collect()
}

#[test]
fn a_filmed_rehearsal() {
    if letfall_testing::lacks_ffmpeg("film a_filmed_rehearsal") {
        return;
    }
    let desk = Desk::new();
    let plan = PreparedShow::new(Arc::new(show()), OutsideFacts::none()).prepare_named("Late").unwrap();
    let land = |label: &str| plan.row(label.parse().unwrap()).unwrap().land.micros() as f64 / 1e6 - FROM;
    // L8 begins a fade of 4 s on its beat, L9 one of 3 s; sound and picture meet at the camera's seat.
    let seat = 0.0;
    let stage = Stage {
        secs: SECS,
        washes: vec![(land("L8") + LIGHTS + seat, 4.0, 0.7), (land("L9") + LIGHTS + seat, 3.0, 0.2)],
        screen: land("O3") + SCREENS + seat,
        falls: (land("R1") - 0.6, land("R1") - 0.6),
        drag: 0.0,
    };
    let camera = Camera::of(50.0);
    let hall = Hall { echo: 0.9, direct: 3.0, noise: 15.0, singer: false, drift: 0.0 };
    let heard = hall.film(&guide(), FROM, FROM + SECS, 0.0, 4);
    let film = stage.film(desk.0.path(), &camera, &heard, MP4, 2);
    let film = path(&film).to_owned();
    let show = path(&demo("lantern-night")).to_owned();

    // Without regions it says where the film lies.
    let told = good(&["film", &show, &film, "--service", "Late"]);
    assert!(told.starts_with("Run 1: 0:00.000 to 0:26.") && told.contains("--regions FILE"), "{told}");

    let file = regions_file(&desk);
    let json = good(&["film", &show, &film, "--service", "Late", "--regions", &file, "--json"]);
    println!("{}", good(&["film", &show, &film, "--service", "Late", "--regions", &file]));
    let runs = lines(&json, "run");
    assert_eq!(runs.len(), 1);
    let at_start = runs[0]["song_at_start_us"].as_f64().unwrap() / 1e6;
    assert!((at_start - FROM).abs() < 0.003, "{at_start}");
    let seen = lines(&json, "seen");
    // A slow fade is told less exactly than a change at once, and it says so.
    for (cue, truth, within) in [("L8", LIGHTS, 0.08), ("L9", LIGHTS, 0.08), ("O3", SCREENS, 0.012)] {
        let line = seen.iter().find(|line| line["cue"] == cue).unwrap_or_else(|| panic!("{cue} in {json}"));
        let (late, stated) = (line["late_us"].as_f64().unwrap() / 1e6, line["within_us"].as_f64().unwrap() / 1e6);
        assert!((late - truth).abs() < stated + 0.002 && stated < within, "{cue}: {late} for {truth}, within {stated}");
    }
    // Two lights at one time: nobody can say which is which, so neither is measured, and that is told.
    let not = lines(&json, "not-seen");
    for cue in ["L10", "L11"] {
        let line = not.iter().find(|line| line["cue"] == cue).unwrap();
        assert!(line["why"].as_str().unwrap().contains("nearly the same time"), "{line}");
    }
    let lights = lines(&json, "receiver").into_iter().find(|line| line["name"] == "Lighting").unwrap();
    assert_eq!(lights["count"], 2);
    let gained = lights["after_us"].as_f64().unwrap() - lights["before_us"].as_f64().unwrap();
    assert!((gained / 1e6 - LIGHTS).abs() < 0.03, "{lights}");
    // What is not known of the telephone stays in the spread: 40 ms either way are 23 ms.
    assert!(lights["spread_us"].as_f64().unwrap() > 23_000.0, "{lights}");
    let falls = lines(&json, "drop");
    let floor = falls.iter().find(|line| line["to"] == "floor").unwrap();
    let within = floor["within_us"].as_f64().unwrap() / 1e6;
    assert!((floor["seconds"].as_f64().unwrap() - FALL).abs() < within && within < 0.06, "{floor}");
    assert_eq!(floor["confirmed"], false);

    // As a sheet, with every figure of the answer on it.
    let sheet = desk.at("film.pdf");
    good(&["film", &show, &film, "--service", "Late", "--regions", &file, "--paper", &sheet]);
    let words = words_of(&sheet);
    // On standard output it stands alone, and what was found is told beside it.
    let alone = common::letfall(&["film", &show, &film, "--service", "Late", "--regions", &file, "--paper", "-"]);
    assert!(alone.status.success());
    assert_eq!(alone.stdout, std::fs::read(&sheet).unwrap());
    assert!(String::from_utf8_lossy(&alone.stderr).contains("L8"));
    // Nothing is written over by its neighbour.
    let both =
        ["film", &show, &film, "--service", "Late", "--regions", &file, "--paper", "-", "--take", "delays", "-o", "-"];
    assert!(bad(&both).contains("name another file after --paper"));
    for (cue, unit) in [("L8", "ms"), ("L9", "ms"), ("O3", "ms")] {
        let line = seen.iter().find(|line| line["cue"] == cue).unwrap();
        let late = format!("{:+.0} {unit}", line["late_us"].as_f64().unwrap() / 1e3);
        assert!(words.contains(&late), "{late} in {words}");
    }
    for told in [
        "What the film shows",
        "not confirmed",
        "another cue changes the same region",
        "25 of 25 stretches",
        "Sent is not fallen",
    ] {
        assert!(words.contains(told), "{told} in {words}");
    }

    // What is seen where, proposed: the screen and the fabric change on one beat, and are told apart.
    let proposed = desk.at("proposed.json");
    let told = good(&["film", &show, &film, "--service", "Late", "--propose", &proposed]);
    println!("{told}");
    let found: Regions = serde_json::from_slice(&std::fs::read(&proposed).unwrap()).unwrap();
    found.validate().unwrap();
    let of = |regions: &[Region], name: &str| {
        regions.iter().find(|region| region.shows.iter().any(|shown| shown == name)).cloned().unwrap()
    };
    let drawn: Regions = serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap();
    for name in ["House screen", "Front fabric", "Lighting"] {
        let (found, drawn) = (of(&found.regions, name), of(&drawn.regions, name));
        let off = [found.x - drawn.x, found.y - drawn.y, found.w - drawn.w, found.h - drawn.h];
        // The wash was drawn narrower than it is.
        let within = if name == "Lighting" { 0.11 } else { 0.03 };
        assert!(off.iter().all(|off| off.abs() < within), "{name}: {found:?} for {drawn:?}");
        assert!(told.contains(name) && told.contains("Look at a picture"), "{told}");
    }
    // It is measured with it as with what was drawn by hand.
    let by_proposal = good(&["film", &show, &film, "--service", "Late", "--regions", &proposed, "--json"]);
    let (one, other) = (lines(&by_proposal, "seen"), &seen);
    let late_of =
        |lines: &[Value], cue: &str| lines.iter().find(|line| line["cue"] == cue).unwrap()["late_us"].as_f64().unwrap();
    for cue in ["O3", "L8"] {
        assert!((late_of(&one, cue) - late_of(other, cue)).abs() < 10_000.0, "{cue}: {one:?} {other:?}");
    }
    // The sightline is the show's, from straight in front.
    let hang = &self::show().hangs[0];
    let share = of(&found.regions, "Front fabric").sightline.unwrap();
    assert!((share - (hang.top_m - hang.sightline_m) / hang.top_m).abs() < 1e-9, "{share}");

    // With the log of the run: what was sent 30 ms late is not late of the lights. L9 was sent twice, so nobody can say which was seen.
    let line = |label: &str, late: i64| {
        serde_json::json!({"type": "message", "wall_us": 0, "label": label, "port": "playback", "bytes": "90 3C 7F",
            "planned_us": 0, "late_us": late, "what": "sent"})
    };
    let log = [line("L8", 30_000), line("L9", 1000), line("L9", 2000)].map(|line| line.to_string()).join("\n");
    let log = desk.file("run.log", log.as_bytes());
    let with_log = good(&["film", &show, &film, "--service", "Late", "--regions", &file, "--log", &log, "--json"]);
    let late =
        |lines: &[Value], cue: &str| lines.iter().find(|line| line["cue"] == cue).unwrap()["late_us"].as_i64().unwrap();
    let logged = lines(&with_log, "seen");
    assert_eq!(late(&logged, "L8"), late(&seen, "L8") - 30_000);
    assert_eq!(late(&logged, "L9"), late(&seen, "L9"));

    // Taken into the show as one step; nothing but what was named.
    let out = desk.at("taken.letfall");
    good(&["film", &show, &film, "--service", "Late", "--regions", &file, "--take", "delays", "-o", &out]);
    let taken = letfall_core::file::read(&std::fs::read(&out).unwrap()).unwrap();
    assert_eq!(taken.hangs, self::show().hangs);
    assert_eq!(taken.receivers[0].latency.measured, 2);
    good(&["film", &show, &film, "--service", "Late", "--regions", &file, "--take", "drops", "-o", &out]);
    let taken = letfall_core::file::read(&std::fs::read(&out).unwrap()).unwrap();
    assert_eq!(taken.receivers, self::show().receivers);
    assert_eq!(taken.hangs[0].measured.len(), self::show().hangs[0].measured.len() + 2);

    // On standard output there is the show and nothing else.
    let piped = good(&["film", &show, &film, "--service", "Late", "--regions", &file, "--take", "drops", "-o", "-"]);
    assert_eq!(letfall_core::file::read(piped.as_bytes()).unwrap(), taken);

    // The sound alone, without ffmpeg; a place by hand; another song.
    let wav = desk.file("sound.wav", &films::wave(&heard));
    let by_sound = lines(&good(&["film", &show, &wav, "--service", "Late", "--json"]), "run");
    let at_start = by_sound[0]["song_at_start_us"].as_f64().unwrap() / 1e6;
    assert!((at_start - FROM).abs() < 0.003, "{at_start}");
    let other = desk.file("other.wav", &films::wave(&songs::Song::new(77, 30.0).play()));
    assert!(bad(&["film", &show, &other, "--service", "Late"]).contains("the guide is not heard in the film"));
    let silent = desk.file("silent.wav", &films::wave(&vec![0.0; 400_000]));
    assert!(bad(&["film", &show, &silent, "--service", "Late"]).contains("is silent"));
    let by_hand = lines(&good(&["film", &show, &film, "--service", "Late", "--at", "2=49", "--json"]), "run");
    assert_eq!(by_hand[0]["song_at_start_us"].as_i64().unwrap(), 137_142_857 - 2_000_000);
}

/// A band plays, so the guide is not in the film; the house's timecode is, on one of the camera's channels, as Letfall writes it (which
/// libltc reads, tests/oracles).
#[test]
fn a_band_and_timecode() {
    if letfall_testing::lacks_ffmpeg("film a_band_and_timecode") {
        return;
    }
    let desk = Desk::new();
    let show = demo("lantern-night");
    let show = path(&show);
    let code = desk.at("code.wav");
    good(&["timecode", show, "--service", "Late", "-o", &code]);
    let starts = hound::WavReader::open(&code).unwrap().duration();
    assert!(starts > 0);
    let band = desk.file("band.wav", &films::wave(&songs::Song::new(41, 60.0).play()));
    let film = desk.at("film.mp4");
    // Both together, the timecode on the right, 40 s into it.
    let mut command = std::process::Command::new("ffmpeg");
    command.args(["-loglevel", "error", "-i", &band, "-ss", "40", "-i", &code, "-filter_complex"]);
    command.args([
        "[0:a]aresample=48000,aformat=channel_layouts=mono[b];[1:a]aresample=48000,aformat=channel_layouts=mono[c];[b][c]join=inputs=2:channel_layout=stereo[a]",
        "-map",
        "[a]",
        "-c:a",
        "aac",
        "-shortest",
        &film,
    ]);
    assert!(command.status().unwrap().success());
    let run = &lines(&good(&["film", show, &film, "--service", "Late", "--json"]), "run")[0];
    // The file begins where every file of the service does, before the song.
    let plan = PreparedShow::new(Arc::new(self::show()), OutsideFacts::none()).prepare_named("Late").unwrap();
    let begins = plan.grid().time_at(plan.schedule().opens_at()).secs_f64();
    let off = run["song_at_start_us"].as_f64().unwrap() / 1e6 - (begins + 40.0);
    assert!(off.abs() < 0.001 && run["by"] == "timecode", "{off} {run}");
    let words = good(&["film", show, &film, "--service", "Late"]);
    assert!(words.contains("frames of its timecode were read"), "{words}");
    // As a recording of the wire alone, without ffmpeg.
    let run = &lines(&good(&["film", show, &code, "--service", "Late", "--json"]), "run")[0];
    let off = run["song_at_start_us"].as_f64().unwrap() / 1e6 - begins;
    assert!(off.abs() < 0.001, "{off}");
}

/// Slow motion without sound: a person says one place, and how slow it plays.
#[test]
fn slow_motion_without_sound() {
    if letfall_testing::lacks_ffmpeg("film slow_motion_without_sound") {
        return;
    }
    let desk = Desk::new();
    let plan = PreparedShow::new(Arc::new(show()), OutsideFacts::none()).prepare_named("Late").unwrap();
    let bar_56 = plan.grid().bar_time(56).secs_f64();
    let land = |label: &str| plan.row(label.parse().unwrap()).unwrap().land.secs_f64() - bar_56 + 1.0;
    let falls = (land("R1") - 0.6, land("R1") - 0.6);
    let stage = Stage { secs: 7.0, washes: Vec::new(), screen: land("O3") + SCREENS, falls, drag: 0.0 };
    let slowed: &[&str] = &[
        "-vf",
        "setpts=4*PTS",
        "-fps_mode",
        "passthrough",
        "-an",
        "-c:v",
        "libx264",
        "-preset",
        "ultrafast",
        "-pix_fmt",
        "yuv420p",
        "mp4",
    ];
    let film = stage.film(desk.0.path(), &Camera::of(100.0), &[0.0; 1600], slowed, 3);
    let (film, show) = (path(&film).to_owned(), path(&demo("lantern-night")).to_owned());
    let told = bad(&["film", &show, &film, "--service", "Late"]);
    assert!(told.contains("there is no sound in it"), "{told}");
    let file = regions_file(&desk);
    // Bar 56 begins one second into what was filmed, which is four seconds into the film.
    let all = ["film", &show, &film, "--service", "Late", "--regions", &file, "--at", "4=56", "--slow", "4", "--json"];
    let json = good(&all);
    let seen = lines(&json, "seen");
    let screen = seen.iter().find(|line| line["cue"] == "O3").unwrap();
    let (late, within) = (screen["late_us"].as_f64().unwrap() / 1e6, screen["within_us"].as_f64().unwrap() / 1e6);
    assert!((late - SCREENS).abs() < within + 0.001 && within < 0.008, "{screen}");
    let floor = lines(&json, "drop").into_iter().find(|line| line["to"] == "floor").unwrap();
    let within = floor["within_us"].as_f64().unwrap() / 1e6;
    assert!((floor["seconds"].as_f64().unwrap() - FALL).abs() < within && within < 0.04, "{floor}");
}

/// What people type wrongly is said in a sentence.
#[test]
fn mistakes_are_told() {
    let desk = Desk::new();
    let show = path(&demo("lantern-night")).to_owned();
    let told = |more: &[&str]| bad(&[&["film", &show, "nowhere.mp4", "--service", "Late"], more].concat());
    assert!(told(&[]).contains("the film cannot be read: there is no such file"));
    let wav = desk.file("sound.wav", &films::wave(&vec![0.1; 32_000]));
    let told = |more: &[&str]| bad(&[&["film", &show, &wav, "--service", "Late"], more].concat());
    assert!(told(&[]).contains("less than 8 s of sound"));
    assert!(told(&["--at", "1=3", "--slow", "0"]).contains("it is 1 to 32"));
    assert!(told(&["--at", "1=3", "--sudden"]).contains("nothing sudden is heard within 0.15 s of 1 s"));
    assert!(told(&["--sudden"]).contains("--at"));
    assert!(told(&["--at", "noon"]).contains("such as --at 12.4=33"));
    assert!(told(&["--distance", "1000"]).contains("0 to 300 metres"));
    assert!(told(&["--rolling", "500"]).contains("at most 100 ms"));
    assert!(told(&["--clap", "1"]).contains("no clap is heard"));
    assert!(told(&["--take", "delays"]).contains("--output"));
    // A clap on the first beat of bar 49, 3.2 s into the recording; a hand is a tenth of a second off.
    let mut clap: Vec<f32> = (0..96_000).map(|n| 0.002 * libm::sinf(n as f32 * 0.7)).collect();
    for n in 0..800usize {
        clap[51_200 + n] += libm::expf(-(n as f32) / 120.0) * if n % 3 == 0 { 0.8 } else { -0.5 };
    }
    let clap = desk.file("clap.wav", &films::wave(&clap));
    let place = |more: &[&str]| {
        let json = good(&[&["film", &show, &clap, "--service", "Late", "--at", "3.1=49", "--json"], more].concat());
        let run = lines(&json, "run").remove(0);
        (run["song_at_start_us"].as_f64().unwrap() / 1e6, run["within_us"].as_f64().unwrap() / 1e6)
    };
    assert_eq!(place(&[]), (137.142_857 - 3.1, 0.1));
    let (at_start, within) = place(&["--sudden"]);
    assert!((at_start - (137.142_857 - 3.2)).abs() < within && (within - 0.006).abs() < 1e-9, "{at_start} {within}");
    let file = desk.file("regions.json", br#"{"regions":[{"name":"A","x":0,"y":0,"w":2,"h":1,"shows":["Lighting"]}]}"#);
    assert!(told(&["--regions", &file]).contains("region \"A\""));
    let file = desk.file("regions.json", br#"{"regions":[{"name":"A","x":0,"y":0,"w":1,"h":1}]}"#);
    assert!(told(&["--regions", &file]).contains("missing field `shows`"));
    let file = regions_file(&desk);
    assert!(told(&["--regions", &file]).contains("is sound alone"));
    let file = desk.file("regions.json", br#"{"regions":[{"name":"A","x":0,"y":0,"w":1,"h":1,"shows":["Lights"]}]}"#);
    assert!(told(&["--regions", &file]).contains("\"Lights\", which is no receiver, output or fabric of this show"));
}

/// A machine without the program, and one whose program gives up in the middle.
#[cfg(unix)]
#[test]
fn the_program_that_reads_films() {
    use std::os::unix::fs::PermissionsExt as _;
    let desk = Desk::new();
    let show = path(&demo("lantern-night")).to_owned();
    let film = desk.file("film.mp4", b"whatever");
    let told = |program: &str| {
        let mut run = std::process::Command::new(letfall_testing::program(env!("CARGO_BIN_EXE_letfall")));
        let out =
            run.args(["film", &show, &film, "--service", "Late"]).env("LETFALL_FFMPEG", program).output().unwrap();
        assert_eq!(out.status.code(), Some(2));
        String::from_utf8(out.stderr).unwrap()
    };
    let missing = told("/nowhere/ffmpeg");
    assert!(
        missing.contains("\"ffmpeg\", which is not installed here") && missing.contains("a sound file"),
        "{missing}"
    );
    let script = desk.file("half", b"#!/bin/sh\nhead -c 640000 /dev/zero\nexit 1\n");
    std::fs::set_permissions(&script, std::fs::Permissions::from_mode(0o755)).unwrap();
    let half = told(&script);
    assert!(half.contains("reading ended after 10.0 s"), "{half}");
}

//! Films made with known truth by the system's ffmpeg, read and measured.

#![allow(clippy::unwrap_used, clippy::cast_possible_truncation, clippy::cast_sign_loss, missing_docs)]

#[path = "made/films.rs"]
mod films;
#[path = "made/songs.rs"]
mod songs;

use films::{Camera, FALL, SIGHTLINE, Stage, regions};
use letfall_film::align::align;
use letfall_film::open::{FilmError, frames, sound};
use letfall_film::picture::{Recorder, Wanted, change, fall};
use letfall_film::sound::RATE;
use songs::{Hall, Song};
use std::path::Path;

const MP4: &[&str] =
    &["-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p", "-c:a", "aac", "-b:a", "96k", "mp4"];

fn stage() -> Stage {
    Stage {
        secs: 14.0,
        washes: vec![(3.013, 0.0, 0.7), (9.307, 1.0, 0.2)],
        screen: 4.787,
        falls: (6.411, 6.411),
        drag: 0.0,
    }
}

/// How far off, seconds: where the sound lies, a light at once, a fade half way, the screen, let-go, sightline, floor.
fn measured(film: &Path, stage: &Stage, camera: &Camera, song: &[f32], truth: f64) -> ([f64; 7], [f64; 2]) {
    let heard = sound(film, |_| true).unwrap();
    let runs = align(&heard.samples, song, |_| true).unwrap();
    assert_eq!(runs.len(), 1);
    // By the film's clock, whose pictures begin where they begin.
    let mut first = None;
    let begins = heard.begins;
    let mut recorder = Recorder::new(&regions(), vec![(0.0, stage.secs + 1.0)]);
    frames(film, |frame| {
        first = first.or(Some(frame.at));
        recorder.take(frame);
        true
    })
    .unwrap();
    let zero = first.unwrap();
    let song_off = runs[0].song(5.0 + zero - begins) - (5.0 + truth);
    let step = recorder.step().unwrap();
    assert!((step - 1.0 / camera.rate).abs() < 0.3 / camera.rate, "{step}");
    let fade_within = std::cell::RefCell::new(0.0);
    let seen = |region: usize, lands: f64, fade: f64, share: f64| {
        let wanted = Wanted { lands: lands + zero + 0.11, fade, share, reach: (0.7, 0.7), step };
        let (from, to) = wanted.stretch();
        let mut seen = change(recorder.stills(region, from, to), &wanted).unwrap();
        seen.at += camera.rolling * regions()[region].middle();
        assert!(seen.trust > 0.6 && (seen.at - zero - lands).abs() <= seen.within + 0.6 / camera.rate, "{seen:?}");
        if fade > 0.0 {
            fade_within.replace(seen.within);
        }
        seen.at - zero - lands
    };
    let wash = seen(0, stage.washes[0].0, 0.0, 0.0);
    let fade = seen(0, stage.washes[1].0 + 0.5, 1.0, 0.5);
    let screen = seen(1, stage.screen, 0.0, 0.0);
    let about = stage.falls.0 + 0.5 + zero;
    let region = &regions()[2];
    let found = fall(recorder.stills(2, 0.0, 99.0), about, step, 1.0, camera.rolling, region).unwrap();
    let begins = f64::midpoint(stage.falls.0, stage.falls.1) + zero;
    assert!((found.right_later - (stage.falls.1 - stage.falls.0)).abs() < 1.0 / camera.rate, "{found:?}");
    let sightline = begins + FALL * SIGHTLINE.sqrt();
    let off = [
        song_off,
        wash,
        fade,
        screen,
        found.let_go - begins,
        found.sightline.unwrap() - sightline,
        found.floor - begins - FALL,
    ];
    println!("let-go within {:.1} ms, to the floor within {:.1} ms", found.within * 1e3, found.to_floor_within * 1e3);
    (off, [found.within, *fade_within.borrow()])
}

fn check(name: &str, stage: &Stage, camera: Camera, codec: &[&str]) {
    let folder = tempfile::tempdir().unwrap();
    let song = Song::new(3, 40.0).play();
    let hall = Hall { echo: 0.8, direct: 3.0, noise: 20.0, singer: false, drift: 0.0 };
    let heard = hall.film(&song, 12.0, 12.0 + stage.secs, 0.0, 9);
    let film = stage.film(folder.path(), &camera, &heard[..(stage.secs * f64::from(RATE)) as usize], codec, 1);
    let (off, [within, fade_within]) = measured(&film, stage, &camera, &song, 12.0);
    let frame = 1.0 / camera.rate;
    println!("{name}: ms off {:.2?}, a frame is {:.1}", off.map(|o| o * 1e3), frame * 1e3);
    assert!(off[0].abs() < 0.003, "{name}: sound {:.2} ms", off[0] * 1e3);
    // A fade is read to a level and a half, which is told; what changes at once to half a frame.
    assert!(off[2].abs() <= fade_within && fade_within < 0.5 * frame + 0.045, "{name}: fade {:.2} ms", off[2] * 1e3);
    for light in [off[1], off[3]] {
        assert!(light.abs() <= 0.5 * frame + 0.0015, "{name}: light {:.2} ms", light * 1e3);
    }
    assert!(off[4].abs() <= within, "{name}: let-go {:.2} ms, within {:.2}", off[4] * 1e3, within * 1e3);
    // Where a film shakes from frame to frame, the top of the fabric moves against the region, and let-go is only known as well as it states.
    for mark in &off[if camera.shake > 0.0 { 5 } else { 4 }..] {
        assert!(mark.abs() <= frame, "{name}: fall {:.2} ms", mark * 1e3);
    }
}

#[test]
fn every_rate_and_codec() {
    if letfall_testing::lacks_ffmpeg("films every_rate_and_codec") {
        return;
    }
    let hevc: &[&str] =
        &["-c:v", "libx265", "-preset", "ultrafast", "-x265-params", "log-level=error", "-c:a", "aac", "mov"];
    let vp9: &[&str] = &["-c:v", "libvpx-vp9", "-deadline", "realtime", "-cpu-used", "8", "-c:a", "libopus", "webm"];
    let uneven: &[&str] = &[
        "-vf",
        "select='not(eq(mod(n,7),3)+eq(mod(n,11),5))'",
        "-fps_mode",
        "vfr",
        "-c:v",
        "libx264",
        "-preset",
        "ultrafast",
        "-c:a",
        "aac",
        "mp4",
    ];
    let turned: &[&str] = &["-c:v", "libx264", "-preset", "medium", "-metadata:s:v", "rotate=0", "-c:a", "aac", "mov"];
    for (name, rate, codec) in [
        ("240, H.264", 240.0, MP4),
        ("25, H.264", 25.0, MP4),
        ("30, HEVC", 30.0, hevc),
        ("50, VP9", 50.0, vp9),
        ("60, uneven", 60.0, uneven),
        ("30, frames out of order", 30.0, turned),
        ("120, H.264", 120.0, MP4),
    ] {
        check(name, &stage(), Camera::of(rate), codec);
    }
}

#[test]
fn what_cameras_do() {
    if letfall_testing::lacks_ffmpeg("films what_cameras_do") {
        return;
    }
    let plain = Camera::of(50.0);
    for (name, camera) in [
        ("noise", Camera { noise: 20.0, ..plain }),
        ("shake", Camera { shake: 1.5, ..plain }),
        ("rolling shutter", Camera { rolling: 0.015, ..plain }),
        ("exposure", Camera { pumping: 0.8, ..plain }),
        ("flicker", Camera { flicker: 0.05, rate: 30.0, ..plain }),
    ] {
        check(name, &stage(), camera, MP4);
    }
    check("one side late", &Stage { falls: (6.411, 6.561), ..stage() }, plain, MP4);
}

/// A film that was cut on the telephone: the file still has what comes before, and says that it is not to be shown. A player begins later,
/// and so do all times.
#[test]
fn a_film_that_was_cut() {
    if letfall_testing::lacks_ffmpeg("films a_film_that_was_cut") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let (song, camera) = (Song::new(3, 40.0).play(), Camera::of(30.0));
    let hall = Hall { echo: 0.8, direct: 3.0, noise: 20.0, singer: false, drift: 0.0 };
    let whole = Stage { secs: 16.0, ..stage().later(1.3) };
    let heard = hall.film(&song, 12.0, 12.0 + whole.secs, 0.0, 9);
    let codec: &[&str] =
        &["-c:v", "libx264", "-preset", "medium", "-g", "50", "-pix_fmt", "yuv420p", "-c:a", "aac", "mp4"];
    let film = whole.film(folder.path(), &camera, &heard[..(whole.secs * f64::from(RATE)) as usize], codec, 1);
    let cut = folder.path().join("cut.mp4");
    // In the middle of a group of pictures, so that some must be worked out and not shown.
    let mut command = std::process::Command::new("ffmpeg");
    command.args(["-loglevel", "error", "-ss", "1.3", "-i"]).arg(&film).args(["-c", "copy"]).arg(&cut);
    assert!(command.status().unwrap().success());
    let (off, within) = measured(&cut, &stage(), &camera, &song, 12.0 + 1.3);
    println!("cut: ms off {:.2?}", off.map(|o| o * 1e3));
    assert!(off[0].abs() < 0.003 && off[2].abs() <= within[1], "{off:?}");
    for (at, most) in [(1, 0.018), (3, 0.018), (4, within[0]), (5, 0.034), (6, 0.034)] {
        assert!(off[at].abs() <= most, "{at}: {off:?}");
    }
}

/// Every stamp is that of another reader of films (PyAV, with its own build of the libraries), for films whose pictures come unevenly, out of
/// order, late, or turned, and whose sound begins earlier or later than they.
#[test]
fn stamps_are_those_of_another_reader() {
    if letfall_testing::lacks_ffmpeg("films stamps_are_those_of_another_reader") {
        return;
    }
    let Some(python) = std::env::var_os("LETFALL_ORACLES") else {
        return letfall_testing::skip(
            "films stamps_are_those_of_another_reader",
            "it compares with PyAV, which cargo xtask test installs",
        );
    };
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/oracles/film_stamps.py");
    let folder = tempfile::tempdir().unwrap();
    let song = Song::new(5, 6.0).play();
    let stage = Stage { secs: 5.0, ..stage() };
    let h264: &[&str] = &["-c:v", "libx264", "-preset", "medium", "-pix_fmt", "yuv420p"];
    let uneven = "select='not(eq(mod(n,7),3)+eq(mod(n,11),5))'";
    for (number, more) in [
        &["-c:a", "aac", "mp4"][..],
        &["-vf", uneven, "-fps_mode", "vfr", "-c:a", "aac", "mkv"],
        &["-vf", "setpts=PTS+0.4/TB", "-c:a", "aac", "mp4"],
        &["-af", "asetpts=PTS+0.3/TB", "-c:a", "aac", "mov"],
        &["-vf", "setpts=4*PTS", "-c:a", "libmp3lame", "mp4"],
        &["-metadata:s:v", "rotate=90", "-c:a", "aac", "mp4"],
        &["-c:a", "aac", "ts"],
        &["-c:a", "aac", "-output_ts_offset", "5000.123", "mkv"],
    ]
    .into_iter()
    .enumerate()
    {
        let codec = [h264, more].concat();
        let film = stage.film(folder.path(), &Camera::of(30.0), &song, &codec, number as u64);
        let out = std::process::Command::new(&python).arg(&script).arg(&film).output().unwrap();
        let text = String::from_utf8(out.stdout).unwrap();
        let numbers = |line: &str| line.split(' ').map(|n| n.parse().unwrap()).collect::<Vec<f64>>();
        let (pictures, first) = text.trim().split_once('\n').unwrap_or_else(|| panic!("{more:?}: {text}"));
        let (pictures, first) = (numbers(pictures), numbers(first));
        let mut stamps = Vec::new();
        frames(&film, |frame| {
            stamps.push(frame.at);
            true
        })
        .unwrap();
        assert_eq!(stamps.len(), pictures.len(), "{more:?}");
        let apart = stamps.iter().zip(&pictures).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        let heard = sound(&film, |_| true).unwrap();
        println!("{more:?}: pictures {apart:.6} s apart, sound {:.6} s", heard.begins - first[0]);
        // Stamps are written with six digits.
        assert!(
            apart < 1e-4 && (heard.begins - first[0]).abs() < 1e-4,
            "{more:?}: {apart}, {} for {}",
            heard.begins,
            first[0]
        );
        assert!((heard.samples.len() as f64 / f64::from(RATE) - first[1]).abs() < 0.05, "{more:?}");
    }
}

/// What cannot be a film is told in a sentence, and nothing is written, fetched or waited for without end.
#[test]
fn hostile_files() {
    if letfall_testing::lacks_ffmpeg("films hostile_files") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let other = folder.path().join("secret.txt");
    std::fs::write(&other, "words").unwrap();
    let list = format!("ffconcat version 1.0\nfile '{}'\n", other.display());
    let stream = format!("#EXTM3U\n#EXT-X-TARGETDURATION:5\n#EXTINF:5,\nfile://{}\n#EXT-X-ENDLIST\n", other.display());
    for (name, bytes) in [
        ("empty.mp4", Vec::new()),
        ("words.mp4", b"this is no film".to_vec()),
        ("list.mp4", list.clone().into_bytes()),
        ("list.ffconcat", list.into_bytes()),
        ("stream.m3u8", stream.into_bytes()),
        ("picture.svg", b"<svg xmlns='http://www.w3.org/2000/svg'><image href='file:///etc/passwd'/></svg>".to_vec()),
        ("head.mp4", b"\0\0\0\x18ftypisom\0\0\0\0isom\0\0\xff\xffmoov".to_vec()),
    ] {
        let file = folder.path().join(name);
        std::fs::write(&file, bytes).unwrap();
        for told in [frames(&file, |_| true).map(drop), sound(&file, |_| true).map(drop)] {
            let why = told.unwrap_err();
            assert!(matches!(why, FilmError::Format(_) | FilmError::NoPicture | FilmError::NoSound), "{name}: {why}");
            println!("{name}: {why}");
        }
    }
    let missing = frames(&folder.path().join("nowhere.mp4"), |_| true).unwrap_err();
    println!("{missing}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 8);
}

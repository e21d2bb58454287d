//! Pictures for people to look at, and what a person marks in them.

#![allow(clippy::unwrap_used, missing_docs)]

#[path = "made/films.rs"]
mod films;
#[path = "made/songs.rs"]
mod songs;

use films::{Camera, Stage};
use letfall_film::open::{FilmError, frames, key_pictures, length, pictures_between};
use songs::Song;
use std::path::{Path, PathBuf};

fn stage() -> Stage {
    Stage { secs: 9.0, washes: vec![(3.013, 0.0, 0.7)], screen: 4.787, falls: (6.411, 6.411), drag: 0.0 }
}

/// The same film from a telephone that was held upright: it says in its head that it is to be turned.
fn held_upright(film: &Path) -> PathBuf {
    let turned = film.with_file_name("turned.mp4");
    let mut command = std::process::Command::new("ffmpeg");
    command.args(["-loglevel", "error", "-i"]).arg(film).args(["-c", "copy", "-metadata:s:v", "rotate=90"]);
    assert!(command.arg(&turned).status().unwrap().success());
    turned
}

fn stamps(film: &Path) -> Vec<f64> {
    let mut stamps = Vec::new();
    frames(film, |frame| {
        stamps.push(frame.at);
        true
    })
    .unwrap();
    stamps
}

/// The pictures of a stretch are those, with the stamps, that the reading of the whole film has there: no picture is missed or shown twice
/// where the film is entered in the middle.
#[test]
fn a_stretch_has_the_pictures_of_the_whole_film() {
    if letfall_testing::lacks_ffmpeg("to_look_at a_stretch_has_the_pictures_of_the_whole_film") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let song = Song::new(5, 9.0).play();
    let h264: &[&str] = &["-c:v", "libx264", "-preset", "medium", "-pix_fmt", "yuv420p"];
    let uneven = "select='not(eq(mod(n,7),3)+eq(mod(n,11),5))'";
    for (number, (more, turned)) in [
        (&["-g", "24", "-c:a", "aac", "mp4"][..], false),
        (&["-g", "250", "-vf", uneven, "-fps_mode", "vfr", "-c:a", "aac", "mkv"], false),
        (&["-vf", "setpts=PTS+0.4/TB", "-c:a", "aac", "mp4"], false),
        (&["-g", "30", "-c:a", "aac", "mp4"], true),
        (&["-g", "30", "-c:a", "aac", "ts"], false),
        (&["-g", "30", "-c:a", "aac", "-output_ts_offset", "5000.123", "mkv"], false),
        (
            &["-c:v", "libvpx-vp9", "-deadline", "realtime", "-cpu-used", "8", "-g", "40", "-c:a", "libopus", "webm"],
            false,
        ),
        (&["-c:v", "libtheora", "-q:v", "7", "-c:a", "libvorbis", "ogg"], false),
    ]
    .into_iter()
    .enumerate()
    {
        let codec = [h264, more].concat();
        let film = stage().film(folder.path(), &Camera::of(30.0), &song, &codec, number as u64);
        let film = if turned { held_upright(&film) } else { film };
        let all = stamps(&film);
        for (from, to) in [(4.2, 5.3), (0.0, 0.5), (8.4, 99.0)] {
            let mut seen = Vec::new();
            let mut size = None;
            pictures_between(
                &film,
                (from, to),
                72,
                || true,
                |picture| {
                    assert_eq!(picture.rgb.len(), picture.wide * picture.high * 3);
                    size = Some((picture.wide, picture.high));
                    seen.push(picture.at);
                    true
                },
            )
            .unwrap();
            let truth: Vec<f64> = all.iter().copied().filter(|at| (from..=to).contains(at)).collect();
            assert_eq!(seen.len(), truth.len(), "{more:?}, {from} to {to}: {seen:.3?} for {truth:.3?}");
            assert!(seen.iter().zip(&truth).all(|(a, b)| (a - b).abs() < 1e-6), "{more:?}: {seen:.4?} for {truth:.4?}");
            // The film is 4 to 3; turned, it stands upright.
            assert_eq!(size, Some(if turned { (54, 72) } else { (96, 72) }), "{more:?}");
        }
        // Stopped when enough was seen, and asked for what is after the end.
        let mut count = 0;
        pictures_between(
            &film,
            (4.0, 9.0),
            36,
            || true,
            |_| {
                count += 1;
                count < 3
            },
        )
        .unwrap();
        assert_eq!(count, 3);
        pictures_between(&film, (7.0, 9.0), 36, || false, |_| panic!("it was stopped")).unwrap();
        pictures_between(&film, (500.0, 501.0), 36, || true, |_| panic!("nothing is there")).unwrap();

        let mut keys = Vec::new();
        key_pictures(&film, 54, |picture| {
            keys.push(picture.at);
            true
        })
        .unwrap();
        assert!(!keys.is_empty() && keys.len() < all.len() / 2, "{more:?}: {keys:.3?}");
        assert!(keys.iter().all(|at| all.iter().any(|a| (a - at).abs() < 1e-6)), "{more:?}: {keys:.4?}");
        let told = length(&film).unwrap().unwrap();
        // This kind of file says when it ends, and not how long it is.
        let told = if told > 5000.0 { told - 5000.123 } else { told };
        assert!((told - 9.0).abs() < 0.6, "{more:?}: {told}");
    }
}

/// What cannot be a film is told here too.
#[test]
fn what_is_no_film() {
    if letfall_testing::lacks_ffmpeg("to_look_at what_is_no_film") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("words.mp4");
    std::fs::write(&file, "this is no film").unwrap();
    let told = length(&file);
    assert!(matches!(told, Err(FilmError::Format(_))), "{told:?}");
    for told in [key_pictures(&file, 54, |_| true), pictures_between(&file, (3.0, 4.0), 54, || true, |_| true)] {
        assert!(matches!(told, Err(FilmError::Format(_))), "{told:?}");
    }
    let sound = folder.path().join("sound.mka");
    let wav = folder.path().join("sound.wav");
    std::fs::write(&wav, films::wave(&vec![0.1; 32_000])).unwrap();
    let made = std::process::Command::new("ffmpeg").args(["-loglevel", "error", "-i"]).arg(&wav).arg(&sound).status();
    assert!(made.unwrap().success());
    assert_eq!(key_pictures(&sound, 54, |_| true), Err(FilmError::NoPicture));
}

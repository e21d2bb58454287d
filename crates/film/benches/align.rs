//! How well and how fast films are laid against songs, beside a plain cross-correlation of scipy, and how fast a film is read.
//! `LETFALL_FILMS` says how many songs; 100 give 500 wrong pairs. With `--reading`
//! only the last.

#![allow(clippy::unwrap_used, clippy::cast_possible_truncation, clippy::cast_sign_loss, missing_docs)]

#[path = "../tests/made/films.rs"]
mod films;
#[path = "../tests/made/songs.rs"]
mod songs;

use letfall_film::align::align;
use letfall_film::open::{frames, sound};
use letfall_film::picture::Recorder;
use songs::{Hall, Song};
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

/// Errors in milliseconds, in order of size: how many, median, 95 of 100, worst.
fn row(name: &str, errors: &[f64], of: u64, secs: f64) {
    let mut sizes: Vec<f64> = errors.iter().map(|e| e.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let at =
        |share: f64| sizes.get((sizes.len() as f64 * share) as usize).or(sizes.last()).copied().unwrap_or(f64::NAN);
    println!(
        "{name:<34}{:>4} of {of:<4} median {:>8.3} ms, 95 % {:>8.3} ms, worst {:>10.3} ms, {:>6.2} s each",
        sizes.len(),
        at(0.5),
        at(0.95),
        at(1.0),
        secs / of as f64
    );
}

/// The same pairs by scipy; `None` without it.
fn plain(folder: &Path, pairs: usize) -> Option<Vec<(f64, f64)>> {
    let python = std::env::var_os("LETFALL_ORACLES")?;
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/oracles/plain_alignment.py");
    let mut child = Command::new(python).arg(script).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().ok()?;
    let mut to = child.stdin.take()?;
    for n in 0..pairs {
        let name = |what: &str| folder.join(format!("{what}-{n}.wav")).display().to_string();
        writeln!(to, "{}\t{}", name("film"), name("guide")).ok()?;
    }
    drop(to);
    let out = child.wait_with_output().ok()?;
    let numbers = |line: &str| line.split_once(' ').and_then(|(a, b)| Some((a.parse().ok()?, b.parse().ok()?)));
    String::from_utf8(out.stdout).ok()?.lines().map(numbers).collect()
}

fn main() {
    if std::env::args().any(|arg| arg == "--reading") {
        return reading();
    }
    let many: u64 = std::env::var("LETFALL_FILMS").ok().and_then(|n| n.parse().ok()).unwrap_or(12);
    let halls = [
        ("near, quiet", Hall::QUIET),
        ("hall, audience 10 dB", Hall { echo: 1.2, direct: 0.0, noise: 10.0, singer: false, drift: 40.0 }),
        ("church, far", Hall { echo: 3.0, direct: -6.0, noise: 15.0, singer: false, drift: -60.0 }),
        ("hall, a singer as loud", Hall { echo: 1.0, direct: 3.0, noise: 15.0, singer: true, drift: 80.0 }),
    ];
    for (name, hall) in halls {
        let folder = tempfile::tempdir().unwrap();
        let (mut errors, mut spent, mut truths, mut least) = (Vec::new(), 0.0, Vec::new(), 1.0f64);
        for seed in 0..many {
            let song = Song::new(seed, 90.0).play();
            let (from, to, before) = match seed % 3 {
                0 => (0.0, 85.0, 5.0),
                1 => (20.0, 50.0, 0.0),
                _ => (40.0, 85.0, 13.0),
            };
            let film = hall.film(&song, from, to, before, seed);
            let middle = before + (to - from) / 2.0;
            let truth = from + (middle - before) * (1.0 + hall.drift * 1e-6);
            truths.push(truth - middle);
            std::fs::write(folder.path().join(format!("film-{seed}.wav")), films::wave(&film)).unwrap();
            std::fs::write(folder.path().join(format!("guide-{seed}.wav")), films::wave(&song)).unwrap();
            let begun = Instant::now();
            let aligned = align(&film, &song, |_| true);
            spent += begun.elapsed().as_secs_f64();
            match aligned {
                Ok(runs) if runs.len() == 1 => {
                    least = least.min(runs[0].trust());
                    errors.push((runs[0].song(middle) - truth) * 1000.0);
                }
                other => println!("{name}, song {seed}: {other:?}"),
            }
        }
        row(name, &errors, many, spent);
        println!("  of the stretches of a run at least {:.0} % agree", least * 100.0);
        if let Some(plain) = plain(folder.path(), truths.len()) {
            let errors: Vec<f64> = plain.iter().zip(&truths).map(|((at, _), truth)| (at - truth) * 1000.0).collect();
            row("  plain cross-correlation (scipy)", &errors, many, plain.iter().map(|p| p.1).sum());
        }
    }
    wrong(many);
    reading();
}

fn wrong(many: u64) {
    let hall = Hall { echo: 1.0, direct: 3.0, noise: 15.0, singer: false, drift: 20.0 };
    let (mut accepted, mut tried) = (0, 0);
    for seed in 0..many {
        let song = Song::new(seed, 90.0);
        let guide = song.play();
        let round = Song { round: Some(2), ..song.clone() };
        let others = [
            ("another song", guide.clone(), Song::new(seed + 5000, 60.0)),
            ("the same at 101 %", guide.clone(), Song { speed: 1.01, ..song.clone() }),
            ("the same in another key", guide.clone(), Song { higher: 1 + (seed % 5) as i32, ..song.clone() }),
            ("its later bars, not in the guide", guide.clone(), Song { first_bar: 200, ..song.clone() }),
            (
                "another part of a loop",
                Song { secs: 30.0, ..round.clone() }.play(),
                Song { first_bar: 1, secs: 40.0, ..round },
            ),
        ];
        for (name, guide, other) in others {
            let film = hall.film(&other.play(), 0.0, other.secs.min(55.0), 2.0, seed);
            tried += 1;
            if let Ok(runs) = align(&film, &guide, |_| true) {
                accepted += 1;
                println!("accepted: {name}, song {seed}: {runs:?}");
            }
        }
    }
    println!("wrong pairs accepted: {accepted} of {tried}");
}

/// Ten minutes of 1080 rows at 30 a second, with a song of five minutes played twice: everything that is done with it.
fn reading() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let ffmpeg = |args: &[&std::ffi::OsStr]| {
        let status = Command::new("ffmpeg").args(["-loglevel", "error"]).args(args).status();
        status.is_ok_and(|status| status.success())
    };
    let (minute, wav, film) = (at("minute.mp4"), at("song.wav"), at("film.mp4"));
    let words = |text: &'static str| text.split(' ').map(std::ffi::OsStr::new).collect::<Vec<_>>();
    let mut made = words("-f lavfi -i testsrc2=size=1920x1080:rate=30:duration=60 -c:v libx264 -preset veryfast");
    made.push(minute.as_os_str());
    if !ffmpeg(&made) {
        return println!("reading a film: no ffmpeg is here");
    }
    let song = Song::new(1, 300.0).play();
    let twice = [song.clone(), song.clone()].concat();
    std::fs::write(&wav, films::wave(&twice)).unwrap();
    let mut joined = words("-stream_loop 9 -i");
    joined.push(minute.as_os_str());
    joined.push("-i".as_ref());
    joined.push(wav.as_os_str());
    joined.extend(words("-map 0:v -map 1:a -c:v copy -c:a aac -shortest"));
    joined.push(film.as_os_str());
    assert!(ffmpeg(&joined));
    drop((twice, made, joined));

    let (mut most, mut own) = (0, 0);
    let begun = Instant::now();
    let mut last = Instant::now();
    let mut look = || {
        if last.elapsed().as_millis() > 200 {
            last = Instant::now();
            (own, most) = (own.max(held("self")), most.max(others()));
        }
        true
    };
    let heard = sound(&film, |_| look()).unwrap();
    let runs = align(&heard.samples, &song, |_| look()).unwrap();
    let placed = begun.elapsed().as_secs_f64();
    let mut recorder =
        Recorder::new(&films::regions(), (0..60).map(|n| (f64::from(n) * 10.0, f64::from(n) * 10.0 + 3.0)).collect());
    let mut count = 0;
    frames(&film, |frame| {
        recorder.take(frame);
        count += 1;
        look()
    })
    .unwrap();
    let took = begun.elapsed().as_secs_f64();
    println!(
        "10 min of 1080p30 ({count} pictures, {} runs): {took:.1} s, {:.2} times real time; its place after {placed:.1} s; {own} MB here, {most} MB in ffmpeg",
        runs.len(),
        took / 600.0
    );
}

/// The most memory that a process has held, MB; 0 where nobody can say.
fn held(process: &str) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.split_whitespace().next()?.parse::<u64>().ok()).unwrap_or(0) / 1024
}

/// The same of ffmpeg, which is the only one that runs here.
fn others() -> u64 {
    let all = std::fs::read_dir("/proc").into_iter().flatten().flatten();
    let is_it =
        |id: &String| std::fs::read_to_string(format!("/proc/{id}/comm")).is_ok_and(|name| name.trim() == "ffmpeg");
    all.filter_map(|entry| entry.file_name().into_string().ok()).filter(is_it).map(|id| held(&id)).max().unwrap_or(0)
}

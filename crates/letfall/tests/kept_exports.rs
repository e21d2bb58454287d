//! Compares every export of the demo shows byte by byte with a stored one. A commit that changes an export names the change.
//!
//! For each command, `tests/assets/exports` holds the SHA-256 of the file it wrote, the SHA-256 of what it printed, and its
//! exit code. `LETFALL_KEEP_EXPORTS=write cargo test --package letfall --test kept_exports` stores the current results; before
//! you run it, look at what has changed and why.

#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use common::SHEETS;
use letfall_core::show::Show;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Mutex, OnceLock};

const SHOWS: [&str; 3] = ["lantern-night", "first-opener", "three-houses"];

/// The demo shows with their recordings, in a folder that is kept after the test because rendering takes a while.
fn folder() -> &'static Path {
    static FOLDER: OnceLock<PathBuf> = OnceLock::new();
    FOLDER.get_or_init(|| {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("kept-exports");
        fs::create_dir_all(&folder).unwrap();
        // Shows left there by an earlier build may be out of date.
        for name in SHOWS {
            drop(fs::remove_file(folder.join(name).with_extension("letfall")));
        }
        let made = Command::new(letfall_testing::program(env!("CARGO_BIN_EXE_letfall")))
            .arg("demo")
            .arg(&folder)
            .output()
            .unwrap();
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
        folder
    })
}

fn show(name: &str) -> Show {
    letfall_core::file::read(&fs::read(folder().join(name).with_extension("letfall")).unwrap()).unwrap()
}

fn sum(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().fold(String::new(), |mut text, byte| {
        write!(text, "{byte:02x}").unwrap();
        text
    })
}

/// What was said by each sum, so that a difference can be told in words.
static SAID: Mutex<BTreeMap<String, String>> = Mutex::new(BTreeMap::new());

/// Runs a command in the shows' folder. Returns its line: checksums of the file and of the output, exit code, command.
fn line(args: &[&str], file: Option<&str>) -> String {
    let mut command = Command::new(letfall_testing::program(env!("CARGO_BIN_EXE_letfall")));
    command.current_dir(folder()).args(args);
    if let Some(file) = file {
        drop(fs::remove_file(folder().join(file)));
        command.args(["-o", file]);
    }
    let out = command.output().unwrap();
    let written = file.and_then(|file| fs::read(folder().join(file)).ok());
    let wrote = written.map_or_else(|| "-".repeat(64), |bytes| sum(&bytes));
    if let Some(file) = file {
        drop(fs::remove_file(folder().join(file)));
    }
    let said = [out.stdout, out.stderr].concat();
    let words = sum(&said);
    SAID.lock().unwrap().insert(words.clone(), String::from_utf8_lossy(&said).chars().take(400).collect());
    format!("{wrote} {words} {} {}\n", out.status.code().unwrap(), args.join(" "))
}

/// Compares the current results with the stored ones, or stores them.
fn compare(name: &str, made: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/assets/exports").join(name);
    if std::env::var("LETFALL_KEEP_EXPORTS").is_ok_and(|v| v == "write") {
        fs::write(&path, made).unwrap();
    }
    let kept = fs::read_to_string(&path).unwrap_or_default();
    let changed: Vec<&str> = made.lines().filter(|line| !kept.lines().any(|k| k == *line)).collect();
    let gone = kept.lines().count() != made.lines().count();
    let said = SAID.lock().unwrap();
    let told = |line: &&str| line.split(' ').nth(1).and_then(|words| said.get(words)).cloned().unwrap_or_default();
    let said: Vec<String> = changed.iter().take(5).map(told).collect();
    assert!(
        changed.is_empty() && !gone,
        "other bytes, words or exit codes than were kept:\n{}\nthe first of them say:\n{}",
        changed.join("\n"),
        said.join("\n")
    );
}

/// Standard MIDI Files at each resolution with and without releases, CSV tables, and the output of `--json`.
#[test]
fn midi_tables_and_json() {
    let mut made = String::new();
    for name in SHOWS {
        let (show, file) = (show(name), format!("{name}.letfall"));
        made += &line(&["check", &file, "--json"], None);
        for service in &show.services {
            let of = ["--service", &service.name];
            made += &line(&["check", &file, of[0], of[1], "--json"], None);
            made += &line(&["check", &file, of[0], of[1]], None);
            made += &line(&["schedule", &file, of[0], of[1], "--json"], None);
            made += &line(&["schedule", &file, of[0], of[1]], None);
            for resolution in ["960", "4800", "ms"] {
                let midi = ["midi", &file, of[0], of[1], "--resolution", resolution];
                made += &line(&midi, Some("kept.mid"));
                made += &line(&[&midi[..], &["--with-releases"]].concat(), Some("kept-releases.mid"));
            }
            made += &line(&["table", &file, of[0], of[1]], Some("kept.csv"));
            for other in &show.services {
                for matching in ["bars", "sections", "clock"] {
                    made += &line(&["compare", &file, &service.name, &other.name, "--match", matching, "--json"], None);
                }
            }
        }
    }
    compare("files.txt", &made);
}

/// Click and timecode, as sound files.
#[test]
fn click_and_timecode() {
    let mut made = String::new();
    for name in SHOWS {
        let file = format!("{name}.letfall");
        for service in &show(name).services {
            let of = ["--service", &service.name];
            made += &line(&["click", &file, of[0], of[1]], Some("kept-click.wav"));
            made += &line(&["click", &file, of[0], of[1], "--sections", "--samples", "44100"], Some("kept-click.wav"));
            made += &line(&["timecode", &file, of[0], of[1]], Some("kept-timecode.wav"));
            made += &line(&["timecode", &file, of[0], of[1], "--with-guide"], Some("kept-timecode.wav"));
            for rate in ["24", "25", "29.97df", "30"] {
                made += &line(&["timecode", &file, of[0], of[1], "--rate", rate], Some("kept-timecode.wav"));
            }
        }
    }
    compare("sounds.txt", &made);
}

/// Every sheet on A4, and all sheets together on every paper size, with a fixed date of printing. Once with changes marked.
#[test]
fn pages() {
    let mut made = String::new();
    let day = ["--printed", "2026-12-19"];
    for name in SHOWS {
        let file = format!("{name}.letfall");
        for service in &show(name).services {
            let paper = ["paper", &file, "--service", &service.name, day[0], day[1], "--sheet"];
            for sheet in SHEETS {
                made += &line(&[&paper[..], &[sheet]].concat(), Some("kept.pdf"));
            }
            for size in ["a4", "letter", "a3", "tabloid"] {
                made += &line(&[&paper[..], &["all", "--size", size]].concat(), Some("kept-all.pdf"));
            }
            made +=
                &line(&[&paper[..], &["all", "--previous", "lantern-night.letfall"]].concat(), Some("kept-all.pdf"));
        }
    }
    compare("pages.txt", &made);
}

//! Printing from a cold start: the program is started, the show is read, and the pages are typeset and written. Measures time
//! and peak memory.

#![allow(clippy::unwrap_used, clippy::cast_precision_loss, missing_docs)]

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const ROUNDS: usize = 3;

/// Runs the program. Returns the time it took, and the peak memory seen in MB (0 if the system does not report it).
fn run(args: &[&str]) -> (Duration, f64) {
    let begun = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_letfall")).args(args).stdout(Stdio::null()).spawn().unwrap();
    let status = PathBuf::from(format!("/proc/{}/status", child.id()));
    let mut most = 0.0f64;
    let done = loop {
        if let Some(done) = child.try_wait().unwrap() {
            break done;
        }
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let peak = text.lines().find_map(|l| l.strip_prefix("VmHWM:")?.trim().strip_suffix(" kB")?.parse::<f64>().ok());
        most = most.max(peak.unwrap_or(0.0) / 1024.0);
        std::thread::sleep(Duration::from_millis(2));
    };
    assert!(done.success());
    (begun.elapsed(), most)
}

fn row(name: &str, args: &[&str], reach: (f64, f64)) {
    let runs: Vec<(Duration, f64)> = (0..ROUNDS).map(|_| run(args)).collect();
    let time = runs.iter().map(|r| r.0).max().unwrap().as_secs_f64();
    let memory = runs.iter().map(|r| r.1).fold(0.0, f64::max);
    let reached = time <= reach.0 && memory <= reach.1;
    println!(
        "{name:<34}{time:>7.2} s  {memory:>6.0} MB   (at most {} s and {} MB, the slowest of {ROUNDS}: {})",
        reach.0,
        reach.1,
        if reached { "reached" } else { "NOT REACHED" }
    );
}

fn main() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str| folder.path().join(name).display().to_string();
    std::fs::write(file("thousand.letfall"), letfall_core::file::write(&letfall_core::stress::show(1000, 20).unwrap()))
        .unwrap();
    let demo =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows/lantern-night.letfall").display().to_string();
    let (thousand, out) = (file("thousand.letfall"), file("out.pdf"));
    row("running order, 1000 cues, cold", &["paper", &thousand, "--sheet", "order", "-o", &out], (2.0, 400.0));
    row("call sheet, 1000 cues, cold", &["paper", &thousand, "--sheet", "calls", "-o", &out], (2.0, 400.0));
    row(
        "all sheets, demo show, cold",
        &["paper", &demo, "--service", "Late", "--sheet", "all", "-o", &out],
        (1.5, 400.0),
    );
}

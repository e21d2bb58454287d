//! Lets a test report that it cannot run here. `cargo xtask test` counts it as skipped, and fails if it must not be skipped.

use std::fs::OpenOptions;
use std::io::Write as _;

/// Reports that a test cannot run here, and why. `LETFALL_SKIPS` names the file that collects the reports; without it they are
/// only printed.
///
/// # Panics
/// If that file cannot be written, because nobody would learn that the test was skipped.
pub fn skip(test: &str, why: &str) {
    println!("skipped: {test}: {why}");
    let Some(list) = std::env::var_os("LETFALL_SKIPS") else { return };
    let written = OpenOptions::new()
        .create(true)
        .append(true)
        .open(&list)
        // One write per line, so that lines of different tests do not mix.
        .and_then(|mut file| file.write_all(format!("{test}: {why}\n").as_bytes()));
    assert!(written.is_ok(), "{}: {written:?}", list.display());
}

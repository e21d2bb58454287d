//! A test that cannot run here says so where it is read: `cargo xtask test` counts it as skipped, and fails where it may not be.

use std::fs::OpenOptions;
use std::io::Write as _;

/// Notes that a test cannot run here, and why. `LETFALL_SKIPS` names the file that is read; without it the words are only printed.
///
/// # Panics
/// Where that file cannot be written: nobody would read that the test was skipped.
pub fn skip(test: &str, why: &str) {
    println!("skipped: {test}: {why}");
    let Some(list) = std::env::var_os("LETFALL_SKIPS") else { return };
    let written = OpenOptions::new()
        .create(true)
        .append(true)
        .open(&list)
        // One write for a line, so that lines of two tests do not mix.
        .and_then(|mut file| file.write_all(format!("{test}: {why}\n").as_bytes()));
    assert!(written.is_ok(), "{}: {written:?}", list.display());
}

//! What tests of the whole program share: which program they run, and how a test reports that it cannot run here. `cargo xtask test` counts
//! it as skipped, and fails if it must not be skipped.

use std::fs::OpenOptions;
use std::io::Write as _;
use std::path::PathBuf;

/// The environment's name for another program to run in place of the one that cargo built.
const ANOTHER: &str = "LETFALL_PROGRAM";

/// The program to test: the one that cargo built, or that which `LETFALL_PROGRAM` names, such as the Windows program under Wine.
pub fn program(built: &str) -> PathBuf {
    std::env::var_os(ANOTHER).map_or_else(|| built.into(), PathBuf::from)
}

/// Whether the program to test is not the one that cargo built, but that for Windows.
pub fn is_foreign() -> bool {
    std::env::var_os(ANOTHER).is_some()
}

/// Whether the program to test is one for Windows, which knows no links, pipes and permissions of Unix. If so, notes that the test is
/// skipped.
pub fn needs_unix(test: &str) -> bool {
    let skips = is_foreign();
    if skips {
        skip(test, "it is about what only Unix has");
    }
    skips
}

/// Whether the program to test is one for Unix, while the test is about what only Windows has. If so, notes that the test is skipped.
pub fn needs_windows(test: &str) -> bool {
    let skips = !is_foreign();
    if skips {
        skip(test, "it is about what only Windows has; cargo xtask platforms runs it");
    }
    skips
}

/// Whether the program that makes and reads films is missing here, which is then counted as a skip.
pub fn lacks_ffmpeg(test: &str) -> bool {
    let lacks = std::process::Command::new("ffmpeg").arg("-version").output().is_err();
    if lacks {
        skip(test, "no ffmpeg is here; cargo xtask test installs it");
    }
    lacks
}

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

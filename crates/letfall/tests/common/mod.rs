//! Running the program as users do.

#![allow(dead_code)] // each test program uses some of it

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

pub const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");

/// Every sheet, as the command line names it.
pub const SHEETS: [&str; 18] = [
    "order",
    "calls",
    "media",
    "lighting",
    "release",
    "outputs",
    "wall",
    "checklist",
    "kit",
    "crew",
    "stand-in",
    "patch",
    "between",
    "papers",
    "facts",
    "show-stop",
    "report",
    "strike",
];

pub fn demo(name: &str) -> PathBuf {
    Path::new(ROOT).join("demo-shows").join(name).with_extension("letfall")
}

pub fn letfall(args: &[&str]) -> Output {
    Command::new(letfall_testing::program(env!("CARGO_BIN_EXE_letfall"))).args(args).output().unwrap()
}

/// Runs a command that must succeed; returns what it printed.
pub fn good(args: &[&str]) -> String {
    let out = letfall(args);
    assert!(out.status.success(), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

/// Runs a command that must fail with exit code 2 and one sentence; returns the sentence.
pub fn bad(args: &[&str]) -> String {
    let out = letfall(args);
    let told = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(2), "{args:?}: {told}");
    assert_eq!(told.lines().count(), 1, "{told}");
    assert!(told.starts_with("letfall: ") && !told.contains("panicked"), "{told}");
    assert!(out.stdout.is_empty());
    told
}

pub fn path(p: &Path) -> &str {
    p.to_str().unwrap()
}

/// A folder of its own for a test.
pub struct Desk(pub tempfile::TempDir);

impl Desk {
    pub fn new() -> Desk {
        Desk(tempfile::tempdir().unwrap())
    }

    pub fn at(&self, name: &str) -> String {
        path(&self.0.path().join(name)).to_owned()
    }

    pub fn file(&self, name: &str, bytes: &[u8]) -> String {
        fs::write(self.at(name), bytes).unwrap();
        self.at(name)
    }
}

//! `cargo xtask lint`: format, clippy, documentation, tidiness, direction of crates, licences.

use crate::shell::{Done, ask, cargo, see, top};
use std::fs;
use std::path::{Path, PathBuf};

/// Lines of code in a file, tests and comments apart: the aim is 400, the stop 800.
const MOST_LINES: usize = 800;

/// Licences that our dependencies may have.
const LICENCES: [&str; 16] = [
    "MIT",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Zlib",
    "0BSD",
    "Unlicense",
    "CC0-1.0",
    "BSL-1.0",
    "MPL-2.0",
    "Unicode-3.0",
    "Unicode-DFS-2016",
    "OFL-1.1",
    "MIT-0",
    "NCSA",
];

/// Crates that must not come in below another: (crate, must not depend on).
const ARROWS: [(&str, &[&str]); 5] = [
    (
        "letfall-core",
        &[
            "midly",
            "csv",
            "typst",
            "egui",
            "eframe",
            "clap",
            "tempfile",
            "midir",
            "cpal",
            "letfall-export",
            "letfall-paper",
        ],
    ),
    ("letfall-export", &["typst", "egui", "eframe", "midir", "cpal", "tempfile", "letfall-paper"]),
    ("letfall-sound", &["typst", "egui", "eframe", "midir", "letfall-export", "letfall-paper", "letfall-live"]),
    ("letfall-live", &["typst", "egui", "eframe", "cpal", "letfall-export", "letfall-paper", "letfall-sound"]),
    ("letfall-paper", &["egui", "eframe", "midly", "midir", "cpal", "tempfile", "letfall-export"]),
];

/// All lints.
pub fn run() -> Done {
    see(&mut cargo(&["fmt", "--all", "--check"])).map_err(|e| format!("{e}; run cargo fmt"))?;
    see(&mut cargo(&["clippy", "--quiet", "--workspace", "--all-targets", "--", "-D", "warnings"]))?;
    let mut doc = cargo(&["doc", "--quiet", "--workspace", "--no-deps", "--document-private-items"]);
    doc.env("RUSTDOCFLAGS", "-D warnings");
    see(&mut doc)?;
    tidy()?;
    arrows()?;
    dependencies()?;
    println!("lints: nothing to say");
    Ok(())
}

/// Every source file begins with what it is for, and none is too long.
fn tidy() -> Done {
    let mut files = Vec::new();
    collect(&top().join("crates"), &mut files)?;
    for file in files {
        let text = fs::read_to_string(&file).map_err(|e| format!("{}: {e}", file.display()))?;
        let first = text.lines().next().unwrap_or_default();
        if !first.starts_with("//!") {
            return Err(format!("{} does not begin with //! and what it is for", file.display()));
        }
        let code = text.split("#[cfg(test)]").next().unwrap_or_default();
        let lines = code.lines().filter(|l| !l.trim().is_empty() && !l.trim_start().starts_with("//")).count();
        if lines > MOST_LINES {
            return Err(format!(
                "{} has {lines} lines of code and at most {MOST_LINES} are wanted; cut it by subject",
                file.display()
            ));
        }
    }
    Ok(())
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) -> Done {
    let entries = fs::read_dir(folder).map_err(|e| format!("{}: {e}", folder.display()))?;
    for entry in entries.flatten() {
        let path = entry.path();
        if path.is_dir() {
            collect(&path, files)?;
        } else if path.extension().is_some_and(|e| e == "rs") {
            files.push(path);
        }
    }
    files.sort();
    Ok(())
}

/// Arrows between crates run one way.
fn arrows() -> Done {
    for (krate, banned) in ARROWS {
        let tree = ask(&mut cargo(&[
            "tree",
            "--offline",
            "--package",
            krate,
            "--edges",
            "normal",
            "--prefix",
            "none",
            "--format",
            "{p}",
        ]))?;
        for line in tree.lines() {
            let name = line.split(' ').next().unwrap_or_default();
            if banned.contains(&name) {
                return Err(format!("{krate} depends on {name}, which it must not; see DEVELOPERS.md"));
            }
        }
    }
    Ok(())
}

/// Every dependency has a licence we may use and comes from the registry.
fn dependencies() -> Done {
    let tree = ask(&mut cargo(&[
        "tree",
        "--offline",
        "--workspace",
        "--edges",
        "all",
        "--prefix",
        "none",
        "--format",
        "{p}|{l}",
    ]))?;
    for line in tree.lines() {
        let line = line.trim_end_matches(" (*)");
        let Some((package, licence)) = line.split_once('|') else { continue };
        // An "or" needs one that we may use, an "and" all; the few odd ones are looked at by hand.
        let fits = licence.replace('/', " OR ").split(" OR ").any(|choice| {
            choice.split(" AND ").all(|part| {
                let part = part.trim_matches(|c: char| c == '(' || c == ')' || c == ' ');
                LICENCES.contains(&part.split(" WITH ").next().unwrap_or(part))
            })
        });
        if !fits {
            return Err(format!(
                "{package} has the licence \"{licence}\", which is not on the list in xtask; look at it"
            ));
        }
    }
    let lock = fs::read_to_string(top().join("Cargo.lock")).map_err(|e| format!("Cargo.lock: {e}"))?;
    if let Some(odd) = lock.lines().find(|l| l.starts_with("source = ") && !l.starts_with("source = \"registry+")) {
        return Err(format!("a dependency does not come from the registry: {odd}"));
    }
    Ok(())
}

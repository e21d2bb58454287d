//! Lints on our own source text, for rules that no compiler checks.

use crate::shell::{Done, top};
use std::fs;
use std::path::{Path, PathBuf};

/// The most lines of code in a file, not counting tests and comments.
const MOST_LINES: usize = 450;

/// Code that does no IO, reads no clock and starts no thread: whole crates, and the pure parts of mixed crates.
const PURE: &[&str] = &[
    "core/src",
    "export/src",
    "paper/src",
    "live/src/engine",
    "live/src/gate/guard.rs",
    "live/src/gate/mod.rs",
    "live/src/gate/packet.rs",
    "live/src/interlock.rs",
    "live/src/run_plan.rs",
    "live/src/units.rs",
    "live/src/follow.rs",
    "sound/src/bars",
    "sound/src/song",
];

/// What would be IO, a clock or a thread. Streams passed in by the caller (`std::io::Write` and the like) are allowed.
const IMPURE: &[&str] = &[
    "std::fs",
    "std::net",
    "std::process",
    "std::thread",
    "std::env",
    "std::time::Instant",
    "SystemTime",
    "Instant::now",
    "io::stdin",
    "io::stdout",
    "io::stderr",
    "println!",
    "eprintln!",
    "egui",
];

/// Code that takes a prepared plan and must not build parts of one itself.
const READERS: &[&str] = &["editor/src", "export/src", "files/src", "letfall/src", "live/src", "paper/src"];

/// The calls that build a grid, a schedule, a stage or a list of calls. Only the grid needs this check for all callers: the
/// rest can only be built in core, which the compiler enforces.
const BUILDS: &[&str] = &["grid.build()", "plan.build()", "Schedule::build(", "Stage::new("];

/// What watches the program must not use it: the simulation's witness, its devices, and the shows and scripts that are thrown at it.
const WITNESSES: &[&str] = &[
    "simulate/src/device.rs",
    "simulate/src/random.rs",
    "simulate/src/scene.rs",
    "simulate/src/script.rs",
    "simulate/src/story.rs",
    "simulate/src/witness",
];

/// Exempt: a MIDI file that is imported has a grid but belongs to no service of a show.
const NO_PLAN: &[&str] = &["export/src/midi/import.rs"];

/// Runs all of these lints.
pub fn run() -> Done {
    let crates = top().join("crates");
    let mut files = Vec::new();
    collect(&crates, &mut files)?;
    for file in files {
        let text = fs::read_to_string(&file).map_err(|e| format!("{}: {e}", file.display()))?;
        let name = file.strip_prefix(&crates).unwrap_or(&file).to_string_lossy().replace('\\', "/");
        if let Some(why) = wrong(&name, &text) {
            return Err(format!("crates/{name}{why}"));
        }
    }
    nothing_is_planted(&crates)
}

/// Faults are planted in the simulation alone, never in what anybody uses.
fn nothing_is_planted(crates: &Path) -> Done {
    let folders = fs::read_dir(crates).map_err(|e| format!("{}: {e}", crates.display()))?;
    for folder in folders.flatten().filter(|folder| folder.file_name() != "simulate") {
        let manifest = folder.path().join("Cargo.toml");
        let text = fs::read_to_string(&manifest).map_err(|e| format!("{}: {e}", manifest.display()))?;
        if plants(&text) {
            return Err(format!("{} asks for planted faults, which only the simulation may", manifest.display()));
        }
    }
    Ok(())
}

/// Whether a manifest asks a dependency for planted faults.
fn plants(manifest: &str) -> bool {
    manifest.lines().any(|line| line.contains("\"planted\"") || line.contains("/planted"))
}

/// What is wrong with a file, if anything.
fn wrong(name: &str, text: &str) -> Option<String> {
    if !text.lines().next().unwrap_or_default().starts_with("//!") {
        return Some(" does not begin with //! and what it is for".to_owned());
    }
    let code = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
    let lines: Vec<(usize, &str)> = (1..)
        .zip(code.lines())
        .filter(|(_, line)| !line.trim().is_empty() && !line.trim_start().starts_with("//"))
        .collect();
    if lines.len() > MOST_LINES {
        return Some(format!(
            " has {} lines of code and at most {MOST_LINES} are wanted; cut it by subject",
            lines.len()
        ));
    }
    let within = |places: &[&str]| places.iter().any(|place| name.starts_with(place));
    let found = |words: &'static [&'static str]| {
        lines.iter().find_map(|(at, line)| words.iter().find(|word| line.contains(**word)).map(|word| (*at, *word)))
    };
    if within(PURE)
        && let Some((at, word)) = found(IMPURE)
    {
        return Some(format!(":{at}: {word} in code that promises to be pure; let whoever calls it do that"));
    }
    if within(WITNESSES)
        && let Some((at, word)) = found(&["letfall_"])
    {
        return Some(format!(":{at}: {word} in what watches the program; it must share nothing with it"));
    }
    if within(READERS)
        && !within(NO_PLAN)
        && let Some((at, word)) = found(BUILDS)
    {
        return Some(format!(":{at}: {word} outside core; take what letfall_core::prepared::Prepared holds"));
    }
    None
}

/// All Rust files below a folder, in order.
pub fn collect(folder: &Path, files: &mut Vec<PathBuf>) -> Done {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_must_not_be_is_found_where_it_must_not_be() {
        let file = |line: &str| format!("//! A file.\n\n{line}\n");
        let wrong = |name: &str, line: &str| wrong(name, &file(line)).is_some();
        assert!(wrong("core/src/show/root.rs", "use std::fs;"));
        assert!(wrong("live/src/engine/send.rs", "let now = std::time::Instant::now();"));
        assert!(wrong("paper/src/lib.rs", "println!(\"here\");"));
        assert!(!wrong("files/src/disk.rs", "use std::fs;"));
        assert!(!wrong("export/src/audio/click.rs", "use std::io::Write;"));
        assert!(!wrong("core/src/show/root.rs", "// std::fs is for others"));
        assert!(wrong("editor/src/screens/score/song.rs", "let grid = song.grid.build();"));
        assert!(wrong("letfall/src/commands/grid.rs", "let grid = found.plan.build()?;"));
        assert!(wrong("paper/src/data.rs", "let plan = Schedule::build(show, service);"));
        assert!(!wrong("core/src/prepared/plan.rs", "let plan = Schedule::build(show, service);"));
        assert!(!wrong("export/src/midi/import.rs", "let grid = plan.build()?;"));
        assert!(wrong("simulate/src/witness/judge.rs", "use letfall_live::Event;"));
        assert!(!wrong("simulate/src/world.rs", "use letfall_live::Event;"));
        assert!(plants("letfall-live = { workspace = true, features = [\"planted\"] }") && !plants("planted = []"));
        assert!(super::wrong("core/src/x.rs", "use a::b;").is_some());
        assert!(super::wrong("core/src/x.rs", &format!("//! X.\n{}", "let x = 1;\n".repeat(451))).is_some());
        assert!(super::wrong("core/src/x.rs", &format!("//! X.\n{}", "let x = 1;\n".repeat(450))).is_none());
    }
}

//! `cargo xtask lint`: formatting, clippy, documentation, source rules, dependency direction between crates, licences.

use crate::shell::{Done, ask, cargo, command, see};
use crate::{circles, setup, source_lints};

const TYPESET: &str = "typst";
const WINDOW: &str = "egui";
const PORTS: &str = "midir";
const SOUND: &str = "cpal";

/// What the command line must not be built with: windows, drawing, dialogs, the desktop's bus, MIDI ports, sound devices.
const WITHOUT_EDITOR: [&str; 10] =
    ["egui", "eframe", "winit", "wgpu", "glow", "rfd", "zbus", "midir", "cpal", "letfall-editor"];

/// Each crate, with the crates it must not depend on, directly or indirectly.
const ARROWS: [(&str, &[&str]); 9] = [
    (
        "letfall-core",
        &[
            "midly",
            "csv",
            "hound",
            "clap",
            "tempfile",
            "letfall-export",
            "letfall-platform",
            TYPESET,
            WINDOW,
            PORTS,
            SOUND,
        ],
    ),
    ("letfall-export", &["tempfile", "letfall-paper", "letfall-files", TYPESET, WINDOW, PORTS, SOUND]),
    ("letfall-platform", &["letfall-core", TYPESET, WINDOW, PORTS, SOUND]),
    ("letfall-sound", &["letfall-export", "letfall-paper", "letfall-live", "letfall-files", TYPESET, WINDOW, PORTS]),
    (
        "letfall-film",
        &[
            "letfall-export",
            "letfall-paper",
            "letfall-live",
            "letfall-files",
            "letfall-sound",
            TYPESET,
            WINDOW,
            PORTS,
            SOUND,
        ],
    ),
    ("letfall-live", &["letfall-export", "letfall-paper", "letfall-sound", "letfall-files", TYPESET, WINDOW, SOUND]),
    ("letfall-paper", &["midly", "tempfile", "letfall-export", "letfall-files", WINDOW, PORTS, SOUND]),
    ("letfall-files", &["letfall-live", "letfall-editor", "clap", WINDOW, PORTS]),
    ("letfall-editor", &["letfall", "clap"]),
];

/// Runs all lints.
pub fn run() -> Done {
    see(&mut cargo(&["fmt", "--all", "--check"])).map_err(|e| format!("{e}; run cargo fmt"))?;
    see(&mut cargo(&["clippy", "--quiet", "--workspace", "--all-targets", "--", "-D", "warnings"]))?;
    if cfg!(target_os = "linux") {
        // What runs on a MIDI server's ports is built with this feature alone.
        let packages = ["clippy", "--quiet", "--package", "letfall-live", "--package", "letfall-simulate"];
        let all = ["--all-targets", "--features", "letfall-live/jack,letfall-simulate/jack", "--", "-D", "warnings"];
        see(&mut cargo(&[&packages[..], &all[..]].concat()))?;
    }
    let mut doc = cargo(&["doc", "--quiet", "--workspace", "--no-deps", "--document-private-items"]);
    doc.env("RUSTDOCFLAGS", "-D warnings");
    see(&mut doc)?;
    source_lints::run()?;
    circles::lint()?;
    arrows()?;
    dependencies()?;
    println!("lints: nothing to say");
    Ok(())
}

/// Checks that dependencies between crates go one way only.
fn arrows() -> Done {
    for (krate, banned) in ARROWS {
        below(&["--package", krate], krate, banned)?;
    }
    below(&["--package", "letfall", "--no-default-features"], "letfall without its editor", &WITHOUT_EDITOR)
}

fn below(package: &[&str], name: &str, banned: &[&str]) -> Done {
    let mut args = vec!["tree", "--offline", "--edges", "normal", "--prefix", "none", "--format", "{p}"];
    args.extend(package);
    let tree = ask(&mut cargo(&args))?;
    match tree.lines().filter_map(|line| line.split(' ').next()).find(|dependency| banned.contains(dependency)) {
        Some(found) => Err(format!("{name} depends on {found}, which it must not; see DEVELOPERS.md")),
        None => Ok(()),
    }
}

/// Checks licences, sources and versions of every dependency with cargo-deny (see deny.toml). Known vulnerabilities are checked
/// too if the advisory list can be fetched.
fn dependencies() -> Done {
    let deny = setup::deny()?;
    let deny = deny.to_string_lossy();
    see(&mut command(&deny, &["check", "--hide-inclusion-graph", "licenses", "sources"]))?;
    // Two versions of the same crate cost build time, so only what is built on Linux is checked, not what other systems need.
    let linux = ["--target", "x86_64-unknown-linux-gnu", "check", "--hide-inclusion-graph", "bans"];
    see(&mut command(&deny, &linux))?;
    match ask(&mut command(&deny, &["check", "advisories"])) {
        Ok(_) => println!("advisories: none"),
        Err(why) if why.contains("failed to fetch advisory database") || why.contains("failed to load advisory") => {
            println!("advisories: not looked at, their list cannot be had here");
        }
        Err(why) => return Err(why),
    }
    Ok(())
}

//! `cargo xtask run`: the program on the demo show.

use crate::setup;
use crate::shell::{Done, ask, cargo, command, see, target, top};
use std::fs;

/// Builds Letfall; with arguments runs it with them, else opens the editor on the demo show, or without a display does its
/// whole job headless.
pub fn run(args: &[String]) -> Done {
    setup::for_building()?;
    see(&mut cargo(&["build", "--package", "letfall"]))?;
    let program = target().join("debug/letfall").to_string_lossy().into_owned();
    // The demo shows' recordings are made, not kept.
    ask(&mut command(&program, &["demo", "demo-shows"]))?;
    if !args.is_empty() {
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        return see(&mut command(&program, &args));
    }
    if std::env::var_os("DISPLAY").is_some() || std::env::var_os("WAYLAND_DISPLAY").is_some() {
        setup::for_editor()?;
        return see(&mut command(&program, &["demo-shows/lantern-night.letfall"]));
    }
    headless(&program)
}

/// Checks the full demo show and writes its MIDI file, running order and table for every service into `out/`.
fn headless(program: &str) -> Done {
    let show = "demo-shows/lantern-night.letfall";
    println!("Without a display: the demo show is checked and its files are written into out/.");
    see(&mut command(program, &["check", show]))?;
    let out = top().join("out");
    fs::create_dir_all(&out).map_err(|e| format!("{}: {e}", out.display()))?;
    for service in ["Early", "Late"] {
        for (verb, ending, more) in
            [("midi", "mid", None), ("paper", "pdf", Some("--sheet=order")), ("table", "csv", None)]
        {
            let file = format!("out/lantern-night-{}.{ending}", service.to_lowercase());
            let mut args = vec![verb, show, "--service", service, "-o", file.as_str()];
            args.extend(more);
            print!("{}", ask(&mut command(program, &args))?);
        }
    }
    Ok(())
}

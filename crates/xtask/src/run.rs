//! `cargo xtask run`: builds and runs the program on the demo show, building first what gives the first results.

use crate::phases::Phases;
use crate::setup;
use crate::shell::{Done, ask, command, see, target, top};
use crate::stages::Stages;
use std::fs;

const SHOW: &str = "demo-shows/lantern-night.letfall";

/// Builds Letfall in stages. With arguments, it runs Letfall with them. Otherwise it writes the demo show's files to `out/` and
/// opens the editor if there is a display.
pub fn run(args: &[String]) -> Done {
    let (mut phases, mut stages) = (Phases::default(), Stages::default());
    let program = target().join("debug/letfall").to_string_lossy().into_owned();
    if !args.is_empty() {
        phases.step("build", || {
            setup::for_building()?;
            stages.build("the program", &["build", "--package", "letfall"])
        })?;
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        return see(&mut command(&program, &args));
    }
    let out = top().join("out");
    fs::create_dir_all(&out).map_err(|e| format!("{}: {e}", out.display()))?;
    phases.step("check, MIDI file and table", || {
        stages.build(
            "without typesetting",
            &["build", "--package", "letfall-files", "--no-default-features", "--bin", "letfall-first"],
        )?;
        let first = target().join("debug/letfall-first").to_string_lossy().into_owned();
        see(&mut command(&first, &[SHOW, "out"]))
    })?;
    phases.step("running order as PDF", || {
        stages.build("the command line", &["build", "--package", "letfall", "--no-default-features"])?;
        for service in ["Early", "Late"] {
            let file = format!("out/lantern-night-{}.pdf", service.to_lowercase());
            let args = ["paper", SHOW, "--service", service, "-o", file.as_str(), "--sheet=order"];
            print!("{}", ask(&mut command(&program, &args))?);
        }
        Ok(())
    })?;
    phases.step("editor", || {
        setup::for_building()?;
        stages.build("the editor", &["build", "--package", "letfall"])
    })?;
    phases.tell();
    if std::env::var_os("DISPLAY").is_some() || std::env::var_os("WAYLAND_DISPLAY").is_some() {
        setup::for_editor()?;
        return see(&mut command(&program, &[SHOW]));
    }
    println!("There is no display here: the demo show's files are in out/.");
    Ok(())
}

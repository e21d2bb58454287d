//! Set-up, run, test, fuzz and bench. Plain Rust without dependencies, so that it builds on a machine with nothing else
//! installed.

mod beats;
mod circles;
mod fuzz;
mod lint;
mod package;
mod phases;
mod platforms;
mod run;
mod setup;
mod shell;
mod skips;
mod source_lints;
mod stages;
mod test;

use std::process::ExitCode;

const HELP: &str = "\
cargo xtask run      build Letfall and open the editor; with no display, check the demo show and write its files into out/
cargo xtask test     set up, lint, run all tests and oracles, fuzz
cargo xtask bench    measure speed and memory, as ratios in one run
cargo xtask beats    measure the beat finder beside another, over pieces of known beats (renders them first)
cargo xtask fuzz     only the fuzz targets, 60 s each (or: cargo xtask fuzz SECONDS)
cargo xtask pictures make the pictures of every screen, in assets/pictures
cargo xtask simulate [--runs N] [--seed S] [--story] [--planted] [--real SECONDS]
                     runs on a simulated clock, with hostile shows, people who do anything and machines that fail
cargo xtask package [--profile NAME | --check]
                     a Debian package and a plain archive, in target/package
cargo xtask platforms
                     what can be tried here of Windows (run under Wine) and macOS (type-checked)
cargo xtask lint     only the lints
cargo xtask setup    only the set-up: system packages, Python environment, MIDI files";

fn main() -> ExitCode {
    let mut args = std::env::args().skip(1);
    let command = args.next().unwrap_or_default();
    let rest: Vec<String> = args.collect();
    let done = match command.as_str() {
        "run" => run::run(&rest),
        "test" => test::run(),
        "bench" => test::bench(),
        "beats" => beats::run(),
        "fuzz" => fuzz::run(rest.first().and_then(|s| s.parse().ok()).unwrap_or(60)),
        "simulate" => test::simulate(&rest),
        "platforms" => platforms::run(),
        "package" => package::run(&rest),
        "lint" => lint::run(),
        "circles" => circles::lint(),
        "pictures" => test::pictures(),
        "setup" => setup::for_tests().map(|_| ()),
        _ => {
            println!("{HELP}");
            return ExitCode::from(if command.is_empty() || command == "help" || command == "--help" { 0 } else { 2 });
        }
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("xtask: {why}");
            ExitCode::FAILURE
        }
    }
}

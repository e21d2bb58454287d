//! `cargo xtask test` and `cargo xtask bench`.

use crate::phases::Phases;
use crate::shell::{Done, ask, cargo, command, see, target, top};
use crate::stages::Stages;
use crate::{fuzz, lint, package, setup, skips};
use std::ffi::OsStr;
use std::io::{BufRead as _, BufReader};
use std::process::{Command, Stdio};

/// All crates but the simulation: it is built with planted faults, which no test and no product is.
const ALL: [&str; 3] = ["--workspace", "--exclude", "letfall-simulate"];

/// Runs the simulation. On Linux it is built with the ports of a JACK server, so that one build does everything.
pub fn simulate(rest: &[String]) -> Done {
    see(&mut simulation(rest))
}

fn simulation(rest: &[String]) -> Command {
    let mut run = cargo(&["run", "--quiet", "--package", "letfall-simulate"]);
    if cfg!(target_os = "linux") {
        run.args(["--features", "jack"]);
    }
    run.arg("--").args(rest);
    run
}

/// Set-up, lints, all tests with their oracles, fuzzing; the summary line comes last.
pub fn run() -> Done {
    tell_disk();
    let mut phases = Phases::default();
    let oracles = phases.step("set-up", setup::for_tests)?;
    skips::clear()?;
    let mut stages = Stages::default();
    phases.step("the program", || {
        stages.build("the program", &["build", "--package", "letfall"])?;
        // The demo shows' recordings are rendered, not committed. Every test that reads a demo show expects them to be there.
        let program = target().join("debug/letfall").to_string_lossy().into_owned();
        see(&mut command(&program, &["demo", "demo-shows"]))
    })?;
    phases.step("building the tests", || stages.build("the tests", &[&["test", "--no-run"], &ALL[..]].concat()))?;
    let mut tests = Tests::default();
    phases.step("tests", || tests.run(&[&["test", "--no-fail-fast"], &ALL[..]].concat(), &with(&oracles)))?;
    phases.step("tests through a MIDI server", || jack(&mut tests, &oracles))?;
    phases.step("the package", package::test)?;
    phases.step("simulation", || simulate(&[]))?;
    phases.step("the witness on real ports", || real_ports(30))?;
    phases.step("planted faults", || simulate(&["--planted".to_owned()]))?;
    phases.step("lints", lint::run)?;
    phases.step("fuzz", || fuzz::run(60))?;
    phases.tell();
    tests.close()
}

/// How much disk all of it takes, in gigabytes: what builds, tools and packages had taken after a run, rounded up.
const NEEDS_GB: u64 = 9;

/// Says how much disk is free, so that whoever reads of a full one knows why.
fn tell_disk() {
    let Ok(text) = ask(&mut command("df", &["-Pk", "."])) else { return };
    let free =
        text.lines().nth(1).and_then(|line| line.split_whitespace().nth(3)).and_then(|kb| kb.parse::<u64>().ok());
    if let Some(free) = free {
        let free = free / 1_000_000;
        let words = if free < NEEDS_GB { ": this may not be enough, make room first" } else { "" };
        println!("disk: {free} GB free, and a whole run takes about {NEEDS_GB}{words}");
    }
}

/// Counts of the tests that ran.
#[derive(Default)]
pub struct Tests {
    pub passed: u64,
    failed: u64,
}

/// Where tests find the oracles.
fn with(oracles: &setup::Oracles) -> [(&'static str, &OsStr); 2] {
    [("LETFALL_ORACLES", oracles.python.as_os_str()), ("LETFALL_CORPUS", oracles.corpus.as_os_str())]
}

impl Tests {
    /// The closing line.
    pub fn close(&self) -> Done {
        let skipped = skips::count()?;
        println!("{} passed, {} failed, {skipped} skipped", self.passed.saturating_sub(skipped), self.failed);
        Ok(())
    }

    /// Runs tests, with more variables in their environment, and counts them.
    pub fn run(&mut self, args: &[&str], variables: &[(&str, &OsStr)]) -> Done {
        let mut tests = cargo(args);
        tests.envs(variables.iter().copied()).env("LETFALL_SKIPS", skips::list()).stdout(Stdio::piped());
        println!("$ cargo {}", args.join(" "));
        let mut child = tests.spawn().map_err(|e| format!("cargo test cannot be started: {e}"))?;
        for line in child.stdout.take().into_iter().flat_map(|out| BufReader::new(out).lines()).map_while(Result::ok) {
            println!("{line}");
            if line.starts_with("test result:") {
                self.passed += count_before(&line, " passed");
                self.failed += count_before(&line, " failed");
            }
        }
        let status = child.wait().map_err(|e| format!("cargo test: {e}"))?;
        if status.success() {
            return Ok(());
        }
        println!("{} passed, {} failed", self.passed, self.failed.max(1));
        Err("tests failed; see above".to_owned())
    }
}

/// Does something while a real MIDI server runs, started here with a driver that needs no sound card.
fn with_jack(mut act: impl FnMut() -> Done) -> Done {
    let mut server = command("jackd", &["-r", "-d", "dummy", "-r", "48000", "-p", "256"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .map_err(|e| format!("jackd cannot be started: {e}"))?;
    std::thread::sleep(std::time::Duration::from_secs(2));
    let done = act();
    // The server has nothing to save, so it is simply killed.
    drop(server.kill());
    drop(server.wait());
    done
}

/// Tests of what is sent, through a real MIDI server.
fn jack(tests: &mut Tests, oracles: &setup::Oracles) -> Done {
    let args = ["test", "--package", "letfall-live", "--features", "jack", "--test", "jack", "--", "--nocapture"];
    with_jack(|| tests.run(&args, &with(oracles)))
}

/// The simulation's witness on real threads and real ports, for so many seconds.
fn real_ports(seconds: u64) -> Done {
    with_jack(|| {
        let mut run = simulation(&["--real".to_owned(), seconds.to_string()]);
        see(run.env("LETFALL_SKIPS", skips::list()))
    })
}

/// The number before a word in cargo's summary line.
fn count_before(line: &str, word: &str) -> u64 {
    let head = line.split(word).next().unwrap_or_default();
    head.rsplit(' ').next().and_then(|n| n.parse().ok()).unwrap_or(0)
}

/// Runs the benchmarks, each as a ratio measured within one run. mido is measured too, with the oracles' Python.
pub fn bench() -> Done {
    let oracles = setup::for_tests()?;
    let mut bench = cargo(&["bench", "--package", "letfall-export", "--bench", "rows"]);
    bench.env("LETFALL_ORACLES", &oracles.python);
    see(&mut bench)?;
    see(&mut cargo(&["bench", "--package", "letfall-sound"]))?;
    let mut films = cargo(&["bench", "--package", "letfall-film"]);
    see(films.env("LETFALL_ORACLES", &oracles.python))?;
    let mut lateness = cargo(&["bench", "--package", "letfall-live", "--bench", "lateness"]);
    lateness.env("LETFALL_MINUTES", std::env::var("LETFALL_MINUTES").unwrap_or_else(|_| "0.5".to_owned()));
    see(&mut lateness)?;
    real_ports(600)?;
    // Frames and pages are measured with the `measured` profile: a normal build with every library optimised. The release
    // profile's link-time optimisation would take half an hour to build the whole editor.
    see(&mut cargo(&["bench", "--profile", "measured", "--package", "letfall-editor"]))?;
    see(&mut cargo(&["bench", "--profile", "measured", "--package", "letfall", "--bench", "paper"]))
}

/// Draws pictures of every screen in both themes, exactly as the program draws them but without a window.
pub fn pictures() -> Done {
    setup::for_editor()?;
    let mut draw = cargo(&["test", "--package", "letfall-editor", "--test", "editor", "pictures"]);
    draw.env("LETFALL_PICTURES", top().join("assets/pictures"));
    see(&mut draw)
}

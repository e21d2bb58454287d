//! `cargo xtask simulate`: runs the real engine, gate, supervisor and port workers on a simulated clock, with hostile shows,
//! people who do anything, and machines that fail. Each run is an exact function of its seed.

mod device;
mod happening;
mod messages;
mod random;
#[cfg(all(feature = "jack", unix))]
mod real;
mod scene;
mod script;
mod story;
mod witness;
mod world;

use letfall_live::planted::{Planted, plant};
use random::Random;
use scene::Scene;
use script::Script;
use std::process::ExitCode;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError};
use std::thread;
use world::{Outcome, run};

const HELP: &str = "\
letfall-simulate [--runs N] [--seed S] [--story] [--planted] [--real SECONDS]
  --runs N    how many runs (20000)
  --seed S    the first seed (1)
  --story     tell the run of the seed, whatever came of it
  --planted   plant each fault on purpose, and say after how many runs the witness saw it
  --real SECONDS
              run with real threads on the ports of a JACK server, which must be running, for so long";

/// A planted fault must be seen within this many runs.
const WITHIN: u64 = 20_000;

struct Options {
    runs: u64,
    seed: u64,
    story: bool,
    planted: bool,
    real: Option<u64>,
}

fn options() -> Result<Options, String> {
    let mut options = Options { runs: 20_000, seed: 1, story: false, planted: false, real: None };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut number = || {
            let text = words.next().ok_or_else(|| format!("{word} needs a number"))?;
            text.parse::<u64>().map_err(|_| format!("{word} needs a whole number, and got \"{text}\""))
        };
        match word.as_str() {
            "--runs" => options.runs = number()?,
            "--real" => options.real = Some(number()?),
            "--seed" => options.seed = number()?,
            "--story" => options.story = true,
            "--planted" => options.planted = true,
            _ => return Err(format!("\"{word}\" is not known\n{HELP}")),
        }
    }
    Ok(options)
}

fn main() -> ExitCode {
    let options = match options() {
        Ok(options) => options,
        Err(why) => {
            eprintln!("{why}");
            return ExitCode::from(2);
        }
    };
    if let Some(seconds) = options.real {
        return on_real_ports(seconds, options.seed);
    }
    // Panics are part of the simulation. The witness reports what must not happen.
    std::panic::set_hook(Box::new(|_| {}));
    if options.story {
        let (scene, script) = parts(options.seed);
        let outcome = run(&scene, &script, true);
        print!("{}", story::tell(&scene, &outcome.happenings));
        return if outcome.objections.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE };
    }
    if options.planted { all_planted(options.seed) } else { all(&options) }
}

#[cfg(all(feature = "jack", unix))]
fn on_real_ports(seconds: u64, seed: u64) -> ExitCode {
    real::all(seconds, seed)
}

#[cfg(not(all(feature = "jack", unix)))]
fn on_real_ports(_: u64, _: u64) -> ExitCode {
    eprintln!("this build has no real ports; build with the feature \"jack\", as cargo xtask simulate does on Linux");
    ExitCode::from(2)
}

fn parts(seed: u64) -> (Scene, Script) {
    let mut random = Random::new(seed);
    let scene = Scene::new(&mut random);
    let script = Script::new(&mut random, &scene);
    (scene, script)
}

fn one(seed: u64) -> Outcome {
    let (scene, script) = parts(seed);
    run(&scene, &script, false)
}

/// A seed, and what the witness objected to.
type Failure = (u64, Vec<(u8, String)>);

fn all(options: &Options) -> ExitCode {
    let next = AtomicU64::new(0);
    let sums = [(); 3].map(|()| AtomicU64::new(0));
    let failed: Mutex<Vec<Failure>> = Mutex::default();
    thread::scope(|scope| {
        for _ in 0..thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    if at >= options.runs {
                        return;
                    }
                    let seed = options.seed.wrapping_add(at);
                    let outcome = one(seed);
                    for (sum, n) in sums.iter().zip([outcome.armed, outcome.left, outcome.lost]) {
                        sum.fetch_add(u64::from(n > 0), Ordering::Relaxed);
                    }
                    if !outcome.objections.is_empty() {
                        failed.lock().unwrap_or_else(PoisonError::into_inner).push((seed, outcome.objections));
                    }
                }
            });
        }
    });
    let mut failed = failed.into_inner().unwrap_or_else(PoisonError::into_inner);
    failed.sort_by_key(|(seed, _)| *seed);
    let [armed, left, lost] = sums.map(AtomicU64::into_inner);
    println!("{} runs: {armed} armed a release, {left} sent one, {lost} lost a port", options.runs);
    for (seed, objections) in failed.iter().take(8) {
        println!("seed {seed}: P{} {}", objections[0].0, objections[0].1);
    }
    if let Some((seed, _)) = failed.first() {
        let (scene, script) = parts(*seed);
        let script = shrunk(&scene, script);
        let outcome = run(&scene, &script, true);
        println!("\nThe run of seed {seed}, as short as it still fails:\n{}", story::tell(&scene, &outcome.happenings));
    }
    let count = u64::try_from(failed.len()).unwrap_or(u64::MAX);
    println!("{} passed, {count} failed", options.runs - count);
    if count == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// Removes actions as long as the run still breaks the same property.
fn shrunk(scene: &Scene, script: Script) -> Script {
    let property = |script: &Script| run(scene, script, false).objections.first().map(|(property, _)| *property);
    let Some(wanted) = property(&script) else { return script };
    let mut best = script;
    let mut at = 0;
    while at < best.actions.len() {
        let mut fewer = best.clone();
        fewer.actions.remove(at);
        if property(&fewer) == Some(wanted) {
            best = fewer;
        } else {
            at += 1;
        }
    }
    best
}

/// A planted fault, its property, and how the witness first saw it: after how many runs, as which property, and in which words.
type Planting = (Planted, u8, Option<(u64, u8, String)>);

fn all_planted(seed: u64) -> ExitCode {
    let next = AtomicU64::new(0);
    let found: Mutex<Vec<Planting>> = Mutex::default();
    thread::scope(|scope| {
        for _ in 0..thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                loop {
                    let at = usize::try_from(next.fetch_add(1, Ordering::Relaxed)).unwrap_or(usize::MAX);
                    let Some((fault, property)) = Planted::ALL.get(at) else { return };
                    plant(Some(*fault));
                    let seen = (0..WITHIN).find_map(|at| {
                        let (property, words) = one(seed.wrapping_add(at)).objections.into_iter().next()?;
                        Some((at + 1, property, words))
                    });
                    plant(None);
                    found.lock().unwrap_or_else(PoisonError::into_inner).push((*fault, *property, seen));
                }
            });
        }
    });
    let mut found = found.into_inner().unwrap_or_else(PoisonError::into_inner);
    found.sort_by_key(|(fault, ..)| Planted::ALL.iter().position(|(other, _)| other == fault));
    for (fault, property, seen) in &found {
        match seen {
            Some((after, seen, words)) => {
                println!("P{property} {fault:?}: seen after {after} runs, as P{seen} {words}");
            }
            None => println!("P{property} {fault:?}: NOT SEEN in {WITHIN} runs"),
        }
    }
    let missed = found.iter().filter(|(.., seen)| seen.is_none()).count();
    println!("{} passed, {missed} failed", found.len() - missed);
    if missed == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A short check for `cargo mutants`. `cargo xtask simulate` makes many more runs.
    #[test]
    fn runs_keep_their_promises() {
        std::panic::set_hook(Box::new(|_| {}));
        let failed = (1..=4000).find_map(|seed| Some((seed, one(seed).objections.into_iter().next()?)));
        assert!(failed.is_none(), "seed, property, words: {failed:?}");
    }

    /// The same seed gives the same run.
    #[test]
    fn a_run_is_a_function_of_its_seed() {
        for seed in 1..=40 {
            let (scene, script) = parts(seed);
            let [one, other] = [(); 2].map(|()| run(&scene, &script, true).happenings);
            assert_eq!(one, other, "seed {seed}");
        }
    }
}

//! `cargo xtask fuzz`: runs libFuzzer on the three file readers, the bar finder, and on what is checked, scheduled and exported of any
//! show, with the compiler's stable coverage flags (no sanitizer, no nightly).

use crate::shell::{Done, ask, cargo, command, see, target, top};
use std::fs;
use std::path::Path;

/// The targets, in the order in which they are run, two at a time: the readers and the bar finder, then what is made from any show.
const TARGETS: [&str; 7] = ["show", "midi", "sound", "bars", "check", "schedule", "export"];
/// How many run at the same time.
const AT_A_TIME: usize = 2;

/// The coverage counters that libFuzzer reads.
const FLAGS: &str = "-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
    -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
    -Cllvm-args=-sanitizer-coverage-trace-compares -Ccodegen-units=1 --cfg fuzzing";

/// Builds the targets and runs each for `secs` seconds, limited to 500 MB.
pub fn run(secs: u64) -> Done {
    let home = target().join("fuzz");
    // The target is given even though it is this machine, because then the flags do not apply to build scripts.
    let rustc = ask(&mut command(&std::env::var("RUSTC").unwrap_or_else(|_| "rustc".to_owned()), &["-vV"]))?;
    let host = rustc.lines().find_map(|l| l.strip_prefix("host: ")).ok_or("rustc does not say what machine this is")?;
    let mut build = cargo(&["build", "--release", "--manifest-path", "tests/fuzz/Cargo.toml", "--target", host]);
    build.env("CARGO_TARGET_DIR", &home).env("RUSTFLAGS", FLAGS);
    see(&mut build)?;
    let mut failed = Vec::new();
    for names in TARGETS.chunks(AT_A_TIME) {
        failed.extend(together(names, secs, &home, host)?);
    }
    if failed.is_empty() {
        return Ok(());
    }
    let at = home.join("artifacts");
    Err(format!(
        "fuzz found a failure in {}; the input is in {}: mend it and keep it in tests/fuzz/corpus",
        failed.join(" and "),
        at.display()
    ))
}

/// Runs some targets side by side, and returns those in which something broke.
fn together(names: &[&'static str], secs: u64, home: &Path, host: &str) -> Result<Vec<&'static str>, String> {
    let mut running = Vec::new();
    for &name in names {
        // The committed corpus is only read; new findings are written to the build folder.
        let found = home.join("corpus").join(name);
        let broken = home.join("artifacts").join(name);
        for folder in [&found, &broken] {
            fs::create_dir_all(folder).map_err(|e| format!("{}: {e}", folder.display()))?;
        }
        let kept = top().join("tests/fuzz/corpus").join(name);
        let program = home.join(host).join("release").join(name).to_string_lossy().into_owned();
        let mut args = vec![
            found.to_string_lossy().into_owned(),
            kept.to_string_lossy().into_owned(),
            format!("-max_total_time={secs}"),
            "-rss_limit_mb=500".to_owned(),
            "-timeout=20".to_owned(),
            "-max_len=40000".to_owned(),
            "-print_final_stats=1".to_owned(),
            "-verbosity=0".to_owned(),
            format!("-artifact_prefix={}/", broken.display()),
        ];
        if name == "show" {
            args.push(format!("-dict={}", top().join("tests/fuzz/json.dict").display()));
        }
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        println!("$ fuzz {name} for {secs} s");
        let child = command(&program, &args).stderr(std::process::Stdio::piped()).spawn();
        running.push((name, child.map_err(|e| format!("fuzz target {name} cannot be started: {e}"))?));
    }
    let mut failed = Vec::new();
    for (name, child) in running {
        let out = child.wait_with_output().map_err(|e| format!("fuzz target {name}: {e}"))?;
        let told = String::from_utf8_lossy(&out.stderr);
        if out.status.success() {
            let of =
                |word: &str| told.lines().find(|l| l.contains(word)).and_then(|l| l.rsplit(' ').next()).unwrap_or("?");
            println!(
                "fuzz {name}: {} runs, at most {} MB, nothing broken",
                of("number_of_executed_units"),
                of("peak_rss_mb")
            );
        } else {
            println!("{told}");
            failed.push(name);
        }
    }
    Ok(failed)
}

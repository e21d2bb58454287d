//! `cargo xtask beats`: compares our beat finder with librosa's on real pieces whose beats are known, in one run.

use crate::setup;
use crate::shell::{Done, cargo, command, see, target, top};

/// Makes the beat set if it is missing, builds the finder and measures both.
pub fn run() -> Done {
    let python = setup::for_beats()?;
    let python = python.to_string_lossy().into_owned();
    let folder = top().join("tests/beats");
    let script = |name: &str| folder.join(name).to_string_lossy().into_owned();
    let at = |name: &str| target().join(name).to_string_lossy().into_owned();
    let set = at("beatset");
    if !target().join("beatset/public/p12_fast_200_44.json").exists() {
        let cache = at("beatset-cache");
        see(&mut command(&python, &[&script("generate.py"), "--out", &set, "--cache", &cache]))?;
    }
    let real = at("beatset/real");
    if !target().join("beatset/real/war_of_freedom.json").exists() {
        see(&mut command(&python, &[&script("real_songs.py"), &real]))?;
    }
    see(&mut cargo(&["build", "--release", "--package", "letfall-sound", "--example", "beats"]))?;
    let program = at("release/examples/beats");
    see(&mut command(
        &python,
        &[&script("measure.py"), &program, &at("beat-estimates"), &format!("{set}/public"), &real],
    ))
}

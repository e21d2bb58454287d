//! Running other programs.

use std::path::PathBuf;
use std::process::{Command, Stdio};

/// The result of a step: nothing, or a sentence that says why it failed.
pub type Done<T = ()> = Result<T, String>;

/// The root folder of the project.
pub fn top() -> PathBuf {
    let top = PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../.."));
    top.canonicalize().unwrap_or(top)
}

/// The folder that all build output goes to.
pub fn target() -> PathBuf {
    std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| top().join("target"), PathBuf::from)
}

/// A command that runs in the root folder of the project.
pub fn command(program: &str, args: &[&str]) -> Command {
    let mut command = Command::new(program);
    command.args(args).current_dir(top());
    command
}

/// The cargo that started this program.
pub fn cargo(args: &[&str]) -> Command {
    command(&std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned()), args)
}

/// Runs a command and shows its output.
pub fn see(command: &mut Command) -> Done {
    let words = words(command);
    println!("$ {words}");
    let status = command.status().map_err(|e| format!("{words} cannot be started: {e}"))?;
    if status.success() { Ok(()) } else { Err(format!("{words} failed ({status})")) }
}

/// Runs a command quietly and returns its output.
pub fn ask(command: &mut Command) -> Done<String> {
    let words = words(command);
    let out = command.output().map_err(|e| format!("{words} cannot be started: {e}"))?;
    if out.status.success() {
        Ok(String::from_utf8_lossy(&out.stdout).into_owned())
    } else {
        Err(format!("{words} failed: {}", String::from_utf8_lossy(&out.stderr).trim()))
    }
}

/// Whether a command runs and succeeds.
pub fn works(program: &str, args: &[&str]) -> bool {
    command(program, args)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|s| s.success())
}

fn words(command: &Command) -> String {
    let mut words = vec![command.get_program().to_string_lossy().into_owned()];
    words.extend(command.get_args().map(|a| a.to_string_lossy().into_owned()));
    words.join(" ")
}

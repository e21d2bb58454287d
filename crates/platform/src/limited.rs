//! Running another program on a file from anywhere: it may use so much memory and time, and write nothing.

use std::process::Command;

/// The most address space, bytes.
const MEMORY: u64 = 3 << 30;
/// The most processor time, seconds.
const SECONDS: u64 = 3600;

/// A command that is held within limits where the system has a way (Linux: `prlimit` of util-linux): 3 GiB of address space, an hour of
/// processor time, no file written, no core dumped. Elsewhere it is the plain command.
pub fn limited(program: &str) -> Command {
    if !has_limits() {
        return Command::new(program);
    }
    let mut command = Command::new("prlimit");
    command.arg(format!("--as={MEMORY}")).arg(format!("--cpu={SECONDS}")).args(["--fsize=0", "--core=0", "--"]);
    command.arg(program);
    command
}

/// Whether [`limited`] limits anything here.
pub fn has_limits() -> bool {
    cfg!(target_os = "linux")
        && Command::new("prlimit").args(["--nofile=16", "--", "true"]).output().is_ok_and(|out| out.status.success())
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    /// What a hostile file may make a program do: write a file, take memory, go on for ever.
    #[test]
    fn a_limited_program_writes_nothing_and_takes_no_more_than_its_share() {
        if !has_limits() {
            return;
        }
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("made");
        let writes = format!("echo something > '{}'", file.display());
        assert!(!limited("sh").args(["-c", &writes]).output().unwrap().status.success());
        assert_eq!(std::fs::read(&file).unwrap_or_default(), b"");
        let limits = limited("sh").args(["-c", "ulimit -v; ulimit -t"]).output().unwrap();
        assert_eq!(String::from_utf8(limits.stdout).unwrap(), format!("{}\n{SECONDS}\n", MEMORY / 1024));
    }
}

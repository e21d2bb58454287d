//! Tests that could not run. Each one reports that itself (crates/testing), and only those on a committed list may be skipped.

use crate::shell::{Done, target, top};
use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;

/// The file in which tests record that they could not run.
pub fn list() -> PathBuf {
    target().join("skipped.txt")
}

/// Notes that something could not be tested here, and why.
pub fn note(test: &str, why: &str) -> Done {
    use std::io::Write as _;
    let list = list();
    let file = fs::OpenOptions::new().create(true).append(true).open(&list);
    file.and_then(|mut file| writeln!(file, "{test}: {why}")).map_err(|e| format!("{}: {e}", list.display()))
}

/// Deletes the list of the last run.
pub fn clear() -> Done {
    match fs::remove_file(list()) {
        Err(why) if why.kind() != std::io::ErrorKind::NotFound => Err(format!("{}: {why}", list().display())),
        _ => Ok(()),
    }
}

/// Counts the skipped tests and prints them with their reasons.
///
/// # Errors
/// If a test was skipped that may not be.
pub fn count() -> Done<u64> {
    let allowed = top().join("tests/may-be-skipped.txt");
    let allowed = fs::read_to_string(&allowed).map_err(|e| format!("{}: {e}", allowed.display()))?;
    let skipped = match fs::read_to_string(list()) {
        Ok(lines) => lines,
        Err(why) if why.kind() == std::io::ErrorKind::NotFound => String::new(),
        Err(why) => return Err(format!("{}: {why}", list().display())),
    };
    counted(&skipped, &allowed)
}

fn counted(skipped: &str, allowed: &str) -> Done<u64> {
    let allowed: BTreeSet<&str> = allowed.lines().filter(|l| !l.starts_with('#') && !l.trim().is_empty()).collect();
    let skipped: BTreeSet<&str> = skipped.lines().filter(|l| !l.trim().is_empty()).collect();
    for line in &skipped {
        println!("skipped: {line}");
    }
    match skipped.iter().find(|line| !allowed.contains(**line)) {
        Some(line) => Err(format!("a test was skipped that tests/may-be-skipped.txt does not allow: {line}")),
        None => Ok(skipped.len() as u64),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_is_listed_may_be_skipped() {
        let allowed = "# Why.\na test: no port\n";
        assert_eq!(counted("", allowed), Ok(0));
        assert_eq!(counted("a test: no port\na test: no port\n", allowed), Ok(1), "said twice is one");
        assert!(counted("a test: no time\n", allowed).is_err(), "another reason is another thing");
        assert!(counted("a test: no port\nanother: no port\n", allowed).unwrap_err().contains("another"));
    }
}

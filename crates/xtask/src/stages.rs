//! Builds in stages, and proves from cargo's messages that no later stage rebuilds a dependency.

use crate::shell::{Done, cargo};
use std::collections::BTreeMap;
use std::io::{BufRead as _, BufReader};
use std::process::Stdio;

/// What has been built so far.
#[derive(Default)]
pub struct Stages {
    /// Each dependency that was built, and the stage that built it.
    built: BTreeMap<String, &'static str>,
}

impl Stages {
    /// Runs a build; fails if it rebuilds a dependency that an earlier stage already built.
    pub fn build(&mut self, name: &'static str, args: &[&str]) -> Done {
        let mut build = cargo(args);
        build.args(["--message-format", "json-render-diagnostics"]).stdout(Stdio::piped());
        println!("$ cargo {}", args.join(" "));
        let mut child = build.spawn().map_err(|e| format!("cargo cannot be started: {e}"))?;
        let (mut count, mut again) = (0, Vec::new());
        for line in child.stdout.take().into_iter().flat_map(|out| BufReader::new(out).lines()).map_while(Result::ok) {
            let Some(unit) = built(&line) else { continue };
            count += 1;
            if let Some(before) = self.built.get(&unit).filter(|before| **before != name) {
                again.push(format!("{unit} (by {before})"));
            } else {
                self.built.insert(unit, name);
            }
        }
        let status = child.wait().map_err(|e| format!("cargo: {e}"))?;
        if !status.success() {
            return Err(format!("cargo {} failed ({status})", args.join(" ")));
        }
        println!("{name}: {count} dependencies built");
        if again.is_empty() {
            return Ok(());
        }
        Err(format!("{name} built again what was built before: {}; see crates/features/Cargo.toml", again.join(", ")))
    }
}

/// The third-party dependency that a line of cargo's output says was built just now, by name, version and kind of target.
/// Features are left out on purpose: building a dependency again with other features counts as a rebuild.
fn built(line: &str) -> Option<String> {
    if !line.contains(r#""reason":"compiler-artifact""#) || !line.contains(r#""fresh":false"#) {
        return None;
    }
    let package = after(line, r#""package_id":""#)?.split('"').next()?;
    // Our own crates are skipped: later stages build them again with more features.
    let name = package.strip_prefix("registry+")?.rsplit('#').next()?;
    let kind = after(line, r#""kind":[""#)?.split('"').next()?;
    Some(format!("{name} {kind}"))
}

fn after<'a>(line: &'a str, mark: &str) -> Option<&'a str> {
    line.split_once(mark).map(|(_, rest)| rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_built_is_read_from_cargos_lines() {
        let line = |id: &str, fresh: bool| {
            format!(
                r#"{{"reason":"compiler-artifact","package_id":"{id}","target":{{"kind":["lib"],"name":"x"}},"features":["std"],"fresh":{fresh}}}"#
            )
        };
        assert_eq!(built(&line("registry+https://somewhere#log@0.4.1", false)).as_deref(), Some("log@0.4.1 lib"));
        assert_eq!(built(&line("registry+https://somewhere#log@0.4.1", true)), None);
        assert_eq!(built(&line("path+file:///here/core#letfall-core@0.1.0", false)), None);
        assert_eq!(built(r#"{"reason":"build-finished","success":true}"#), None);
    }
}

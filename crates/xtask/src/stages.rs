//! Builds one after the other, and the proof, from what cargo says, that no later one builds a dependency again.

use crate::shell::{Done, cargo};
use std::collections::BTreeMap;
use std::io::{BufRead as _, BufReader};
use std::process::Stdio;

/// What was built so far.
#[derive(Default)]
pub struct Stages {
    /// Each dependency that was built anew, and by which stage.
    built: BTreeMap<String, &'static str>,
}

impl Stages {
    /// Builds; fails where a dependency is built that an earlier stage has built.
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

/// The dependency of other people that a line of cargo's says was built anew, with the features it was built with: another set of
/// features for another kind of use is another thing.
fn built(line: &str) -> Option<String> {
    if !line.contains(r#""reason":"compiler-artifact""#) || !line.contains(r#""fresh":false"#) {
        return None;
    }
    let package = after(line, r#""package_id":""#)?.split('"').next()?;
    // Our own are built with more features as more of the program is wanted.
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

//! Finds import cycles between source files. Nobody should have to read two files at once to understand either of them.
//!
//! A path is followed through `pub use` to the file that defines the item. Naming a child module (`mod x;`, `pub use x::Y;`)
//! does not count as an import.

use crate::shell::{Done, top};
use crate::source_lints::collect;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// The path of a module from the crate's root.
type Module = Vec<String>;

/// One source file: its module, the names it brings in or re-exports, and the paths it mentions.
struct Source {
    file: PathBuf,
    /// Each name that `use` brings into this file, and the path it stands for.
    uses: BTreeMap<String, Vec<String>>,
    /// Every path the file mentions, except re-exports.
    paths: Vec<Vec<String>>,
}

/// Checks every crate.
pub fn lint() -> Done {
    let mut circles = Vec::new();
    let folders = fs::read_dir(top().join("crates")).map_err(|e| format!("crates: {e}"))?;
    let mut crates: Vec<PathBuf> = folders.flatten().map(|f| f.path().join("src")).filter(|p| p.is_dir()).collect();
    crates.sort();
    for source in &crates {
        for circle in of_crate(source)? {
            let names: Vec<String> = circle.iter().map(|file| short(file)).collect();
            circles.push(names.join(" and "));
        }
    }
    if circles.is_empty() { Ok(()) } else { Err(format!("circles of imports: {}", circles.join("; "))) }
}

fn short(file: &Path) -> String {
    file.strip_prefix(top().join("crates")).unwrap_or(file).display().to_string()
}

fn of_crate(source: &Path) -> Done<Vec<Vec<PathBuf>>> {
    let mut files = Vec::new();
    collect(source, &mut files)?;
    let mut modules: BTreeMap<Module, Source> = BTreeMap::new();
    for file in files {
        let text = fs::read_to_string(&file).map_err(|e| format!("{}: {e}", file.display()))?;
        let module = module_of(source, &file);
        let code = code_only(text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default());
        let (uses, paths) = read(&code, &module);
        modules.insert(module, Source { file, uses, paths });
    }
    let mut edges: BTreeMap<&PathBuf, BTreeSet<&PathBuf>> = BTreeMap::new();
    for source in modules.values() {
        for path in &source.paths {
            if let Some(to) = target(&modules, path, 0).filter(|to| **to != source.file) {
                edges.entry(&source.file).or_default().insert(to);
            }
        }
    }
    Ok(circles(&edges))
}

fn module_of(source: &Path, file: &Path) -> Module {
    let inside = file.strip_prefix(source).unwrap_or(file).with_extension("");
    let mut parts: Module = inside.iter().map(|p| p.to_string_lossy().into_owned()).collect();
    if parts.last().is_some_and(|p| p == "mod" || p == "lib" || p == "main") {
        parts.pop();
    }
    parts
}

/// The source text without comments and string literals.
fn code_only(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for line in text.lines() {
        let mut quoted = false;
        let mut before = ' ';
        for (at, letter) in line.char_indices() {
            if letter == '"' && before != '\\' && before != '\'' {
                quoted = !quoted;
            }
            if !quoted && line[at..].starts_with("//") {
                break;
            }
            out.push(if quoted { ' ' } else { letter });
            before = letter;
        }
        out.push('\n');
    }
    out
}

/// The names that a file's `use` lines bring in, and every path that it mentions.
fn read(code: &str, module: &Module) -> (BTreeMap<String, Vec<String>>, Vec<Vec<String>>) {
    let (mut uses, mut paths) = (BTreeMap::new(), Vec::new());
    let mut rest = String::new();
    for statement in code.split_inclusive(';') {
        let at = ["\nuse ", "\npub use ", "\npub(crate) use ", "\npub(super) use "]
            .into_iter()
            .find_map(|word| statement.find(word).map(|at| (at, word)));
        let Some((at, word)) = at else {
            rest.push_str(statement);
            continue;
        };
        rest.push_str(&statement[..at]);
        let tree = statement[at + word.len()..].trim_end_matches(';');
        for (name, path) in expand(tree) {
            let Some(path) = absolute(&path, module) else { continue };
            if word == "\nuse " {
                paths.push(path.clone());
            }
            uses.insert(name, path);
        }
    }
    for word in rest.split(|c: char| !(c.is_alphanumeric() || c == '_' || c == ':')) {
        let parts: Vec<String> = word.split("::").map(str::to_owned).collect();
        if parts.len() > 1
            && let Some(path) = absolute(&parts, module)
        {
            paths.push(path);
        }
    }
    (uses, paths)
}

/// Every path in a `use` tree, with the name it is visible under.
fn expand(tree: &str) -> Vec<(String, Vec<String>)> {
    let tree = tree.trim();
    let Some(open) = tree.find('{') else {
        let (path, name) = tree.split_once(" as ").map_or((tree, None), |(path, name)| (path, Some(name.trim())));
        let mut parts: Vec<String> = path.split("::").map(|p| p.trim().to_owned()).collect();
        if parts.last().is_some_and(|p| p == "self") {
            parts.pop();
        }
        let name = name.map(str::to_owned).or_else(|| parts.last().cloned()).unwrap_or_default();
        return vec![(name, parts)];
    };
    let (head, inside) = (&tree[..open], tree[open + 1..].trim_end().trim_end_matches('}'));
    let (mut depth, mut from, mut parts) = (0, 0, Vec::new());
    for (at, letter) in inside.char_indices() {
        match letter {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                parts.push(&inside[from..at]);
                from = at + 1;
            }
            _ => {}
        }
    }
    parts.push(&inside[from..]);
    let each = parts.into_iter().filter(|p| !p.trim().is_empty());
    each.flat_map(|part| expand(&format!("{head}{}", part.trim()))).collect()
}

/// A path written from the crate's root; `None` if `super` leads above the root.
fn absolute(path: &[String], module: &Module) -> Option<Vec<String>> {
    let mut at: Vec<String> = match path.first()?.as_str() {
        "crate" => Vec::new(),
        "self" => module.clone(),
        "super" => module[..module.len().checked_sub(1)?].to_vec(),
        // Either a child module or another crate. If there is no such child, `target` ends at this file itself.
        _ => [module.as_slice(), &path[..1]].concat(),
    };
    for part in &path[1..] {
        if part == "super" {
            at.pop();
        } else {
            at.push(part.clone());
        }
    }
    Some(at)
}

/// The file that defines what a path names.
fn target<'a>(modules: &'a BTreeMap<Module, Source>, path: &[String], depth: u8) -> Option<&'a PathBuf> {
    let deepest = (0..=path.len()).rev().find(|n| modules.contains_key(&path[..*n]))?;
    let source = &modules[&path[..deepest]];
    // A first name that is neither a child module nor imported here belongs to another crate, so the path stays in this file.
    let Some(name) = path.get(deepest) else { return Some(&source.file) };
    match source.uses.get(name) {
        Some(further) if depth < 8 => {
            let further: Vec<String> = further.iter().chain(&path[deepest + 1..]).cloned().collect();
            target(modules, &further, depth + 1)
        }
        _ => Some(&source.file),
    }
}

/// Groups of files that import each other in a cycle: each can be reached from every other one in its group.
fn circles(edges: &BTreeMap<&PathBuf, BTreeSet<&PathBuf>>) -> Vec<Vec<PathBuf>> {
    let reach = |from: &PathBuf| {
        let (mut seen, mut todo) = (BTreeSet::new(), vec![from.clone()]);
        while let Some(at) = todo.pop() {
            for next in edges.get(&at).into_iter().flatten() {
                if seen.insert((*next).clone()) {
                    todo.push((*next).clone());
                }
            }
        }
        seen
    };
    let reached: BTreeMap<PathBuf, BTreeSet<PathBuf>> = edges.keys().map(|f| ((*f).clone(), reach(f))).collect();
    let mut told: BTreeSet<PathBuf> = BTreeSet::new();
    let mut found = Vec::new();
    for (file, far) in &reached {
        if !far.contains(file) || told.contains(file) {
            continue;
        }
        let back = |other: &&PathBuf| reached.get(*other).is_some_and(|r| r.contains(file));
        let circle: Vec<PathBuf> = far.iter().filter(back).cloned().collect();
        told.extend(circle.iter().cloned());
        found.push(circle);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(tree: &str) -> Vec<String> {
        expand(tree).into_iter().map(|(name, path)| format!("{name}={}", path.join("/"))).collect()
    }

    #[test]
    fn use_trees_are_read() {
        assert_eq!(names("a::b"), ["b=a/b"]);
        assert_eq!(names("a::{self, b::{C, D as E}, f}"), ["a=a", "C=a/b/C", "E=a/b/D", "f=a/f"]);
    }

    #[test]
    fn a_circle_is_found_and_a_line_is_not() {
        let folder = std::env::temp_dir().join(format!("letfall-circles-{}", std::process::id()));
        let write = |name: &str, text: &str| fs::write(folder.join(name), text).unwrap();
        fs::create_dir_all(folder.join("m")).unwrap();
        write("lib.rs", "//! x\nmod m;\npub use m::B;\n");
        write("m/mod.rs", "//! x\nmod a;\nmod b;\npub use a::A;\npub use b::B;\n");
        write("m/a.rs", "//! x\nuse super::B;\npub struct A(B);\n");
        write("m/b.rs", "//! x\npub struct B;\n// use super::A;\n");
        assert!(of_crate(&folder).unwrap().is_empty());
        write("m/b.rs", "//! x\npub struct B;\nfn f() -> Option<super::A> { None }\n");
        let found = of_crate(&folder).unwrap();
        fs::remove_dir_all(&folder).unwrap();
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].len(), 2);
    }
}

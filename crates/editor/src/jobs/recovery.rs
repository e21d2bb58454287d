//! Unsaved work: where it is kept and how it is restored. Also the lock that marks a show as open.

use letfall_core::fnv::Fnv;
use letfall_core::show::Show;
use letfall_platform::FileLock;
use std::fs;
use std::hash::Hasher as _;
use std::path::{Path, PathBuf};

/// The name of the recovery file for a show's path: readable, and different for different paths.
fn slot(path: Option<&Path>) -> String {
    let full = path.map_or_else(
        || "unsaved".to_owned(),
        |p| fs::canonicalize(p).unwrap_or_else(|_| p.to_owned()).to_string_lossy().into_owned(),
    );
    let mut hash = Fnv::default();
    hash.write(full.as_bytes());
    let hash = hash.finish();
    let stem: String = path.and_then(Path::file_stem).map_or_else(
        || "unsaved".to_owned(),
        |s| s.to_string_lossy().chars().filter(|c| c.is_alphanumeric()).take(24).collect(),
    );
    format!("{stem}-{hash:016x}")
}

/// Where a show's unsaved work is kept in the program's folder.
pub fn place(folder: &Path, path: Option<&Path>) -> PathBuf {
    folder.join(slot(path)).with_extension("letfall")
}

/// The unsaved work of an editor that ended without saving.
pub fn recovered(folder: &Path, path: Option<&Path>) -> Option<Show> {
    letfall_core::file::read(&fs::read(place(folder, path)).ok()?).ok()
}

/// Deletes the unsaved work.
pub fn forget(folder: &Path, path: Option<&Path>) {
    drop(fs::remove_file(place(folder, path)));
}

/// Marks a show as open for as long as the lock is kept. `None` if another editor has it open. `Some(None)` if it cannot be
/// locked (on a drive without locks), which must not stop anyone from working.
pub fn mark_open(folder: &Path, path: &Path) -> Option<Option<FileLock>> {
    match FileLock::take(&folder.join(slot(Some(path))).with_extension("open")) {
        Ok(Some(lock)) => Some(Some(lock)),
        Ok(None) => None,
        Err(_) => Some(None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_show_that_is_open_elsewhere_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("mine.letfall");
        let mark = mark_open(folder.path(), &path);
        assert!(matches!(mark, Some(Some(_))));
        assert!(mark_open(folder.path(), &path).is_none());
        assert!(mark_open(folder.path(), &folder.path().join("other.letfall")).is_some());
        drop(mark);
        assert!(mark_open(folder.path(), &path).is_some());
    }
}

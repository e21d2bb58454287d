//! The shows that were open last, so that they can be opened again without looking for them.

use std::fs;
use std::path::{Path, PathBuf};

/// How many are kept.
const KEPT: usize = 8;

fn list(folder: &Path) -> PathBuf {
    folder.join("recent-shows.txt")
}

/// The shows that were open last and are still there, newest first.
pub fn recent(folder: &Path) -> Vec<PathBuf> {
    let text = fs::read_to_string(list(folder)).unwrap_or_default();
    text.lines().filter(|line| !line.is_empty()).map(PathBuf::from).filter(|path| path.is_file()).take(KEPT).collect()
}

/// Notes that a show was opened or saved. If that cannot be written, the list is only shorter.
pub fn remember(folder: &Path, path: &Path) {
    let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let Some(text) = path.to_str().filter(|text| !text.contains('\n')) else { return };
    let mut lines = vec![text.to_owned()];
    lines.extend(recent(folder).iter().filter_map(|old| old.to_str()).filter(|old| *old != text).map(str::to_owned));
    lines.truncate(KEPT);
    drop(fs::create_dir_all(folder).and_then(|()| fs::write(list(folder), lines.join("\n"))));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_is_first_once_and_what_is_gone_is_left_out() {
        let folder = tempfile::tempdir().unwrap();
        let state = folder.path().join("state");
        assert!(recent(&state).is_empty());
        let shows: Vec<PathBuf> = (0..10).map(|n| folder.path().join(format!("{n}.letfall"))).collect();
        for show in &shows {
            fs::write(show, "").unwrap();
            remember(&state, show);
        }
        remember(&state, &shows[5]);
        fs::remove_file(&shows[9]).unwrap();
        let names: Vec<String> =
            recent(&state).iter().map(|path| path.file_stem().unwrap().to_string_lossy().into_owned()).collect();
        assert_eq!(names, ["5", "8", "7", "6", "4", "3", "2"]);
    }
}

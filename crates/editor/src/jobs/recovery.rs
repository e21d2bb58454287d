//! Unsaved work: where it is kept and how it is restored. Also the lock that marks a show as open.

use letfall_core::fnv::Fnv;
use letfall_core::show::Show;
use letfall_platform::FileLock;
use std::fs;
use std::hash::Hasher as _;
use std::path::{Path, PathBuf};

/// How many editors at once keep apart what they have of shows without a file. More share the first place.
const MOST_UNSAVED: usize = 16;

/// The name of the recovery file for a show's path: readable, and different for different paths. Shows without a file are numbered.
fn slot(path: Option<&Path>, number: usize) -> String {
    let full = path.map_or_else(
        || if number == 0 { "unsaved".to_owned() } else { format!("unsaved {number}") },
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

/// Where a show's unsaved work is kept in the program's folder; without a path, the first place for a show without a file.
pub fn place(folder: &Path, path: Option<&Path>) -> PathBuf {
    folder.join(slot(path, 0)).with_extension("letfall")
}

/// A place for a show without a file that no other open editor uses, and the lock that keeps it ours. One in which an ended editor
/// left something comes first, so that it is offered.
pub fn unsaved_place(folder: &Path) -> (PathBuf, Option<FileLock>) {
    let mut free = Vec::new();
    for number in 0..MOST_UNSAVED {
        let name = folder.join(slot(None, number));
        let place = name.with_extension("letfall");
        match FileLock::take(&name.with_extension("open")) {
            Ok(Some(mark)) if place.exists() => return (place, Some(mark)),
            Ok(Some(mark)) => free.push((place, Some(mark))),
            Ok(None) => {}
            // Nothing can be locked here, which must not stop anyone from working.
            Err(_) => break,
        }
    }
    free.into_iter().next().unwrap_or_else(|| (place(folder, None), None))
}

/// Where it is kept how many steps that work is ahead of what was saved.
pub fn steps_of(place: &Path) -> PathBuf {
    place.with_extension("steps")
}

/// Unsaved work of an earlier editor.
#[derive(Debug, Clone, PartialEq)]
pub struct Recovered {
    /// The show as it was.
    pub show: Show,
    /// How many steps had not been saved, if that is known.
    pub steps: Option<usize>,
    /// Seconds since it was kept, if the system tells.
    pub age: Option<u64>,
}

impl Recovered {
    /// Which show it is, when it was kept, how many steps, in words.
    pub fn words(&self) -> String {
        let kept = match self.steps {
            Some(1) => "1 step of it is kept".to_owned(),
            Some(steps) => format!("{steps} steps of it are kept"),
            None => "Its work is kept".to_owned(),
        };
        let ago = self.age.map_or_else(String::new, |age| {
            let (count, unit) = match age {
                0..60 => return " less than a minute ago".to_owned(),
                60..3600 => (age / 60, "minute"),
                3600..86_400 => (age / 3600, "hour"),
                _ => (age / 86_400, "day"),
            };
            format!(" {count} {unit}{} ago", if count == 1 { "" } else { "s" })
        });
        format!("“{}” was kept{ago} and never saved. {kept}.", self.show.title)
    }
}

/// The unsaved work of an editor that ended without saving.
pub fn recovered(place: &Path) -> Option<Recovered> {
    let show = letfall_core::file::read(&fs::read(place).ok()?).ok()?;
    let steps = fs::read_to_string(steps_of(place)).ok().and_then(|text| text.trim().parse().ok());
    let kept = fs::metadata(place).and_then(|file| file.modified()).ok();
    let age = kept.and_then(|kept| kept.elapsed().ok()).map(|age| age.as_secs());
    Some(Recovered { show, steps, age })
}

/// Deletes the unsaved work.
pub fn forget(place: &Path) {
    drop(fs::remove_file(steps_of(place)));
    drop(fs::remove_file(place));
}

/// Marks a show as open for as long as the lock is kept. `None` if another editor has it open. `Some(None)` if it cannot be
/// locked (on a drive without locks), which must not stop anyone from working.
pub fn mark_open(folder: &Path, path: &Path) -> Option<Option<FileLock>> {
    match FileLock::take(&folder.join(slot(Some(path), 0)).with_extension("open")) {
        Ok(Some(lock)) => Some(Some(lock)),
        Ok(None) => None,
        Err(_) => Some(None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_not_saved_is_told() {
        let words = |steps, age| Recovered { show: Show::empty("Mine"), steps, age }.words();
        assert_eq!(
            words(Some(12), Some(200)),
            "“Mine” was kept 3 minutes ago and never saved. 12 steps of it are kept."
        );
        assert!(words(Some(1), Some(5)).ends_with("1 step of it is kept."));
        assert!(words(None, None).ends_with("Its work is kept."));
        assert!(words(None, Some(86_400)).contains("1 day ago"));
    }

    /// Two editors, each with a show that has no file yet, write to places of their own; what the second left is offered to the next.
    #[test]
    fn shows_without_a_file_are_kept_apart() {
        let folder = tempfile::tempdir().unwrap();
        let (first, one) = unsaved_place(folder.path());
        let (second, two) = unsaved_place(folder.path());
        assert!(one.is_some() && two.is_some());
        assert_ne!(first, second);
        assert_eq!(first, place(folder.path(), None));
        fs::write(&second, letfall_core::file::write(&Show::empty("Second"))).unwrap();
        // It is still open, so it is nobody else's.
        let (third, three) = unsaved_place(folder.path());
        assert!(third != first && third != second);
        drop((one, two, three));
        let (next, mark) = unsaved_place(folder.path());
        assert_eq!(next, second);
        assert_eq!(recovered(&next).unwrap().show.title, "Second");
        forget(&next);
        drop(mark);
        assert_eq!(unsaved_place(folder.path()).0, first);
    }

    #[test]
    fn more_editors_than_places_work_all_the_same() {
        let folder = tempfile::tempdir().unwrap();
        let marks: Vec<_> = (0..MOST_UNSAVED).map(|_| unsaved_place(folder.path())).collect();
        assert!(marks.iter().all(|(_, mark)| mark.is_some()));
        let (place_of_all, mark) = unsaved_place(folder.path());
        assert_eq!((place_of_all, mark.is_none()), (place(folder.path(), None), true));
    }

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

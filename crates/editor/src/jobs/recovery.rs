//! Unsaved work: where it is kept and how it is restored. Also the lock that marks a show as open.

use letfall_core::fnv::Fnv;
use letfall_core::show::Show;
use letfall_platform::FileLock;
use std::fs;
use std::hash::Hasher as _;
use std::path::{Path, PathBuf};

/// How many editors at once keep apart what they have of one show, or of shows without a file. More share the first place.
const MOST_AT_ONCE: usize = 16;

/// The name of the recovery file for a show's path: readable, and different for different paths and for each editor that has it open.
fn slot(path: Option<&Path>, number: usize) -> String {
    let mut full = path.map_or_else(
        || "unsaved".to_owned(),
        |p| fs::canonicalize(p).unwrap_or_else(|_| p.to_owned()).to_string_lossy().into_owned(),
    );
    if number > 0 {
        full = format!("{full} {number}");
    }
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

/// Where one open editor keeps its unsaved work.
#[derive(Debug)]
pub struct OwnPlace {
    /// The file.
    pub place: PathBuf,
    /// Keeps it ours for as long as it is held. `None` if nothing can be locked there (on a drive without locks), or too many are open:
    /// neither must stop anyone from working.
    pub mark: Option<FileLock>,
    /// Whether another editor has the same show open, or has a show without a file, too.
    pub open_elsewhere: bool,
}

/// A place for the unsaved work of a show, or of one without a file, that no other open editor uses. One in which an ended editor left
/// something comes first, so that it is offered.
pub fn own_place(folder: &Path, path: Option<&Path>) -> OwnPlace {
    let mut free = Vec::new();
    let mut open_elsewhere = false;
    for number in 0..MOST_AT_ONCE {
        let name = folder.join(slot(path, number));
        let place = name.with_extension("letfall");
        match FileLock::take(&name.with_extension("open")) {
            Ok(Some(mark)) => free.push((place, mark)),
            Ok(None) => open_elsewhere = true,
            Err(_) => break,
        }
    }
    let left = free.iter().position(|(place, _)| place.exists()).unwrap_or(0);
    match free.into_iter().nth(left) {
        Some((place, mark)) => OwnPlace { place, mark: Some(mark), open_elsewhere },
        None => OwnPlace { place: place(folder, path), mark: None, open_elsewhere },
    }
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
    /// Whether the show's file has been saved since, by another editor.
    pub file_is_newer: bool,
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
        let newer = if self.file_is_newer {
            " Since then somebody else has saved the file: take this back only to save it as another one."
        } else {
            ""
        };
        format!("“{}” was kept{ago} and never saved. {kept}.{newer}", self.show.title)
    }
}

/// The unsaved work of an editor that ended without saving; `path` is the show's file.
pub fn recovered(place: &Path, path: Option<&Path>) -> Option<Recovered> {
    let show = letfall_core::file::read(&fs::read(place).ok()?).ok()?;
    let steps = fs::read_to_string(steps_of(place)).ok().and_then(|text| text.trim().parse().ok());
    let changed = |path: &Path| fs::metadata(path).and_then(|file| file.modified()).ok();
    let kept = changed(place);
    let age = kept.and_then(|kept| kept.elapsed().ok()).map(|age| age.as_secs());
    let file_is_newer = kept.zip(path.and_then(changed)).is_some_and(|(kept, file)| file > kept);
    Some(Recovered { show, steps, age, file_is_newer })
}

/// Deletes the unsaved work.
pub fn forget(place: &Path) {
    drop(fs::remove_file(steps_of(place)));
    drop(fs::remove_file(place));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_not_saved_is_told() {
        let words = |steps, age| Recovered { show: Show::empty("Mine"), steps, age, file_is_newer: false }.words();
        assert_eq!(
            words(Some(12), Some(200)),
            "“Mine” was kept 3 minutes ago and never saved. 12 steps of it are kept."
        );
        assert!(words(Some(1), Some(5)).ends_with("1 step of it is kept."));
        assert!(words(None, None).ends_with("Its work is kept."));
        assert!(words(None, Some(86_400)).contains("1 day ago"));
    }

    /// Two editors, on one show or each with one that has no file yet, write to places of their own; what the second left is offered to
    /// the next.
    #[test]
    fn editors_keep_apart_what_they_have() {
        let folder = tempfile::tempdir().unwrap();
        let own = |path: Option<&Path>| own_place(folder.path(), path);
        let mine = folder.path().join("mine.letfall");
        // Ends an editor and tells where it kept its work.
        let own_of = |own: OwnPlace| own.place.clone();
        for path in [None, Some(mine.as_path())] {
            let (first, second) = (own(path), own(path));
            assert!(first.mark.is_some() && second.mark.is_some());
            assert!(!first.open_elsewhere && second.open_elsewhere);
            assert_ne!(first.place, second.place);
            assert_eq!(first.place, place(folder.path(), path));
            fs::write(&second.place, letfall_core::file::write(&Show::empty("Second"))).unwrap();
            // It is still open, so it is nobody else's.
            let third = own(path);
            assert!(third.place != first.place && third.place != second.place);
            let (first, second) = (own_of(first), own_of(second));
            drop(third);
            // Both have ended.
            let next = own(path);
            assert_eq!(next.place, second);
            assert!(!next.open_elsewhere);
            assert_eq!(recovered(&next.place, None).unwrap().show.title, "Second");
            forget(&next.place);
            drop(next);
            assert_eq!(own(path).place, first);
        }
        assert!(!own(Some(&folder.path().join("other.letfall"))).open_elsewhere);
    }

    #[test]
    fn more_editors_than_places_work_all_the_same() {
        let folder = tempfile::tempdir().unwrap();
        let all: Vec<_> = (0..MOST_AT_ONCE).map(|_| own_place(folder.path(), None)).collect();
        assert!(all.iter().all(|own| own.mark.is_some()));
        let own = own_place(folder.path(), None);
        assert!(own.place == place(folder.path(), None) && own.mark.is_none() && own.open_elsewhere);
    }

    /// A folder that cannot be made locks nothing; the work goes on.
    #[test]
    fn where_nothing_can_be_locked() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a file");
        fs::write(&file, "").unwrap();
        let own = own_place(&file, None);
        assert!(own.mark.is_none() && !own.open_elsewhere);
    }
}

//! Opening, saving, recovery: the work is done beside the screen, and the saved file is touched only by saving.

use crate::disk;
use letfall_core::fnv::Fnv;
use letfall_core::show::Show;
use std::fs;
use std::hash::Hasher as _;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;

/// How often changed work is put by, seconds.
pub const AUTOSAVE_SECS: f64 = 8.0;

/// Where unsaved work is kept: the system's place for state, or the folder for temporary files.
pub fn recovery_folder() -> PathBuf {
    let home = || std::env::var_os("HOME").map(|h| PathBuf::from(h).join(".local/state"));
    let base = std::env::var_os("LETFALL_STATE")
        .or_else(|| std::env::var_os("XDG_STATE_HOME"))
        .map(PathBuf::from)
        .or_else(home)
        .unwrap_or_else(std::env::temp_dir);
    base.join("letfall")
}

/// Names the recovery file of a show's path: readable, and unlike for unlike paths.
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

/// Unsaved work of an editor that ended without saving.
pub fn recovered(folder: &Path, path: Option<&Path>) -> Option<Show> {
    let bytes = fs::read(folder.join(slot(path)).with_extension("letfall")).ok()?;
    letfall_core::file::read(&bytes).ok()
}

/// Forgets unsaved work.
pub fn forget(folder: &Path, path: Option<&Path>) {
    drop(fs::remove_file(folder.join(slot(path)).with_extension("letfall")));
}

/// Marks a show as open here; `false` if another running editor has it.
pub fn take(folder: &Path, path: &Path) -> bool {
    let mark = folder.join(slot(Some(path))).with_extension("open");
    let other = fs::read_to_string(&mark).ok().and_then(|pid| pid.trim().parse::<u32>().ok());
    let running = other.is_some_and(|pid| pid != std::process::id() && Path::new(&format!("/proc/{pid}")).exists());
    if !running {
        drop(fs::create_dir_all(folder));
        drop(fs::write(&mark, std::process::id().to_string()));
    }
    !running
}

/// Takes the mark away.
pub fn leave(folder: &Path, path: Option<&Path>) {
    if let Some(path) = path {
        let mark = folder.join(slot(Some(path))).with_extension("open");
        if fs::read_to_string(&mark).is_ok_and(|pid| pid.trim() == std::process::id().to_string()) {
            drop(fs::remove_file(mark));
        }
    }
}

/// Puts unsaved work by, beside the screen.
pub struct Keeper {
    to: SyncSender<(PathBuf, Show)>,
    failures: Receiver<String>,
}

impl Keeper {
    /// Starts it.
    pub fn start() -> Keeper {
        let (to, from) = sync_channel::<(PathBuf, Show)>(1);
        let (told, failures) = sync_channel(4);
        let work = move || {
            while let Ok((path, show)) = from.recv() {
                let folder = path.parent().map(Path::to_owned).unwrap_or_default();
                let kept = fs::create_dir_all(&folder)
                    .map_err(|e| e.to_string())
                    .and_then(|()| disk::write(&path, &letfall_core::file::write(&show)).map_err(|e| e.to_string()));
                if let Err(why) = kept {
                    drop(told.try_send(format!("unsaved work could not be put by: {why}")));
                }
            }
        };
        drop(thread::Builder::new().name("keeper".into()).spawn(work));
        Keeper { to, failures }
    }

    /// Puts a show by; `false` if it is still busy with the last one.
    pub fn keep(&self, folder: &Path, path: Option<&Path>, show: &Show) -> bool {
        self.to.try_send((folder.join(slot(path)).with_extension("letfall"), show.clone())).is_ok()
    }

    /// What went wrong, if anything did.
    pub fn failure(&self) -> Option<String> {
        self.failures.try_recv().ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unsaved_work_comes_back_and_is_forgotten() {
        let folder = tempfile::tempdir().unwrap();
        let show = Show::empty("Kept");
        let path = folder.path().join("mine.letfall");
        let keeper = Keeper::start();
        assert!(keeper.keep(folder.path(), Some(&path), &show));
        for _ in 0..200 {
            if recovered(folder.path(), Some(&path)).is_some() {
                break;
            }
            thread::sleep(std::time::Duration::from_millis(10));
        }
        assert_eq!(recovered(folder.path(), Some(&path)), Some(show));
        assert_eq!(recovered(folder.path(), None), None);
        forget(folder.path(), Some(&path));
        assert_eq!(recovered(folder.path(), Some(&path)), None);
        assert!(!path.exists(), "the show's own file is never touched");
    }

    #[test]
    fn a_show_that_is_open_elsewhere_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("mine.letfall");
        assert!(take(folder.path(), &path));
        assert!(take(folder.path(), &path), "the same program may");
        // Process 1 is always there.
        fs::write(folder.path().join(slot(Some(&path))).with_extension("open"), "1").unwrap();
        assert!(!take(folder.path(), &path));
    }
}

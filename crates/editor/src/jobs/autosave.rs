//! Saves unsaved work for recovery every few seconds, in the background. The show's own file is written only by saving.

use super::recovery::steps_of;
use letfall_core::show::Show;
use letfall_files::disk;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;

/// How often changed work is saved for recovery, in seconds.
pub const AUTOSAVE_SECS: f64 = 8.0;

/// Saves unsaved work for recovery in the background.
pub struct Autosaver {
    to: SyncSender<(PathBuf, Arc<Show>, usize)>,
    failures: Receiver<String>,
}

impl Autosaver {
    /// Starts its thread.
    pub fn start() -> Autosaver {
        let (to, from) = sync_channel::<(PathBuf, Arc<Show>, usize)>(1);
        let (told, failures) = sync_channel(4);
        let work = move || {
            while let Ok((path, show, steps)) = from.recv() {
                let folder = path.parent().map(Path::to_owned).unwrap_or_default();
                let kept = fs::create_dir_all(&folder)
                    .map_err(|e| e.to_string())
                    .and_then(|()| disk::write(&path, &letfall_core::file::write(&show)).map_err(|e| e.to_string()));
                // How many steps they are is only told; without it the work is offered all the same.
                drop(fs::write(steps_of(&path), steps.to_string()));
                if let Err(why) = kept {
                    drop(told.try_send(format!("unsaved work could not be kept for recovery: {why}")));
                }
            }
        };
        drop(thread::Builder::new().name("autosave".into()).spawn(work));
        Autosaver { to, failures }
    }

    /// Keeps a show that is so many steps ahead of its file at a place for recovery; `false` if it is still busy with the previous one.
    pub fn keep(&self, place: &Path, show: &Arc<Show>, steps: usize) -> bool {
        self.to.try_send((place.to_owned(), show.clone(), steps)).is_ok()
    }

    /// The latest failure, if there was one.
    pub fn failure(&self) -> Option<String> {
        self.failures.try_recv().ok()
    }
}

#[cfg(test)]
mod tests {
    use super::super::recovery::{forget, place, recovered};
    use super::*;

    #[test]
    fn unsaved_work_comes_back_and_is_forgotten() {
        let folder = tempfile::tempdir().unwrap();
        let show = Arc::new(Show::empty("Kept"));
        let path = folder.path().join("mine.letfall");
        let (kept_at, other) = (place(folder.path(), Some(&path)), place(folder.path(), None));
        let autosaver = Autosaver::start();
        assert!(autosaver.keep(&kept_at, &show, 3));
        for _ in 0..200 {
            if recovered(&kept_at, None).is_some() {
                break;
            }
            thread::sleep(std::time::Duration::from_millis(10));
        }
        let kept = recovered(&kept_at, None).unwrap();
        assert_eq!(kept.show, *show);
        for _ in 0..200 {
            if recovered(&kept_at, None).unwrap().steps == Some(3) {
                break;
            }
            thread::sleep(std::time::Duration::from_millis(10));
        }
        assert_eq!(recovered(&kept_at, None).unwrap().steps, Some(3));
        assert_eq!(recovered(&other, None), None);
        forget(&kept_at);
        assert_eq!(recovered(&kept_at, None), None);
        assert!(!path.exists(), "the show's own file is never touched");
    }
}

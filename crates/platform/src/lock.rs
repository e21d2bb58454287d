//! Marks a file as open in this program. The system releases the lock when the program ends, even after a crash.

use std::fs::{self, File, OpenOptions};
use std::io;
use std::path::Path;

/// A lock that is held until it is dropped or the program ends.
#[derive(Debug)]
pub struct FileLock {
    file: File,
}

impl FileLock {
    /// Locks a file, creating it if it does not exist. `None` if another program, or another part of this one, holds the lock.
    ///
    /// # Errors
    /// When the file cannot be made, or the system cannot lock files there (some network drives).
    pub fn take(path: &Path) -> io::Result<Option<FileLock>> {
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder)?;
        }
        let file = OpenOptions::new().create(true).truncate(false).read(true).write(true).open(path)?;
        match file.try_lock() {
            Ok(()) => Ok(Some(FileLock { file })),
            Err(fs::TryLockError::WouldBlock) => Ok(None),
            Err(fs::TryLockError::Error(why)) => Err(why),
        }
    }
}

impl Drop for FileLock {
    fn drop(&mut self) {
        // Closing the file would release it too. Unlocking first makes sure the lock is free before anybody else tries to take
        // it.
        drop(self.file.unlock());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_at_a_time_and_free_again_afterwards() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("deeper").join("show.open");
        let first = FileLock::take(&path).unwrap();
        assert!(first.is_some());
        assert!(FileLock::take(&path).unwrap().is_none());
        drop(first);
        assert!(FileLock::take(&path).unwrap().is_some());
    }

    #[test]
    fn what_cannot_be_locked_is_an_error() {
        let folder = tempfile::tempdir().unwrap();
        assert!(FileLock::take(folder.path()).is_err());
    }
}

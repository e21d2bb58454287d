//! Marking a file as open in this program: the system itself takes the mark away when the program ends, however it ends.

use std::fs::{self, File, OpenOptions};
use std::io;
use std::path::Path;

/// A mark that lasts until it is dropped, or the program ends.
#[derive(Debug)]
pub struct FileLock {
    file: File,
}

impl FileLock {
    /// Takes the mark that a file stands for; the file is made where it is not there. `None` where another program, or another
    /// part of this one, has it.
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
        // Closing the file would do as well; said here so that the mark is gone before anybody else can ask.
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

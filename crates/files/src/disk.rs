//! Reading whole files, and writing so that a file is always either the old one or the new one, never a partial one.

use crate::failure::{Failure, io_words};
use letfall_core::show::Show;
use std::fs;
use std::io::{Read, Seek as _, Write as _};
use std::path::{Path, PathBuf};

/// The largest file that is read. A show with 100 000 cues takes about 15 MB.
const MOST_BYTES: u64 = 512 * 1024 * 1024;

/// Reads a whole file.
pub fn read(what: &'static str, path: &Path) -> Result<Vec<u8>, Failure> {
    let fail = |why: String| Failure::Read { what, why, path: path.to_owned() };
    let facts = fs::metadata(path).map_err(|e| fail(io_words(&e)))?;
    if facts.is_dir() {
        return Err(fail("it is a folder; name a file".to_owned()));
    }
    if facts.len() > MOST_BYTES {
        return Err(fail(format!(
            "it has {} MB and at most 512 are read; choose another file",
            facts.len() / 1_000_000
        )));
    }
    read_from(what, path, fs::File::open(path).map_err(|e| fail(io_words(&e)))?)
}

/// Reads all that comes from a stream. A pipe or device reports no length, so the limit is applied while reading. `name` is what messages call
/// it.
pub fn read_from(what: &'static str, name: &Path, from: impl Read) -> Result<Vec<u8>, Failure> {
    let fail = |why: String| Failure::Read { what, why, path: name.to_owned() };
    let mut bytes = Vec::new();
    from.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(|e| fail(io_words(&e)))?;
    if bytes.len() as u64 > MOST_BYTES {
        return Err(fail("it is longer than 512 MB; choose another file".to_owned()));
    }
    Ok(bytes)
}

/// Reads a show.
pub fn read_show(path: &Path) -> Result<Show, Failure> {
    let bytes = read("the show", path)?;
    letfall_core::file::read(&bytes).map_err(|why| Failure::Show { why, path: path.to_owned() })
}

/// Writes a whole file: to a temporary file beside it, synced, then renamed over it. If anything fails, the old file stays
/// unchanged.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    write_with(path, |to| to.write_all(bytes))
}

/// Like [`write()`], but produces the bytes while writing.
pub fn write_with(path: &Path, make: impl FnOnce(&mut fs::File) -> std::io::Result<()>) -> Result<(), Failure> {
    let fail = |why: String| Failure::Write { why, path: path.to_owned() };
    if path.is_dir() {
        return Err(fail("it is a folder; name a file".to_owned()));
    }
    // A device or a named pipe is written into and never replaced.
    if fs::metadata(path).is_ok_and(|facts| !facts.is_file()) {
        return into_special(path, make).map_err(|e| fail(io_words(&e)));
    }
    // Follow a symbolic link to its target, so that the link itself is kept.
    let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let folder = match target.parent() {
        Some(folder) if folder.as_os_str().is_empty() => PathBuf::from("."),
        Some(folder) => folder.to_owned(),
        None => return Err(fail("it has no folder; name a file".to_owned())),
    };
    let attempt = move || -> std::io::Result<()> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(".letfall-").suffix(".part");
        if let Some(permissions) = letfall_platform::like_a_new_file(&target) {
            builder.permissions(permissions);
        }
        let mut part = builder.tempfile_in(&folder)?;
        make(part.as_file_mut())?;
        part.as_file().sync_all()?;
        replace(part, &target)?;
        // Sync the folder so that the rename reaches the disk. Where a folder cannot be synced, the file is still complete.
        if let Ok(folder) = fs::File::open(&folder) {
            drop(folder.sync_all());
        }
        Ok(())
    };
    attempt().map_err(|e| fail(io_words(&e)))
}

/// Puts the finished file in the place of another. What stands in the way for a moment only, as a virus scanner's look on Windows does, is
/// waited for, up to a second.
fn replace(mut part: tempfile::NamedTempFile, target: &Path) -> std::io::Result<()> {
    for _ in 0..10 {
        match part.persist(target) {
            Ok(_) => return Ok(()),
            Err(why) if letfall_platform::may_pass(&why.error) => part = why.file,
            Err(why) => return Err(why.error),
        }
        std::thread::sleep(std::time::Duration::from_millis(100));
    }
    part.persist(target).map(drop).map_err(|why| why.error)
}

/// Writes into what is no plain file, such as a device or a named pipe. The bytes are made elsewhere first.
fn into_special(path: &Path, make: impl FnOnce(&mut fs::File) -> std::io::Result<()>) -> std::io::Result<()> {
    let mut made = tempfile::tempfile()?;
    make(&mut made)?;
    made.rewind()?;
    let mut to = fs::OpenOptions::new().write(true).open(path)?;
    std::io::copy(&mut made, &mut to)?;
    to.flush()
}

/// Writes a file that must not exist yet.
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    if path.exists() {
        let why = "there is a file of that name already; choose another".to_owned();
        return Err(Failure::Write { why, path: path.to_owned() });
    }
    write(path, bytes)
}

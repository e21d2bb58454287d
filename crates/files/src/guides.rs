//! Guide recordings on disk: where they are, whether they exist, and whether they are the ones that the grids were made from.

use crate::failure::io_words;
use letfall_core::show::Guide;
use letfall_sound::Decoder;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::SystemTime;

/// Checksums of files already read, keyed by path, length and modification time, so that a recording is not read again at every
/// edit.
static SUMS: Mutex<BTreeMap<(PathBuf, u64, SystemTime), String>> = Mutex::new(BTreeMap::new());

/// Where a guide is: its path is relative to the show file's folder. If the stored path does not exist, the file is looked for
/// beside the show, which may have been moved to another machine.
pub fn place(folder: Option<&Path>, guide: &Guide) -> PathBuf {
    let folder = folder.unwrap_or_else(|| Path::new("."));
    let path = folder.join(&guide.path);
    // A path from another system may use the other kind of slash.
    let name = guide.path.rsplit(['/', '\\']).next().unwrap_or_default();
    let beside = folder.join(name);
    // Called every frame, so the disk is only accessed if the two paths differ.
    if beside != path && !name.is_empty() && !path.is_file() && beside.is_file() { beside } else { path }
}

/// Opens a recording.
///
/// # Errors
/// Why it cannot be read, in words; the caller adds the path.
pub fn open(path: &Path) -> Result<Decoder, String> {
    let file = fs::File::open(path).map_err(|e| io_words(&e))?;
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    Decoder::open(Box::new(file), ending.as_deref()).map_err(|e| e.to_string())
}

/// A guide's SHA-256 in hexadecimal; `None` if the file does not exist or cannot be read.
pub fn sum(folder: Option<&Path>, guide: &Guide) -> Option<String> {
    let path = place(folder, guide);
    let facts = fs::metadata(&path).ok().filter(fs::Metadata::is_file)?;
    let key = (path.clone(), facts.len(), facts.modified().unwrap_or(SystemTime::UNIX_EPOCH));
    let sums = || SUMS.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(sum) = sums().get(&key) {
        return Some(sum.clone());
    }
    let mut file = fs::File::open(&path).ok()?;
    let mut hash = Sha256::new();
    let mut part = vec![0u8; 1 << 16];
    loop {
        match file.read(&mut part).ok()? {
            0 => break,
            n => hash.update(&part[..n]),
        }
    }
    let sum = hash.finalize().iter().fold(String::with_capacity(64), |mut text, byte| {
        for half in [byte >> 4, byte & 15] {
            text.push(char::from_digit(u32::from(half), 16).unwrap_or('0'));
        }
        text
    });
    sums().insert(key, sum.clone());
    Some(sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example from FIPS 180-4: SHA-256 of "abc".
    #[test]
    fn a_published_sum_and_a_missing_file() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("abc.wav"), "abc").unwrap();
        let guide = |path: &str| serde_json::from_value::<Guide>(serde_json::json!({ "path": path })).unwrap();
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        for _ in 0..2 {
            assert_eq!(sum(Some(folder.path()), &guide("abc.wav")).as_deref(), Some(abc));
        }
        assert_eq!(sum(Some(folder.path()), &guide("gone.wav")), None);
        assert_eq!(sum(Some(folder.path()), &guide(".")), None);
        // Moved to another place together with its show.
        for path in ["/gone/abc.wav", "gone/abc.wav", "C:\\gone\\abc.wav"] {
            assert_eq!(sum(Some(folder.path()), &guide(path)).as_deref(), Some(abc), "{path}");
        }
    }
}

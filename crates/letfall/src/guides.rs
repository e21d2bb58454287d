//! Guide recordings on disk: whether they are there, and whether they are the ones that grids were made from.

use letfall_core::show::Guide;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::SystemTime;

/// Sums of files that have been read, by path, length and time of change: a recording is read once, not at every edit.
static SUMS: Mutex<BTreeMap<(PathBuf, u64, SystemTime), String>> = Mutex::new(BTreeMap::new());

/// A guide's SHA-256 in hexadecimal; `None` where there is no such file. Its path is taken from the show file's folder.
pub fn sum(folder: Option<&Path>, guide: &Guide) -> Option<String> {
    let path = folder.unwrap_or_else(|| Path::new(".")).join(&guide.path);
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

    /// FIPS 180-4's example: SHA-256 of "abc".
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
    }
}

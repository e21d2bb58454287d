//! What a file that takes another's place may be read and written by.

use std::fs::Permissions;
use std::path::Path;

/// The permissions that a file at a path has, or that a plain new one would be given (the system takes the user's mask off);
/// `None` where the system knows no such thing.
pub fn like_a_new_file(path: &Path) -> Option<Permissions> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let mode = std::fs::metadata(path).map_or(0o666, |old| old.permissions().mode());
        Some(Permissions::from_mode(mode))
    }
    #[cfg(not(unix))]
    {
        let _ = path;
        None
    }
}

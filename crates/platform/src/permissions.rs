//! Permissions for a file that replaces another.

use std::fs::Permissions;
use std::path::Path;

/// The permissions of the file at a path or, if there is none, those of a new file (the system applies the umask). `None` on
/// systems without Unix permissions.
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

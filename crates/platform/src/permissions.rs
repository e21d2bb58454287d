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

/// Whether an error may pass by itself in a moment: on Windows another program may have a file open just then (access denied, or a sharing
/// violation, 32 in winerror.h). Elsewhere an open file is replaced all the same, and what is not allowed stays so.
pub fn may_pass(error: &std::io::Error) -> bool {
    cfg!(windows) && (error.kind() == std::io::ErrorKind::PermissionDenied || error.raw_os_error() == Some(32))
}

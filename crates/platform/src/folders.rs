//! Where the program keeps its own files.

use std::path::PathBuf;

/// The folder for what the program remembers between starts: unsaved work, logs of runs, choice of ports. `LETFALL_STATE` sets
/// another place. If the system has no such folder, the one for temporary files is used.
pub fn program_folder() -> PathBuf {
    let named = std::env::var_os("LETFALL_STATE").filter(|v| !v.is_empty()).map(PathBuf::from);
    let base = named.or_else(|| {
        let folders = directories::BaseDirs::new()?;
        Some(folders.state_dir().unwrap_or_else(|| folders.data_local_dir()).to_owned())
    });
    base.unwrap_or_else(std::env::temp_dir).join("letfall")
}

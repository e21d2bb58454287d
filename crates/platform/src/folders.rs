//! Where the program keeps what is its own.

use std::path::PathBuf;

/// The program's folder for what it remembers between starts: unsaved work, logs of runs, choice of ports. `LETFALL_STATE` names
/// another place for it; where the system has none it is beside temporary files.
pub fn program_folder() -> PathBuf {
    let named = std::env::var_os("LETFALL_STATE").filter(|v| !v.is_empty()).map(PathBuf::from);
    let base = named.or_else(|| {
        let folders = directories::BaseDirs::new()?;
        Some(folders.state_dir().unwrap_or_else(|| folders.data_local_dir()).to_owned())
    });
    base.unwrap_or_else(std::env::temp_dir).join("letfall")
}

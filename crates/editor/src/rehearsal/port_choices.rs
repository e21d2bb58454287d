//! Settings that belong to this machine rather than to a show: which of its MIDI ports is used for which port of a show.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Stored in a file in the program's own folder.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct PortChoices {
    /// For each port of a show, by name, the machine's port to use.
    pub outputs: BTreeMap<String, String>,
    /// The machine's port to listen to.
    pub input: String,
}

const FILE: &str = "ports.json";

impl PortChoices {
    /// Reads the file. If it is missing or unreadable, the choices are empty, because they can be made again.
    pub fn read(folder: &Path) -> PortChoices {
        fs::read(folder.join(FILE)).ok().and_then(|bytes| serde_json::from_slice(&bytes).ok()).unwrap_or_default()
    }

    /// Stores the choices.
    ///
    /// # Errors
    /// Why they cannot be stored, in words.
    pub fn write(&self, folder: &Path) -> Result<(), String> {
        let path: PathBuf = folder.join(FILE);
        fs::create_dir_all(folder).map_err(|e| letfall_files::io_words(&e))?;
        let bytes = serde_json::to_vec_pretty(self).map_err(|e| e.to_string())?;
        letfall_files::disk::write(&path, &bytes).map_err(|e| e.to_string())
    }

    /// The machine's port for a port of a show: the chosen one, otherwise one whose name contains the show port's name.
    pub fn output(&self, show_port: &str, there: &[String]) -> Option<String> {
        self.outputs.get(show_port).cloned().or_else(|| there.iter().find(|n| n.contains(show_port)).cloned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_chosen_is_remembered() {
        let folder = tempfile::tempdir().unwrap();
        let mut machine = PortChoices::read(folder.path());
        assert_eq!(machine, PortChoices::default());
        let there = vec!["Desk 24:0".to_owned(), "Stage left 28:0".to_owned()];
        assert_eq!(machine.output("Stage left", &there).as_deref(), Some("Stage left 28:0"));
        assert_eq!(machine.output("Playback", &there), None);
        machine.outputs.insert("Playback".to_owned(), "Desk 24:0".to_owned());
        machine.write(folder.path()).unwrap();
        assert_eq!(PortChoices::read(folder.path()), machine);
        assert_eq!(machine.output("Playback", &[]).as_deref(), Some("Desk 24:0"));
        // A damaged file must not keep the program from starting.
        fs::write(folder.path().join(FILE), "{").unwrap();
        assert_eq!(PortChoices::read(folder.path()), PortChoices::default());
    }
}

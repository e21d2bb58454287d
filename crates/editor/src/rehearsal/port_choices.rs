//! Settings that belong to this machine rather than to a show: which of its MIDI ports is used for which port of a show.

use letfall_live::{port_identity, port_make};
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
        let read = fs::read(folder.join(FILE)).ok().and_then(|bytes| serde_json::from_slice(&bytes).ok());
        let mut choices: PortChoices = read.unwrap_or_default();
        // Earlier versions kept the numbers that a replug changes.
        for name in choices.outputs.values_mut().chain([&mut choices.input]) {
            *name = port_identity(name).to_owned();
        }
        choices
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

    /// The machine's port for a port of a show: the chosen one, otherwise the only one of the same name. Names are compared whole, or
    /// as the port's part after the interface's: "Box 10" is not "Box 1".
    pub fn output(&self, show_port: &str, there: &[String]) -> Option<String> {
        let only = |same: &dyn Fn(&str) -> bool| {
            let mut alike = there.iter().filter(|name| same(port_make(name)));
            alike.next().filter(|_| alike.next().is_none()).cloned()
        };
        let Some(chosen) = self.outputs.get(show_port) else {
            return only(&|make| make == show_port || make.rsplit_once(':').is_some_and(|(_, port)| port == show_port));
        };
        // Earlier versions kept no serial number. Where there is one device of that make, it is the one.
        let is_old = port_make(chosen) == chosen && !there.contains(chosen);
        is_old.then(|| only(&|make| make == chosen)).flatten().or_else(|| Some(chosen.clone()))
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
        let there = ["Desk", "Stage left", "USB:Box 1", "USB:Box 10", "Twin:Out", "Other twin:Out"].map(str::to_owned);
        assert_eq!(machine.output("Stage left", &there).as_deref(), Some("Stage left"));
        assert_eq!(machine.output("Box 1", &there).as_deref(), Some("USB:Box 1"));
        assert_eq!(machine.output("Box", &there), None, "the beginning of a name is no name");
        assert_eq!(machine.output("Out", &there), None, "two would do: a person must choose");
        assert_eq!(machine.output("Playback", &there), None);
        machine.outputs.insert("Playback".to_owned(), "Desk 24:0".to_owned());
        machine.write(folder.path()).unwrap();
        let machine = PortChoices::read(folder.path());
        assert_eq!(machine.output("Playback", &[]).as_deref(), Some("Desk"), "without the numbers of one plugging in");
        // A serial number that became known later: the only one of that make is meant, and of two a person must choose.
        let there = ["Desk [serial 1]", "Box:Left [USB socket 1-2]"].map(str::to_owned);
        assert_eq!(machine.output("Playback", &there).as_deref(), Some("Desk [serial 1]"));
        assert_eq!(machine.output("Left", &there).as_deref(), Some("Box:Left [USB socket 1-2]"));
        let there = ["Desk [serial 1]", "Desk [serial 2]"].map(str::to_owned);
        assert_eq!(machine.output("Playback", &there).as_deref(), Some("Desk"));
        // A device that was chosen with its serial number is not replaced by another of its make.
        let mut known = machine.clone();
        known.outputs.insert("Playback".to_owned(), "Desk [serial 3]".to_owned());
        assert_eq!(known.output("Playback", &there[..1]).as_deref(), Some("Desk [serial 3]"));
        // A damaged file must not keep the program from starting.
        fs::write(folder.path().join(FILE), "{").unwrap();
        assert_eq!(PortChoices::read(folder.path()), PortChoices::default());
    }
}

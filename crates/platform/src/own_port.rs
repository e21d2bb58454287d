//! MIDI ports that a program makes for others on the same machine to listen to.

use midir::{MidiOutput, MidiOutputConnection};

/// Whether this system lets a program make MIDI ports. Where it does not, only ports that are there can be chosen.
pub const HAS_OWN_PORTS: bool = cfg!(unix);

/// Makes a port of the program's own.
///
/// # Errors
/// Why there is none, in words.
pub fn own_port(midi: MidiOutput, name: &str) -> Result<MidiOutputConnection, String> {
    #[cfg(unix)]
    {
        use midir::os::unix::VirtualOutput as _;
        midi.create_virtual(name).map_err(|e| format!("no port of our own can be had here ({e})"))
    }
    #[cfg(not(unix))]
    {
        let _ = (midi, name);
        Err("this system lets no program have ports of its own; choose one that is there".to_owned())
    }
}

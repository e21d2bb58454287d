//! The MIDI ports of the operating system.

use crate::ports::{Gone, InputCallback, OWN_PORT, PortInput, PortOut, Ports, port_names};
use letfall_core::midi::split_messages;
use midir::{Ignore, MidiInput, MidiOutput, MidiOutputConnection};

/// The MIDI ports of the operating system.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemPorts;

const CLIENT: &str = "Letfall";

struct Wire(MidiOutputConnection);

impl PortOut for Wire {
    fn send(&mut self, bytes: &[u8]) -> Result<(), Gone> {
        // Several messages in a row are sent one by one, because some systems accept only one at a time.
        for message in split_messages(bytes) {
            self.0.send(message).map_err(|_| Gone)?;
        }
        Ok(())
    }
}

fn no_midi(why: impl std::fmt::Display) -> String {
    format!("the system gives no MIDI here ({why})")
}

/// Whether a system port belongs to this program.
fn is_ours(name: &str) -> bool {
    name.split_once(':').is_some_and(|(client, _)| client == CLIENT)
}

/// Creates a virtual port that programs on this machine can listen to.
#[cfg(unix)]
fn own_port(midi: MidiOutput, name: &str) -> Result<Box<dyn PortOut>, String> {
    use midir::os::unix::VirtualOutput as _;
    let made = midi.create_virtual(name).map_err(|e| format!("no port of our own can be had here ({e})"))?;
    Ok(Box::new(Wire(made)))
}

/// This system has no virtual ports.
#[cfg(not(unix))]
fn own_port(_: MidiOutput, _: &str) -> Result<Box<dyn PortOut>, String> {
    Err("this system lets no program have ports of its own; choose one that is there".to_owned())
}

impl Ports for SystemPorts {
    fn outputs(&mut self) -> Result<Vec<String>, String> {
        let midi = MidiOutput::new(CLIENT).map_err(no_midi)?;
        let ports = midi.ports();
        Ok(port_names(ports.iter().map(|p| midi.port_name(p).unwrap_or_default())))
    }

    fn inputs(&mut self) -> Result<Vec<String>, String> {
        let midi = MidiInput::new(CLIENT).map_err(no_midi)?;
        let ports = midi.ports();
        // Our own outputs must not appear as inputs.
        let others = ports.iter().map(|p| midi.port_name(p).unwrap_or_default()).filter(|name| !is_ours(name));
        Ok(port_names(others))
    }

    fn open(&mut self, name: &str) -> Result<Box<dyn PortOut>, String> {
        let midi = MidiOutput::new(CLIENT).map_err(no_midi)?;
        if let Some(own) = name.strip_prefix(OWN_PORT) {
            return own_port(midi, own);
        }
        let ports = midi.ports();
        let names = port_names(ports.iter().map(|p| midi.port_name(p).unwrap_or_default()));
        let port = names.iter().position(|n| n == name).and_then(|at| ports.get(at));
        let port = port.ok_or_else(|| format!("there is no MIDI port \"{name}\" now"))?;
        let made = midi.connect(port, "out").map_err(|e| format!("MIDI port \"{name}\" cannot be opened ({e})"))?;
        Ok(Box::new(Wire(made)))
    }

    fn listen(&mut self, name: &str, mut heard: InputCallback) -> Result<PortInput, String> {
        let mut midi = MidiInput::new(CLIENT).map_err(no_midi)?;
        // Receive time code and clock too, which can be ignored as well.
        midi.ignore(Ignore::ActiveSense);
        let ports: Vec<_> =
            midi.ports().into_iter().filter(|p| !midi.port_name(p).is_ok_and(|name| is_ours(&name))).collect();
        let names = port_names(ports.iter().map(|p| midi.port_name(p).unwrap_or_default()));
        let port = names.iter().position(|n| n == name).and_then(|at| ports.get(at));
        let port = port.ok_or_else(|| format!("there is no MIDI port \"{name}\" now"))?;
        let made = midi
            .connect(port, "in", move |_, bytes, ()| heard(bytes), ())
            .map_err(|e| format!("MIDI port \"{name}\" cannot be listened to ({e})"))?;
        Ok(PortInput(Box::new(made)))
    }
}

//! The ports that this machine's system has.

use crate::ports::{Gone, InputCallback, PortInput, PortOut, Ports, port_names};
use letfall_core::midi::split_messages;
use midir::{Ignore, MidiInput, MidiOutput, MidiOutputConnection};

/// The ports that the system knows.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemPorts;

const CLIENT: &str = "Letfall";

struct Wire(MidiOutputConnection);

impl PortOut for Wire {
    fn send(&mut self, bytes: &[u8]) -> Result<(), Gone> {
        // A row of messages is sent one by one: some systems take no more at once.
        for message in split_messages(bytes) {
            self.0.send(message).map_err(|_| Gone)?;
        }
        Ok(())
    }
}

fn no_midi(why: impl std::fmt::Display) -> String {
    format!("the system gives no MIDI here ({why})")
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
        Ok(port_names(ports.iter().map(|p| midi.port_name(p).unwrap_or_default())))
    }

    fn open(&mut self, name: &str) -> Result<Box<dyn PortOut>, String> {
        let midi = MidiOutput::new(CLIENT).map_err(no_midi)?;
        let ports = midi.ports();
        let names = port_names(ports.iter().map(|p| midi.port_name(p).unwrap_or_default()));
        let port = names.iter().position(|n| n == name).and_then(|at| ports.get(at));
        let port = port.ok_or_else(|| format!("there is no MIDI port \"{name}\" now"))?;
        let made = midi.connect(port, "out").map_err(|e| format!("MIDI port \"{name}\" cannot be opened ({e})"))?;
        Ok(Box::new(Wire(made)))
    }

    fn listen(&mut self, name: &str, mut heard: InputCallback) -> Result<PortInput, String> {
        let mut midi = MidiInput::new(CLIENT).map_err(no_midi)?;
        // Time code and clock are wanted.
        midi.ignore(Ignore::ActiveSense);
        let ports = midi.ports();
        let names = port_names(ports.iter().map(|p| midi.port_name(p).unwrap_or_default()));
        let port = names.iter().position(|n| n == name).and_then(|at| ports.get(at));
        let port = port.ok_or_else(|| format!("there is no MIDI port \"{name}\" now"))?;
        let made = midi
            .connect(port, "in", move |_, bytes, ()| heard(bytes), ())
            .map_err(|e| format!("MIDI port \"{name}\" cannot be listened to ({e})"))?;
        Ok(PortInput(Box::new(made)))
    }
}

//! The MIDI ports of the operating system.

use crate::ports::{Gone, InputCallback, OWN_PORT, PortInput, PortOut, Ports, port_names};
use letfall_core::midi::split_messages;
use letfall_platform::{card_mark, own_port};
use midir::{Ignore, MidiInput, MidiOutput, MidiOutputConnection};
use std::thread;
use std::time::{Duration, Instant};

/// The MIDI ports of the operating system.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemPorts;

const CLIENT: &str = "Letfall";

/// How long a connection stays open after the last message. A sound server passes on at its next period what it has taken, and
/// forgets it if the connection is closed before that. Two periods of 4096 samples at 48 kHz, the longest in common use, are 171 ms.
const PASSED_ON: Duration = Duration::from_millis(200);

struct Wire {
    out: MidiOutputConnection,
    last: Option<Instant>,
}

impl Wire {
    fn boxed(out: MidiOutputConnection) -> Box<dyn PortOut> {
        Box::new(Wire { out, last: None })
    }
}

impl PortOut for Wire {
    fn send(&mut self, bytes: &[u8]) -> Result<(), Gone> {
        self.last = Some(Instant::now());
        // Several messages in a row are sent one by one, because some systems accept only one at a time.
        for message in split_messages(bytes) {
            self.out.send(message).map_err(|_| Gone)?;
        }
        Ok(())
    }
}

impl Drop for Wire {
    /// Waits until the system has passed on the last message, which may be the one that opens a contact.
    fn drop(&mut self) {
        let left = self.last.map_or(Duration::ZERO, |last| PASSED_ON.saturating_sub(last.elapsed()));
        thread::sleep(left);
    }
}

fn no_midi(why: impl std::fmt::Display) -> String {
    format!("the system gives no MIDI here ({why})")
}

/// Whether a system port belongs to this program.
fn is_ours(name: &str) -> bool {
    name.split_once(':').is_some_and(|(client, _)| client == CLIENT)
}

impl Ports for SystemPorts {
    fn outputs(&mut self) -> Result<Vec<String>, String> {
        let midi = MidiOutput::new(CLIENT).map_err(no_midi)?;
        let ports = midi.ports();
        Ok(port_names(ports.iter().map(|p| midi.port_name(p).unwrap_or_default()), card_mark))
    }

    fn inputs(&mut self) -> Result<Vec<String>, String> {
        let midi = MidiInput::new(CLIENT).map_err(no_midi)?;
        let ports = midi.ports();
        // Our own outputs must not appear as inputs.
        let others = ports.iter().map(|p| midi.port_name(p).unwrap_or_default()).filter(|name| !is_ours(name));
        Ok(port_names(others, card_mark))
    }

    fn open(&mut self, name: &str) -> Result<Box<dyn PortOut>, String> {
        let midi = MidiOutput::new(CLIENT).map_err(no_midi)?;
        if let Some(own) = name.strip_prefix(OWN_PORT) {
            return own_port(midi, own).map(Wire::boxed);
        }
        let ports = midi.ports();
        let names = port_names(ports.iter().map(|p| midi.port_name(p).unwrap_or_default()), card_mark);
        let port = names.iter().position(|n| n == name).and_then(|at| ports.get(at));
        let port = port.ok_or_else(|| format!("there is no MIDI port \"{name}\" now"))?;
        let made = midi.connect(port, "out").map_err(|e| format!("MIDI port \"{name}\" cannot be opened ({e})"))?;
        Ok(Wire::boxed(made))
    }

    fn listen(&mut self, name: &str, mut heard: InputCallback) -> Result<PortInput, String> {
        let mut midi = MidiInput::new(CLIENT).map_err(no_midi)?;
        // Receive time code and clock too, which can be ignored as well.
        midi.ignore(Ignore::ActiveSense);
        let ports: Vec<_> =
            midi.ports().into_iter().filter(|p| !midi.port_name(p).is_ok_and(|name| is_ours(&name))).collect();
        let names = port_names(ports.iter().map(|p| midi.port_name(p).unwrap_or_default()), card_mark);
        let port = names.iter().position(|n| n == name).and_then(|at| ports.get(at));
        let port = port.ok_or_else(|| format!("there is no MIDI port \"{name}\" now"))?;
        let made = midi
            .connect(port, "in", move |_, bytes, ()| heard(bytes), ())
            .map_err(|e| format!("MIDI port \"{name}\" cannot be listened to ({e})"))?;
        Ok(PortInput(Box::new(made)))
    }
}

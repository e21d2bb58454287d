//! MIDI ports behind traits: the system's own, and none.

/// A port that is not there, or takes nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the port is gone")]
pub struct Gone;

/// A port that messages leave by.
pub trait Out: Send {
    /// Sends one message, or several in a row. Must not wait.
    ///
    /// # Errors
    /// [`Gone`].
    fn send(&mut self, bytes: &[u8]) -> Result<(), Gone>;
}

/// A port that is listened to; dropping it ends that.
pub struct Input(#[allow(dead_code)] pub Box<dyn std::any::Any>);

/// Takes what comes in: µs of the port's own clock, and the bytes of one message.
pub type Heard = Box<dyn FnMut(&[u8]) + Send>;

/// The machine's ports.
pub trait Ports: Send {
    /// Names of ports to send to.
    ///
    /// # Errors
    /// Why there are none to be had, in words.
    fn outputs(&mut self) -> Result<Vec<String>, String>;

    /// Names of ports to listen to.
    ///
    /// # Errors
    /// Why there are none to be had, in words.
    fn inputs(&mut self) -> Result<Vec<String>, String>;

    /// Opens a port to send to.
    ///
    /// # Errors
    /// Why not, in words.
    fn open(&mut self, name: &str) -> Result<Box<dyn Out>, String>;

    /// Listens to a port.
    ///
    /// # Errors
    /// Why not, in words.
    fn listen(&mut self, name: &str, heard: Heard) -> Result<Input, String>;
}

/// No ports at all.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoPorts;

const NONE: &str = "this build has no MIDI ports";

impl Ports for NoPorts {
    fn outputs(&mut self) -> Result<Vec<String>, String> {
        Err(NONE.to_owned())
    }

    fn inputs(&mut self) -> Result<Vec<String>, String> {
        Err(NONE.to_owned())
    }

    fn open(&mut self, _: &str) -> Result<Box<dyn Out>, String> {
        Err(NONE.to_owned())
    }

    fn listen(&mut self, _: &str, _: Heard) -> Result<Input, String> {
        Err(NONE.to_owned())
    }
}

#[cfg(not(feature = "device"))]
pub use NoPorts as SystemPorts;

#[cfg(feature = "device")]
pub use system::SystemPorts;

#[cfg(feature = "device")]
mod system {
    use super::{Gone, Heard, Input, Out, Ports};
    use midir::{Ignore, MidiInput, MidiOutput, MidiOutputConnection};

    /// The ports that the system knows.
    #[derive(Debug, Clone, Copy, Default)]
    pub struct SystemPorts;

    const CLIENT: &str = "Letfall";

    struct Wire(MidiOutputConnection);

    impl Out for Wire {
        fn send(&mut self, bytes: &[u8]) -> Result<(), Gone> {
            // A row of messages is sent one by one: some systems take no more at once.
            let mut rest = bytes;
            while !rest.is_empty() {
                let next = rest[1..].iter().position(|b| *b >= 0x80 && *b != 0xf7).map_or(rest.len(), |n| n + 1);
                self.0.send(&rest[..next]).map_err(|_| Gone)?;
                rest = &rest[next..];
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
            Ok(midi.ports().iter().filter_map(|p| midi.port_name(p).ok()).collect())
        }

        fn inputs(&mut self) -> Result<Vec<String>, String> {
            let midi = MidiInput::new(CLIENT).map_err(no_midi)?;
            Ok(midi.ports().iter().filter_map(|p| midi.port_name(p).ok()).collect())
        }

        fn open(&mut self, name: &str) -> Result<Box<dyn Out>, String> {
            let midi = MidiOutput::new(CLIENT).map_err(no_midi)?;
            let ports = midi.ports();
            let port = ports.iter().find(|p| midi.port_name(p).is_ok_and(|n| n == name));
            let port = port.ok_or_else(|| format!("there is no MIDI port \"{name}\" now"))?;
            let made = midi.connect(port, "out").map_err(|e| format!("MIDI port \"{name}\" cannot be opened ({e})"))?;
            Ok(Box::new(Wire(made)))
        }

        fn listen(&mut self, name: &str, mut heard: Heard) -> Result<Input, String> {
            let mut midi = MidiInput::new(CLIENT).map_err(no_midi)?;
            // Time code and clock are wanted.
            midi.ignore(Ignore::ActiveSense);
            let ports = midi.ports();
            let port = ports.iter().find(|p| midi.port_name(p).is_ok_and(|n| n == name));
            let port = port.ok_or_else(|| format!("there is no MIDI port \"{name}\" now"))?;
            let made = midi
                .connect(port, "in", move |_, bytes, ()| heard(bytes), ())
                .map_err(|e| format!("MIDI port \"{name}\" cannot be listened to ({e})"))?;
            Ok(Input(Box::new(made)))
        }
    }
}

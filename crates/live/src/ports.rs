//! MIDI ports behind traits: the system's own, and none.

/// A port that is not there, or takes nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the port is gone")]
pub struct Gone;

/// A port that messages leave by.
pub trait PortOut: Send {
    /// Sends one message, or several in a row. It may wait for the driver: each port has a thread of its own.
    ///
    /// # Errors
    /// [`Gone`].
    fn send(&mut self, bytes: &[u8]) -> Result<(), Gone>;
}

/// A port that is listened to; dropping it ends that.
pub struct PortInput(#[allow(dead_code)] pub Box<dyn std::any::Any>);

/// Takes what comes in: the bytes of one message.
pub type InputCallback = Box<dyn FnMut(&[u8]) + Send>;

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
    fn open(&mut self, name: &str) -> Result<Box<dyn PortOut>, String>;

    /// Listens to a port.
    ///
    /// # Errors
    /// Why not, in words.
    fn listen(&mut self, name: &str, heard: InputCallback) -> Result<PortInput, String>;
}

/// The interface that a port belongs to, by its name: what stands before the first colon, or before a number at the end. Ports of one
/// interface share its cable to the machine.
pub fn interface_of(name: &str) -> &str {
    let device = name.split_once(':').map_or(name, |(device, _)| device);
    device.trim_end_matches(|c: char| c.is_ascii_digit() || c == ' ')
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

    fn open(&mut self, _: &str) -> Result<Box<dyn PortOut>, String> {
        Err(NONE.to_owned())
    }

    fn listen(&mut self, _: &str, _: InputCallback) -> Result<PortInput, String> {
        Err(NONE.to_owned())
    }
}

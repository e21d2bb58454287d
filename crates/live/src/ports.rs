//! MIDI ports behind traits, so that a build can use the system's ports or none.

/// The port no longer exists, or accepts nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the port is gone")]
pub struct Gone;

/// An output port. What was sent before it is dropped still leaves.
pub trait PortOut: Send {
    /// Sends one message, or several in a row. It may block in the driver, because each port has its own thread.
    ///
    /// # Errors
    /// [`Gone`].
    fn send(&mut self, bytes: &[u8]) -> Result<(), Gone>;
}

/// An open input port. Drop it to stop listening.
pub struct PortInput(#[allow(dead_code)] pub Box<dyn std::any::Any>);

/// Called with the bytes of each incoming message.
pub type InputCallback = Box<dyn FnMut(&[u8]) + Send>;

/// The machine's ports.
pub trait Ports: Send {
    /// The names of the output ports.
    ///
    /// # Errors
    /// Why they cannot be listed, in words.
    fn outputs(&mut self) -> Result<Vec<String>, String>;

    /// The names of the input ports.
    ///
    /// # Errors
    /// Why they cannot be listed, in words.
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

/// The prefix of the names of virtual ports, which we create for other programs on this machine to listen to. The name that
/// those programs see comes after it.
pub const OWN_PORT: &str = "Port of our own: ";

/// Whether this system lets a program create virtual ports. Where it does not, only existing ports can be chosen.
#[cfg(feature = "device")]
pub const HAS_OWN_PORTS: bool = letfall_platform::HAS_OWN_PORTS;
/// Without devices there are none.
#[cfg(not(feature = "device"))]
pub const HAS_OWN_PORTS: bool = false;

/// Whether a name is that of a virtual port of ours. We cannot tell whether anything listens, so no release is sent to it.
pub fn is_own_port(name: &str) -> bool {
    HAS_OWN_PORTS && name.starts_with(OWN_PORT)
}

/// The part of a machine port's name that stays the same when it is plugged in again. It drops the numbers that the system
/// assigns each time, such as the " 20:0" of ALSA's sequencer, and keeps what the maker wrote.
pub fn port_identity(name: &str) -> &str {
    numbered(name).map_or(name, |(front, _)| front)
}

/// The name without the numbers at its end, and the number of the sequencer's client.
fn numbered(name: &str) -> Option<(&str, u32)> {
    let (front, back) = name.rsplit_once(' ')?;
    let (client, port) = back.split_once(':')?;
    let is_number = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    (is_number(client) && is_number(port)).then_some(())?;
    Some((front.trim_end(), client.parse().unwrap_or(u32::MAX)))
}

/// The part of a port's name that its maker wrote, without what tells it from others of its make.
pub fn port_make(name: &str) -> &str {
    name.rsplit_once(MARK).filter(|(_, mark)| mark.ends_with(MARK_END)).map_or(name, |(make, _)| make)
}

const MARK: &str = " [";
const MARK_END: char = ']';

/// The names of ports to choose from. Each is its identity, and what `mark` says of its sequencer client: its serial number or its
/// socket. So a device is not mistaken for another of its make. Where nothing tells two apart, they are numbered in the system's
/// order, which plugging them in again may change. So when only one of them is left, its name has no number, and it is not
/// mistaken for either.
pub fn port_names(names: impl Iterator<Item = String>, mark: impl Fn(u32) -> Option<String>) -> Vec<String> {
    let identities: Vec<String> = names
        .map(|name| match numbered(&name) {
            Some((identity, client)) => match mark(client) {
                Some(mark) => format!("{identity}{MARK}{mark}{MARK_END}"),
                None => identity.to_owned(),
            },
            None => name,
        })
        .collect();
    let number = |at: usize| {
        let alike = identities.iter().filter(|of| **of == identities[at]).count();
        let before = identities[..at].iter().filter(|of| **of == identities[at]).count();
        (alike > 1).then_some(before + 1)
    };
    (0..identities.len())
        .map(|at| match number(at) {
            Some(number) => format!("{} (number {number} of its kind)", identities[at]),
            None => identities[at].clone(),
        })
        .collect()
}

/// The interface that a port belongs to, guessed from its name: the part before the first colon, without a number at its end.
/// Ports of one interface share its cable to the machine.
pub fn interface_of(name: &str) -> &str {
    let name = port_make(name);
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_is_kept_by_what_its_maker_wrote() {
        assert_eq!(port_identity("USB MIDI:USB MIDI Port 1 20:0"), "USB MIDI:USB MIDI Port 1");
        assert_eq!(port_identity("USB MIDI:USB MIDI Port 1 128:10"), "USB MIDI:USB MIDI Port 1");
        for name in ["Box 1", "Box 10", "Box", "Box 2 20:a", "Box 20:", "", "system:midi_playback_1"] {
            assert_eq!(port_identity(name), name);
        }
    }

    #[test]
    fn two_of_a_kind_are_told_apart_and_one_alone_is_not_taken_for_either() {
        let names = |list: &[&str]| port_names(list.iter().map(|name| (*name).to_owned()), |_| None);
        let two = names(&["Box 20:0", "Desk 24:0", "Box 28:0"]);
        assert_eq!(two, ["Box (number 1 of its kind)", "Desk", "Box (number 2 of its kind)"]);
        assert_eq!(names(&["Box 28:0", "Desk 24:0"]), ["Box", "Desk"]);
    }

    /// What is known of the device is part of the name even while it is alone, so that another one in its place has another name.
    #[test]
    fn a_device_is_kept_by_its_serial_number_or_its_socket() {
        let mark = |client| match client {
            20 => Some("serial 1".to_owned()),
            24 => Some("USB socket 1-2".to_owned()),
            32 | 36 => Some("serial 0001".to_owned()),
            _ => None,
        };
        let names = |list: &[&str]| port_names(list.iter().map(|name| (*name).to_owned()), mark);
        let two = ["Box:Box Port 1 [serial 1]", "Box:Box Port 1 [USB socket 1-2]", "Box:Box Port 1"];
        assert_eq!(names(&["Box:Box Port 1 20:0", "Box:Box Port 1 24:0", "Box:Box Port 1 28:0"]), two);
        assert_eq!(names(&["Box:Box Port 1 24:0"]), two[1..2]);
        // Cheap makers give every device the same number.
        let alike = ["Box [serial 0001] (number 1 of its kind)", "Box [serial 0001] (number 2 of its kind)"];
        assert_eq!(names(&["Box 32:0", "Box 36:0"]), alike);
        assert_eq!(two.map(port_make), ["Box:Box Port 1"; 3]);
        assert_eq!(["Box [a] b", "Box", "[x]"].map(port_make), ["Box [a] b", "Box", "[x]"]);
    }

    #[test]
    fn ports_of_one_interface_belong_together() {
        assert_eq!(interface_of("USB MIDI:USB MIDI Port 1"), interface_of("USB MIDI:USB MIDI Port 2"));
        assert_eq!(interface_of("Box 1"), interface_of("Box 10"));
        assert_ne!(interface_of("Box 1"), interface_of("Desk 1"));
    }
}

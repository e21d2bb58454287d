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

/// What the names of ports begin with that we open ourselves, for programs on this machine to listen to; the name that others see
/// follows.
pub const OWN_PORT: &str = "Port of our own: ";

/// Whether this system lets programs have ports of their own: where it does not, only ports that are there can be chosen.
pub const HAS_OWN_PORTS: bool = cfg!(all(unix, feature = "device"));

/// Whether a name is that of a port of our own. Nobody can tell whether anything listens there, so no release leaves by it.
pub fn is_own_port(name: &str) -> bool {
    HAS_OWN_PORTS && name.starts_with(OWN_PORT)
}

/// The name by which a machine port is kept: without the numbers that the system gives it anew at every plugging in, such as the
/// " 20:0" of ALSA's sequencer. Whatever the maker wrote stays.
pub fn port_identity(name: &str) -> &str {
    let numbers = |text: &str| text.split_once(':').is_some_and(|(a, b)| is_number(a) && is_number(b));
    match name.rsplit_once(' ') {
        Some((front, back)) if numbers(back) => front.trim_end(),
        _ => name,
    }
}

fn is_number(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit())
}

/// Names of ports to choose from: each by its identity; those that are alike are numbered in the system's order. Which of two
/// identical devices is which, only a person can say, and after a replug the numbers may be the other way round: so a port that is
/// alone again has another name than the numbered one, and is not taken for it.
pub fn port_names(names: impl Iterator<Item = String>) -> Vec<String> {
    let names: Vec<String> = names.collect();
    let identities: Vec<&str> = names.iter().map(|name| port_identity(name)).collect();
    let number = |at: usize| {
        let alike = identities.iter().filter(|of| **of == identities[at]).count();
        let before = identities[..at].iter().filter(|of| **of == identities[at]).count();
        (alike > 1).then_some(before + 1)
    };
    (0..names.len())
        .map(|at| match number(at) {
            Some(number) => format!("{} (number {number} of its kind)", identities[at]),
            None => identities[at].to_owned(),
        })
        .collect()
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
        let names = |list: &[&str]| port_names(list.iter().map(|name| (*name).to_owned()));
        let two = names(&["Box 20:0", "Desk 24:0", "Box 28:0"]);
        assert_eq!(two, ["Box (number 1 of its kind)", "Desk", "Box (number 2 of its kind)"]);
        assert_eq!(names(&["Box 28:0", "Desk 24:0"]), ["Box", "Desk"]);
    }

    #[test]
    fn ports_of_one_interface_belong_together() {
        assert_eq!(interface_of("USB MIDI:USB MIDI Port 1"), interface_of("USB MIDI:USB MIDI Port 2"));
        assert_eq!(interface_of("Box 1"), interface_of("Box 10"));
        assert_ne!(interface_of("Box 1"), interface_of("Desk 1"));
    }
}

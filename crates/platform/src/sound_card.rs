//! What tells two sound cards of one make apart: the serial number that the maker gave it, or the socket it is plugged into.

use std::fs;
use std::path::Path;

/// Linux: the sequencer numbers the clients of a card from 16 on, four for each of the first 28 cards (kernel source,
/// sound/core/seq/seq_clientmgr.c: SNDRV_SEQ_GLOBAL_CLIENTS, SNDRV_SEQ_CLIENTS_PER_CARD).
const FIRST_CLIENT: u32 = 16;
const CLIENTS_PER_CARD: u32 = 4;
const FIRST_OTHER: u32 = 128;

/// Where Linux describes its sound cards.
const CARDS: &str = "/sys/class/sound";

/// What tells the card of a sequencer client from others of its make, such as `serial 00A1` or `USB socket 1-2.3`. `None` if the
/// client belongs to no card, or the system does not say.
pub fn card_mark(client: u32) -> Option<String> {
    mark(Path::new(CARDS), client)
}

fn mark(cards: &Path, client: u32) -> Option<String> {
    if !(FIRST_CLIENT..FIRST_OTHER).contains(&client) {
        return None;
    }
    let card = (client - FIRST_CLIENT) / CLIENTS_PER_CARD;
    // For a USB card this is its interface, such as 1-2.3:1.0, inside the folder of the device, 1-2.3.
    let interface = fs::canonicalize(cards.join(format!("card{card}")).join("device")).ok()?;
    let name = interface.file_name()?.to_string_lossy().into_owned();
    let Some((socket, _)) = name.split_once(':').filter(|(socket, _)| socket.contains('-')) else {
        return Some(format!("slot {name}"));
    };
    let serial = fs::read_to_string(interface.parent()?.join("serial")).unwrap_or_default();
    // Many cheap devices say nothing or zeros.
    let says = serial.trim().chars().any(|c| c.is_alphanumeric() && c != '0');
    Some(if says { format!("serial {}", serial.trim()) } else { format!("USB socket {socket}") })
}

#[cfg(all(test, unix))]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    /// A folder like the one that Linux has, with a USB card and a card in a slot.
    fn cards(serial: Option<&str>) -> tempfile::TempDir {
        let top = tempfile::tempdir().unwrap();
        let device = top.path().join("devices/usb1/1-2/1-2.3");
        let slot = top.path().join("devices/0000:00:1b.0");
        fs::create_dir_all(device.join("1-2.3:1.0")).unwrap();
        fs::create_dir_all(&slot).unwrap();
        if let Some(serial) = serial {
            fs::write(device.join("serial"), serial).unwrap();
        }
        for (card, place) in [("card0", slot), ("card1", device.join("1-2.3:1.0"))] {
            fs::create_dir_all(top.path().join(card)).unwrap();
            std::os::unix::fs::symlink(place, top.path().join(card).join("device")).unwrap();
        }
        top
    }

    #[test]
    fn a_card_is_known_by_its_serial_number_or_by_its_socket() {
        let mark_of = |serial: Option<&str>, client: u32| mark(cards(serial).path(), client);
        assert_eq!(mark_of(Some("00A1\n"), 20).as_deref(), Some("serial 00A1"));
        assert_eq!(mark_of(Some("00A1\n"), 23).as_deref(), Some("serial 00A1"));
        for nothing in [None, Some(""), Some("\n"), Some("00000000\n")] {
            assert_eq!(mark_of(nothing, 20).as_deref(), Some("USB socket 1-2.3"), "{nothing:?}");
        }
        assert_eq!(mark_of(None, 16).as_deref(), Some("slot 0000:00:1b.0"));
        // The system's own clients, a card that is not there, and programs.
        for client in [0, 15, 24, 127, 128, 300] {
            assert_eq!(mark_of(Some("1"), client), None, "{client}");
        }
    }
}

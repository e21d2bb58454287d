//! What arrived at a machine port: pacing, what ended, what it means to the devices there.

use super::Witness;
use crate::happening::Happening;
use crate::scene::{BYTE_US, End, HarmlessCue, MACHINE};

impl Witness {
    /// Bytes were handed over to a machine port.
    pub fn sent(&mut self, at: i64, machine: usize, bytes: &[u8]) {
        self.walk(at);
        self.note(at, Happening::Sent { machine, bytes: bytes.to_vec() });
        let length = i64::try_from(bytes.len()).unwrap_or(0) * BYTE_US;
        if at < self.last_on_wire[machine].saturating_sub(1 + self.lateness) {
            self.object(4, at, &format!("{} was given a message while another was on its wire", MACHINE[machine]));
        }
        self.last_on_wire[machine] = at + length;
        self.overdue(at - 1);
        self.after_a_stop(at, machine, bytes);
        let ends = self.pay(machine, bytes);
        let messages = self.streams[machine].take(bytes);
        for message in &messages {
            match message[..] {
                [status @ 0x90..=0x9f, key, 1..=127] => self.sounding.push((machine, status & 15, key, i64::MAX)),
                [status @ 0x80..=0x9f, key, _] => {
                    self.sounding.retain(|note| (note.0, note.1, note.2) != (machine, status & 15, key));
                }
                [status @ 0xb0..=0xbf, 120 | 123, _] => {
                    self.sounding.retain(|note| (note.0, note.1) != (machine, status & 15));
                }
                _ => {}
            }
            if let [status, number] = message[..]
                && status & 0xf0 == 0xc0
            {
                self.may_leave(at, machine, message);
                self.last_program.insert((machine, status & 15), (at, number));
                let pressed = |cue: &HarmlessCue| cue.by_hand && cue.bytes == *message && self.map[cue.port] == machine;
                if self.scene.harmless.iter().any(pressed) {
                    self.object(8, at, &format!("program {number}, which an operator presses for, was sent"));
                }
            }
        }
        let sync_tried = (0..self.map.len()).all(|port| self.map[port] != machine || self.scene.sync_tried[port]);
        let mut fired = Vec::new();
        for release in 0..self.scene.releases.len() {
            if self.hangs_on[release] != machine {
                continue;
            }
            let facts = self.scene.releases[release].clone();
            let own_end = matches!(&facts.end, End::Bytes(end) if end == bytes);
            if ends.contains(&release) || own_end && self.faults[machine] {
                // The message that ends the release's own contact may leave.
                continue;
            }
            if messages.iter().any(|message| self.devices[release].fires(&facts, sync_tried, message)) {
                fired.push(release);
            }
        }
        for release in fired {
            self.fire(at, machine, release, bytes);
        }
    }

    /// The contacts that these bytes open again.
    fn pay(&mut self, machine: usize, bytes: &[u8]) -> Vec<usize> {
        let paid: Vec<usize> = self
            .open
            .iter()
            .filter(|contact| contact.machine == machine && contact.end == bytes)
            .map(|contact| contact.release)
            .collect();
        self.open.retain(|contact| !(contact.machine == machine && contact.end == bytes));
        paid
    }
}

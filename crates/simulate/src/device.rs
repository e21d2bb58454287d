//! How a release's device reacts to the bytes that arrive. It reads them as the standards say, with running status. Where a box
//! or desk is free to choose, it assumes the worst. It shares no code with the program under test.

use crate::scene::{ReleaseFacts, Trigger};

/// A stream of bytes cut into messages, with running status (MIDI 1.0).
#[derive(Debug, Clone, Default)]
pub struct Stream {
    status: u8,
    data: Vec<u8>,
    exclusive: Option<Vec<u8>>,
}

impl Stream {
    /// Takes bytes. Returns the messages that they complete.
    pub fn take(&mut self, bytes: &[u8]) -> Vec<Vec<u8>> {
        let mut whole = Vec::new();
        for byte in bytes {
            match *byte {
                0xf8..=0xff => whole.push(vec![*byte]),
                0xf7 => {
                    if let Some(mut exclusive) = self.exclusive.take() {
                        exclusive.push(0xf7);
                        whole.push(exclusive);
                    }
                }
                0xf0 => {
                    self.exclusive = Some(vec![0xf0]);
                    self.status = 0;
                }
                0x80..=0xf6 => {
                    self.exclusive = None;
                    self.status = *byte;
                    self.data.clear();
                    if *byte == 0xf6 {
                        whole.push(vec![*byte]);
                    }
                }
                data => {
                    if let Some(exclusive) = &mut self.exclusive {
                        exclusive.push(data);
                        continue;
                    }
                    if self.status == 0 {
                        continue;
                    }
                    self.data.push(data);
                    let needed = match self.status {
                        0xc0..=0xdf | 0xf1 | 0xf3 => 1,
                        _ => 2,
                    };
                    if self.data.len() == needed {
                        whole.push([&[self.status][..], &self.data].concat());
                        self.data.clear();
                        if self.status >= 0xf0 {
                            self.status = 0;
                        }
                    }
                }
            }
        }
        whole
    }
}

/// The device of one release.
#[derive(Debug, Clone, Default)]
pub struct Device {
    /// Whether it was told to respond on every channel (omni on).
    omni: bool,
    /// The bank that was last selected on each channel: its high and low bytes.
    banks: [[Option<u8>; 2]; 16],
}

impl Device {
    /// Whether a message may fire the device.
    pub fn fires(&mut self, facts: &ReleaseFacts, sync_tried: bool, message: &[u8]) -> bool {
        if let [0xf8 | 0xfa | 0xfb | 0xfc] | [0xf1..=0xf3, ..] = message {
            return !sync_tried;
        }
        if let [0xf0, 0x7f, _, 1, 1, ..] = message {
            return !sync_tried;
        }
        let any = !facts.channel_tried || self.omni;
        match &facts.trigger {
            Trigger::Note { channel, key } => match *message {
                [status, data, value] if status & 0xf0 == 0x90 => {
                    (any || status & 15 == *channel) && data == *key && value > 0
                }
                _ => self.mode(facts, *channel, any, message),
            },
            Trigger::Control { channel, controller } => match *message {
                [status, data, _] if status & 0xf0 == 0xb0 && data < 120 => {
                    let pair = |a: u8, b: u8| a == b || a < 64 && b < 64 && a % 32 == b % 32;
                    (any || status & 15 == *channel) && pair(data, *controller)
                }
                _ => self.mode(facts, *channel, any, message),
            },
            Trigger::Program { channel, program, .. } => match *message {
                // The device may or may not use banks. One without banks fires whenever one with banks may, so check only that
                // case.
                [status, data] if status & 0xf0 == 0xc0 => (any || status & 15 == *channel) && data == *program,
                [status, part @ (0 | 32), value] if status & 0xf0 == 0xb0 => {
                    self.banks[usize::from(status & 15)][usize::from(part / 32)] = Some(value);
                    false
                }
                _ => self.mode(facts, *channel, any, message),
            },
            Trigger::Cue { device, format, cue } => desk(facts, (*device, *format), cue, message),
            Trigger::Exclusive { bytes } => message == &bytes[..],
        }
    }

    /// Channel mode messages. They set omni mode. Where power holds the fabric, those that switch everything off fire the
    /// release.
    fn mode(&mut self, facts: &ReleaseFacts, channel: u8, any: bool, message: &[u8]) -> bool {
        let [status, controller @ 120..=127, _] = *message else { return false };
        if status & 0xf0 != 0xb0 || !(any || status & 15 == channel) {
            return false;
        }
        self.omni |= controller == 125;
        facts.held_by_power && matches!(controller, 120 | 121 | 123..=127)
    }
}

fn number(text: &str) -> Vec<u32> {
    let mut parts: Vec<u32> = text.split('.').map(|part| part.parse().unwrap_or(0)).collect();
    while parts.len() > 1 && parts.last() == Some(&0) {
        parts.pop();
    }
    parts
}

/// A desk that listens to show control (MSC 1.1.1).
fn desk(facts: &ReleaseFacts, (device, format): (u8, u8), cue: &str, message: &[u8]) -> bool {
    let [0xf0, 0x7f, to, 2, kind, code, data @ .., 0xf7] = message else { return false };
    let mine = *to == device || *to >= 0x70;
    let my_kind = *kind == format || *kind == 0x7f || *kind >> 4 == format >> 4;
    if !(mine && my_kind) {
        return false;
    }
    let data = if *code == 4 { data.get(5..).unwrap_or_default() } else { data };
    let named = String::from_utf8_lossy(data.split(|byte| *byte == 0).next().unwrap_or_default()).into_owned();
    let meant = named.is_empty() || number(&named) == number(cue);
    match code {
        1 | 3 | 4 | 5 => meant,
        // Macros, controls, sequences and clocks: what they do depends on how the desk is programmed.
        6 | 7 | 9 | 0x10..=0x1e => true,
        2 | 11 => facts.held_by_power && meant,
        8 | 10 => facts.held_by_power,
        _ => false,
    }
}

//! Messages of a scene: as the text of a show file and as bytes, and those that collide with a release's. Nothing here uses the program's own
//! MIDI code.

use crate::random::Random;
use std::fmt::Write as _;

/// What fires a release's device.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Trigger {
    /// A key of a channel, 0 to 15.
    Note { channel: u8, key: u8 },
    /// A controller.
    Control { channel: u8, controller: u8 },
    /// A program, and the bank that is selected before it.
    Program { channel: u8, program: u8, bank: Option<u16> },
    /// A show-control cue.
    Cue { device: u8, format: u8, cue: String },
    /// A manufacturer's system-exclusive message.
    Exclusive { bytes: Vec<u8> },
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _fits = write!(text, "{byte:02X} ");
        text
    })
}

/// Bytes and the JSON of the message that makes them.
pub struct Message {
    pub json: String,
    pub row: Vec<u8>,
    pub off: Option<Vec<u8>>,
}

pub fn note(channel: u8, key: u8, velocity: u8, length: i64) -> Message {
    Message {
        json: format!(r#"{{"note":{{"key":{key},"velocity":{velocity},"length_us":{length}}}}}"#),
        row: vec![0x90 | channel, key, velocity],
        off: Some(vec![0x80 | channel, key, 64]),
    }
}

pub fn control(channel: u8, controller: u8, value: u8) -> Message {
    Message {
        json: format!(r#"{{"control":{{"controller":{controller},"value":{value}}}}}"#),
        row: vec![0xb0 | channel, controller, value],
        off: None,
    }
}

pub fn program(channel: u8, program: u8, bank: Option<u16>) -> Message {
    let mut row = Vec::new();
    if let Some(bank) = bank {
        let [high, low] = [bank >> 7, bank & 127].map(|part| u8::try_from(part).unwrap_or(0));
        row.extend([0xb0 | channel, 0, high, 0xb0 | channel, 32, low]);
    }
    row.extend([0xc0 | channel, program]);
    let bank = bank.map_or_else(String::new, |bank| format!(r#","bank":{bank}"#));
    Message { json: format!(r#"{{"program":{{"number":{program}{bank}}}}}"#), row, off: None }
}

pub fn exclusive(bytes: &[u8]) -> Message {
    Message { json: format!(r#"{{"sysex":"{}"}}"#, hex(bytes).trim()), row: bytes.to_vec(), off: None }
}

pub fn cue(device: u8, format: u8, code: u8, data: &[u8]) -> Message {
    exclusive(&[&[0xf0, 0x7f, device, 2, format, code], data, &[0xf7]].concat())
}

/// A message that a device may mistake for a release's, and the channel it is sent on.
pub fn collision(random: &mut Random, with: &Trigger) -> (u8, Message) {
    let other = |random: &mut Random, channel: u8| {
        if random.percent(70) { channel } else { u8::try_from(random.below(8)).unwrap_or(0) }
    };
    match with {
        Trigger::Note { channel, key } => {
            let channel = other(random, *channel);
            let near = if random.percent(70) { *key } else { key ^ 1 };
            let message = match random.below(6) {
                0..=2 => note(
                    channel,
                    near,
                    u8::try_from(random.range(1, 128)).unwrap_or(1),
                    random.range(20_000, 3_000_000),
                ),
                3 => control(channel, u8::try_from(random.range(110, 120)).unwrap_or(0), 0),
                4 => exclusive(&[0xf0, 0x7d, *key, 0xf7]),
                _ => program(channel, *key, None),
            };
            (channel, message)
        }
        Trigger::Control { channel, controller } => {
            let channel = other(random, *channel);
            let number = match random.below(4) {
                0 | 1 => *controller,
                2 => controller ^ 32,
                _ => u8::try_from(random.below(100)).unwrap_or(0),
            };
            (channel, control(channel, number.min(119), u8::try_from(random.below(128)).unwrap_or(0)))
        }
        Trigger::Program { channel, program: number, bank } => {
            let channel = other(random, *channel);
            let message = match random.below(5) {
                0 => program(channel, *number, None),
                1 => program(channel, *number, Some(bank.unwrap_or(1))),
                2 => program(channel, number ^ 1, Some(bank.unwrap_or(3))),
                3 => control(channel, *random.pick(&[0, 32]), u8::try_from(random.below(4)).unwrap_or(0)),
                _ => program(channel, number ^ 1, None),
            };
            (channel, message)
        }
        Trigger::Cue { device, format, cue: name } => {
            let device = *random.pick(&[*device, *device, 0x7f, 0x70, device ^ 1]);
            let format = *random.pick(&[*format, *format, 0x7f, format ^ 1, format ^ 0x10]);
            let names: [String; 5] =
                [name.clone(), format!("0{name}"), format!("{name}.0"), String::new(), format!("{name}7")];
            let data = random.pick(&names).clone().into_bytes();
            let message = match random.below(8) {
                0..=2 => cue(device, format, 1, &data),
                3 => cue(device, format, *random.pick(&[2, 3, 11]), &data),
                4 if !data.is_empty() => cue(device, format, 5, &data),
                5 => cue(device, format, 7, &[3]),
                6 => cue(device, format, *random.pick(&[8, 9, 10]), &[]),
                _ => cue(device, format, 4, &[&[0x60, 0, 1, 0, 0][..], &data].concat()),
            };
            (0, message)
        }
        Trigger::Exclusive { bytes } => {
            let mut alike = bytes.clone();
            let last = alike.len() - 2;
            alike[last] ^= u8::from(random.percent(50));
            (0, exclusive(&alike))
        }
    }
}

pub fn trigger(random: &mut Random) -> Trigger {
    let channel = u8::try_from(random.below(4)).unwrap_or(0);
    let small = |random: &mut Random| u8::try_from(random.range(60, 66)).unwrap_or(60);
    match random.below(10) {
        0..=3 => Trigger::Note { channel, key: small(random) },
        4 => Trigger::Control { channel, controller: *random.pick(&[20, 52, 6, 80]) },
        5 | 6 => Trigger::Program { channel, program: small(random), bank: random.percent(50).then_some(130) },
        7 | 8 => {
            Trigger::Cue { device: 1, format: *random.pick(&[1, 0x21]), cue: random.pick(&["5", "12"]).to_string() }
        }
        _ => Trigger::Exclusive { bytes: vec![0xf0, 0, 0x21, 9, 1, 0xf7] },
    }
}

pub fn message_of(trigger: &Trigger) -> Message {
    match trigger {
        Trigger::Note { channel, key } => note(*channel, *key, 127, 100_000),
        Trigger::Control { channel, controller } => control(*channel, *controller, 127),
        Trigger::Program { channel, program: number, bank } => program(*channel, *number, *bank),
        Trigger::Cue { device, format, cue: name } => cue(*device, *format, 1, name.as_bytes()),
        Trigger::Exclusive { bytes } => exclusive(bytes),
    }
}

pub fn channel_of(trigger: &Trigger) -> u8 {
    match trigger {
        Trigger::Note { channel, .. } | Trigger::Control { channel, .. } | Trigger::Program { channel, .. } => *channel,
        Trigger::Cue { .. } | Trigger::Exclusive { .. } => 15,
    }
}

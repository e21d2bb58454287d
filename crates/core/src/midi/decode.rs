//! Decodes incoming messages, and splits a run of bytes into single messages.

/// An incoming message, if Letfall has a use for it. Anything else is [`MidiInput::Other`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MidiInput {
    /// A note on. A note on with velocity 0 is a note off and does not count (MIDI 1.0).
    NoteOn {
        /// Its key, 0 to 127.
        key: u8,
    },
    /// A controller was set.
    Control {
        /// Which, 0 to 127.
        controller: u8,
        /// To what, 0 to 127.
        value: u8,
    },
    /// A program was chosen.
    Program {
        /// Which, 0 to 127.
        number: u8,
    },
    /// A quarter frame of MIDI time code: one of the eight pieces, and its four bits.
    QuarterFrame {
        /// 0 to 7.
        piece: u8,
        /// 0 to 15.
        nibble: u8,
    },
    /// A full frame of MIDI time code.
    FullFrame {
        /// Hours (0 to 23, without the rate's bits), minutes, seconds, frames.
        fields: [u8; 4],
    },
    /// The song position pointer, in sixteenth notes from the song's beginning.
    SongPosition {
        /// 0 to 16 383.
        sixteenths: u16,
    },
    /// A timing clock, 24 of them to a quarter note.
    TimingClock,
    /// Start from the beginning of the song.
    Start,
    /// Continue from the song position.
    Continue,
    /// Stop.
    Stop,
    /// Anything else.
    Other,
}

impl MidiInput {
    /// Reads one whole message (MIDI 1.0; MIDI time code, RP-004/008).
    pub fn read(bytes: &[u8]) -> MidiInput {
        match *bytes {
            [0xf1, data] => MidiInput::QuarterFrame { piece: data >> 4 & 7, nibble: data & 15 },
            [0xf0, 0x7f, _, 0x01, 0x01, h, m, s, f, 0xf7] => MidiInput::FullFrame { fields: [h & 31, m, s, f] },
            [0xf2, low, high] => {
                MidiInput::SongPosition { sixteenths: u16::from(low & 127) | u16::from(high & 127) << 7 }
            }
            [0xf8] => MidiInput::TimingClock,
            [0xfa] => MidiInput::Start,
            [0xfb] => MidiInput::Continue,
            [0xfc] => MidiInput::Stop,
            [status, key, velocity] if status & 0xf0 == 0x90 && velocity > 0 => MidiInput::NoteOn { key },
            [status, controller, value] if status & 0xf0 == 0xb0 => MidiInput::Control { controller, value },
            [status, number] if status & 0xf0 == 0xc0 => MidiInput::Program { number },
            _ => MidiInput::Other,
        }
    }
}

/// Whether this is a channel message: a note, controller, program change and the like.
pub fn is_channel_message(bytes: &[u8]) -> bool {
    bytes.first().is_some_and(|status| (0x80..0xf0).contains(status))
}

/// Whether these bytes are exactly one message with its own status byte: nothing before it, nothing missing, nothing after it
/// (MIDI 1.0, table of status bytes).
pub fn is_one_message(bytes: &[u8]) -> bool {
    let Some((status, data)) = bytes.split_first() else { return false };
    let length = match status {
        0x80..=0xbf | 0xe0..=0xef | 0xf2 => 2,
        0xc0..=0xdf | 0xf1 | 0xf3 => 1,
        0xf0 => {
            return matches!(data, [inside @ .., 0xf7] if !inside.is_empty() && inside.iter().all(|byte| *byte < 0x80));
        }
        0xf6 | 0xf8 | 0xfa..=0xfc | 0xfe | 0xff => 0,
        _ => return false,
    };
    data.len() == length && data.iter().all(|byte| *byte < 0x80)
}

/// Splits a run of messages, each with its own status byte as [`super::encode()`] makes them.
pub fn split_messages(bytes: &[u8]) -> impl Iterator<Item = &[u8]> {
    let mut rest = bytes;
    std::iter::from_fn(move || {
        let first = rest.get(1..)?;
        // A message ends where the next status byte begins; F7 ends a system-exclusive message and belongs to it.
        let length = first.iter().position(|b| *b >= 0x80 && *b != 0xf7).map_or(rest.len(), |at| at + 1);
        let (message, after) = rest.split_at(length);
        rest = after;
        Some(message)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_are_told_apart() {
        assert_eq!(MidiInput::read(&[0x93, 60, 1]), MidiInput::NoteOn { key: 60 });
        assert_eq!(MidiInput::read(&[0x93, 60, 0]), MidiInput::Other, "velocity 0 is a note off (MIDI 1.0)");
        assert_eq!(MidiInput::read(&[0xb1, 7, 100]), MidiInput::Control { controller: 7, value: 100 });
        assert_eq!(MidiInput::read(&[0xc0, 5]), MidiInput::Program { number: 5 });
        // The MIDI time code document's example: frames of 01:37:52:16, low bits first (check-values 5).
        assert_eq!(MidiInput::read(&[0xf1, 0x11]), MidiInput::QuarterFrame { piece: 1, nibble: 1 });
        // Hours carry the rate in bits 5 and 6.
        let full = MidiInput::read(&[0xf0, 0x7f, 0x7f, 1, 1, 0x2a, 1, 2, 3, 0xf7]);
        assert_eq!(full, MidiInput::FullFrame { fields: [10, 1, 2, 3] });
        assert_eq!(MidiInput::read(&[0xf2, 0x68, 0x07]), MidiInput::SongPosition { sixteenths: 1000 });
        assert_eq!(MidiInput::read(&[]), MidiInput::Other);
    }

    #[test]
    fn rows_are_cut_at_status_bytes() {
        let split = |bytes: &[u8]| split_messages(bytes).map(<[u8]>::to_vec).collect::<Vec<_>>();
        assert_eq!(split(&[0xb0, 0, 1, 0xb0, 32, 2, 0xc0, 5]), [vec![0xb0, 0, 1], vec![0xb0, 32, 2], vec![0xc0, 5]]);
        assert_eq!(split(&[0xf0, 0x43, 0x12, 0xf7]), [vec![0xf0, 0x43, 0x12, 0xf7]]);
        assert_eq!(split(&[0xf8]), [vec![0xf8]]);
        assert!(split(&[]).is_empty());
    }
}

//! Messages as people choose them. Channel and device number belong to the receiver, so that a preset can be moved to another
//! receiver without retyping. [`crate::midi`] turns them into bytes.

use crate::text_form::{number_form, text_form};
use crate::time::{FrameRate, SongSpan};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// A MIDI channel, 1 to 16 as people count them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Channel(u8);

/// A 7-bit MIDI data value, 0 to 127.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Data7(u8);

/// A 14-bit MIDI data value, 0 to 16383.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Data14(u16);

impl Channel {
    /// Channel `number`, if it is 1 to 16.
    pub const fn new(number: u8) -> Option<Channel> {
        if matches!(number, 1..=16) { Some(Channel(number)) } else { None }
    }
    /// As people count: 1 to 16.
    pub const fn get(self) -> u8 {
        self.0
    }
    /// As bytes carry it: 0 to 15.
    pub const fn nibble(self) -> u8 {
        self.0 - 1
    }
}

impl Data7 {
    /// `value`, if it is 0 to 127.
    pub const fn new(value: u8) -> Option<Data7> {
        if value < 128 { Some(Data7(value)) } else { None }
    }
    /// The value, 0 to 127.
    pub const fn get(self) -> u8 {
        self.0
    }
}

impl Data14 {
    /// `value`, if it is 0 to 16383.
    pub const fn new(value: u16) -> Option<Data14> {
        if value < 0x4000 { Some(Data14(value)) } else { None }
    }
    /// The value, 0 to 16383.
    pub const fn get(self) -> u16 {
        self.0
    }
    /// Low and high 7 bits, in that order (MSC 1.1.1 SET: LSB first).
    #[allow(clippy::cast_possible_truncation)] // both are below 80 hex
    pub const fn bytes(self) -> [u8; 2] {
        [(self.0 & 0x7f) as u8, (self.0 >> 7) as u8]
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // the form checks the range first
const fn byte(n: i64) -> u8 {
    n as u8
}

number_form!(Channel, "Channel", "a MIDI channel", 1, 16, |n| Channel(byte(n)), |c| i64::from(c.0));
number_form!(Data7, "Data7", "a MIDI data value", 0, 127, |n| Data7(byte(n)), |d| i64::from(d.0));
number_form!(
    Data14,
    "Data14",
    "a 14-bit MIDI data value",
    0,
    16_383,
    |n| Data14(u16::from(byte(n >> 8)) << 8 | u16::from(byte(n))),
    |d| i64::from(d.0)
);

/// What is sent to a receiver.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Message {
    /// Note on, and note off after `length_us`.
    Note {
        /// Note number; 60 is middle C.
        key: Data7,
        /// How hard, 1 to 127.
        velocity: Data7,
        /// Microseconds until the note off.
        #[serde(rename = "length_us", default = "note_length")]
        length: SongSpan,
    },
    /// Program change, after a bank select if a bank is given.
    Program {
        /// Program number as the message carries it, 0 to 127.
        number: Data7,
        /// Bank number, 0 to 16383 (controllers 0 and 32).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        bank: Option<Data14>,
    },
    /// Control change.
    Control {
        /// Controller number, 0 to 119 (120 and up are mode messages).
        controller: Data7,
        /// Its value.
        value: Data7,
    },
    /// MIDI Show Control 1.1.1 (RP-002/014).
    ShowControl(ShowCommand),
    /// System exclusive bytes, from F0 to F7.
    Sysex(HexBytes),
}

const fn note_length() -> SongSpan {
    SongSpan::from_millis(100)
}

/// A show-control command of the standard's open-loop sets. Two-phase commit is not offered, because it needs answers from the
/// device, and a file or a one-way cable cannot carry any.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum ShowCommand {
    /// GO (01).
    Go(CuePath),
    /// STOP (02).
    Stop(CuePath),
    /// RESUME (03).
    Resume(CuePath),
    /// TIMED_GO (04).
    TimedGo {
        /// Fade time in microseconds, under 24 h.
        #[serde(rename = "time_us")]
        time: SongSpan,
        /// Frame rate in which the time is written.
        rate: FrameRate,
        /// Which cue.
        #[serde(default)]
        of: CuePath,
    },
    /// LOAD (05); needs a cue.
    Load(CuePath),
    /// SET (06).
    Set {
        /// Control number.
        control: Data14,
        /// Its value.
        value: Data14,
    },
    /// FIRE (07).
    Fire {
        /// Macro number.
        number: Data7,
    },
    /// ALL_OFF (08).
    AllOff {},
    /// RESTORE (09).
    Restore {},
    /// RESET (0A).
    Reset {},
    /// GO_OFF (0B).
    GoOff(CuePath),
}

/// Cue number, and list and path if the device has them. A list needs a cue and a path needs a list (MSC 1.1.1, 3.1).
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CuePath {
    /// Cue number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cue: Option<CueNumber>,
    /// List number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub list: Option<CueNumber>,
    /// Path number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub path: Option<CueNumber>,
}

/// A show-control number: digits and single dots, such as 235.6.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct CueNumber(String);

impl CueNumber {
    /// Its ASCII text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for CueNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// A message part that was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadMessage {
    /// Not a show-control number.
    #[error("\"{0}\" is not a show-control number; use digits and single dots, at most 32, such as 235.6")]
    Number(String),
    /// Not hexadecimal bytes.
    #[error("\"{0}\" is not a row of hexadecimal bytes; write pairs such as F0 7D 01 F7")]
    Hex(String),
    /// Bytes that are not a valid system-exclusive message.
    #[error("these bytes are no system-exclusive message: {0}")]
    Sysex(&'static str),
}

impl FromStr for CueNumber {
    type Err = BadMessage;

    fn from_str(text: &str) -> Result<CueNumber, BadMessage> {
        let fits = (1..=32).contains(&text.len())
            && text.bytes().all(|b| b.is_ascii_digit() || b == b'.')
            && text.split('.').all(|part| !part.is_empty());
        if fits { Ok(CueNumber(text.to_owned())) } else { Err(BadMessage::Number(text.chars().take(40).collect())) }
    }
}

/// System-exclusive bytes, whole and checked: F0, data below 80 hex, F7.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct HexBytes(Vec<u8>);

impl HexBytes {
    /// Longest message we accept.
    pub const MAX: usize = 8192;

    /// Checks that the bytes are one system-exclusive message.
    ///
    /// # Errors
    /// [`BadMessage::Sysex`] with the reason.
    pub fn new(bytes: Vec<u8>) -> Result<HexBytes, BadMessage> {
        match bytes.as_slice() {
            _ if bytes.len() > HexBytes::MAX => Err(BadMessage::Sysex("they are longer than 8192 bytes")),
            [0xf0, 0xf7] => Err(BadMessage::Sysex("nothing stands between F0 and F7")),
            [0xf0, inside @ .., 0xf7] if inside.iter().all(|b| *b < 0x80) => Ok(HexBytes(bytes)),
            [0xf0, .., 0xf7] => Err(BadMessage::Sysex("a byte between F0 and F7 is over 7F")),
            _ => Err(BadMessage::Sysex("they must begin with F0 and end with F7")),
        }
    }

    /// The bytes, F0 and F7 included.
    pub fn as_slice(&self) -> &[u8] {
        &self.0
    }
}

impl fmt::Display for HexBytes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, byte) in self.0.iter().enumerate() {
            write!(f, "{}{byte:02X}", if at == 0 { "" } else { " " })?;
        }
        Ok(())
    }
}

impl FromStr for HexBytes {
    type Err = BadMessage;

    fn from_str(text: &str) -> Result<HexBytes, BadMessage> {
        let fail = || BadMessage::Hex(text.chars().take(40).collect());
        let digits: Vec<u8> = text.bytes().filter(|b| !b.is_ascii_whitespace()).collect();
        if digits.is_empty() || !digits.len().is_multiple_of(2) {
            return Err(fail());
        }
        let nibble = |b: u8| char::from(b).to_digit(16).and_then(|d| u8::try_from(d).ok());
        let bytes: Option<Vec<u8>> =
            digits.chunks(2).map(|pair| Some(nibble(pair[0])? << 4 | nibble(pair[1])?)).collect();
        HexBytes::new(bytes.ok_or_else(fail)?)
    }
}

text_form!(CueNumber, "CueNumber", "a show-control number: digits and single dots", r"^\d+(\.\d+)*$");
text_form!(HexBytes, "HexBytes", "system-exclusive bytes in hexadecimal, F0 to F7", r"^[Ff]0[0-9A-Fa-f\s]*[Ff]7$");

//! Encodes messages of the show as bytes, by MIDI 1.0 and MIDI Show Control 1.1.1.

use crate::show::{Channel, Data7, Message, Receiver, Release, ReleaseEnd, ShowCommand};
use crate::time::{SongSpan, Timecode};
use std::sync::Arc;

/// The bytes of one message, ready to send.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct EncodedMessage {
    /// What is sent. Program changes with a bank are several messages in a row, each with its status byte.
    pub on: Arc<[u8]>,
    /// The message that ends it, and how much later it is sent: for a note, its note off.
    pub off: Option<(Arc<[u8]>, SongSpan)>,
}

impl EncodedMessage {
    /// What is sent, as `90 3C 7F`.
    pub fn hex(&self) -> String {
        self.on.iter().map(|b| format!("{b:02X}")).collect::<Vec<_>>().join(" ")
    }
}

/// Why a message cannot be encoded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum EncodeError {
    /// Notes, programs and controllers need a channel.
    #[error("the receiver has no MIDI channel; give it one, 1 to 16")]
    NoChannel,
    /// Show control needs a device number and a command format.
    #[error("the receiver has no show-control device number or command format; give it both")]
    NoDevice,
    /// A list without a cue, or a path without a list.
    #[error(
        "a show-control list needs a cue number and a path needs a list (MSC 1.1.1, 3.1); add it or leave both out"
    )]
    CuePath,
    /// LOAD without a cue.
    #[error("show-control LOAD needs a cue number (MSC 1.1.1); add it")]
    LoadCue,
    /// A full frame of timecode as a cue: whatever follows timecode would jump.
    #[error(
        "these bytes are a full frame of MIDI time code, which would make followers jump; send timecode by the house's own instead"
    )]
    Timecode,
    /// System exclusive that a driver would swallow.
    #[error(
        "a system-exclusive message may have 4096 bytes at most, since some drivers drop longer ones unsaid; send it in parts"
    )]
    ExclusiveLong,
    /// Over 128 bytes.
    #[error("a show-control message may have 128 bytes at most (MSC 1.1.1, 2.1); use shorter numbers")]
    TooLong,
    /// A negative fade time, or a day or more.
    #[error("a show-control time must be under 24 hours and not negative")]
    Time,
    /// Command format 0, which the standard keeps for extensions.
    #[error(
        "show-control command format 0 is kept for extensions (MSC 1.1.1, 2.5); give the device's own, such as 1 for lighting"
    )]
    Format,
}

/// Longest system-exclusive message, in bytes: ALSA's sequencer has a buffer of so many, takes a longer message, and says that all
/// went well (Linux, `snd_midi_event_new` as the usual programs call it; from memory).
pub const EXCLUSIVE_MAX: usize = 4096;

/// Whether bytes are a full-frame message of MIDI time code, by whatever device number (RP-004/008).
const fn is_full_frame(bytes: &[u8]) -> bool {
    matches!(bytes, [0xf0, 0x7f, _, 0x01, 0x01, ..])
}

/// Longest show-control message (MSC 1.1.1, 2.1 and 2.6).
const SHOW_CONTROL_MAX: usize = 128;

/// The bytes of a message to a receiver.
///
/// # Errors
/// [`EncodeError`] when the receiver lacks what the message needs, or the message breaks its standard.
pub fn encode(message: &Message, receiver: &Receiver) -> Result<EncodedMessage, EncodeError> {
    let channel = || receiver.channel.map(Channel::nibble).ok_or(EncodeError::NoChannel);
    let plain = |bytes: Vec<u8>| EncodedMessage { on: bytes.into(), off: None };
    Ok(match message {
        Message::Note { key, velocity, length } => {
            let channel = channel()?;
            let off: Arc<[u8]> = [0x80 | channel, key.get(), 64].into();
            EncodedMessage { on: [0x90 | channel, key.get(), velocity.get()].into(), off: Some((off, *length)) }
        }
        Message::Program { number, bank } => {
            let channel = channel()?;
            let mut bytes = Vec::with_capacity(8);
            if let Some(bank) = bank {
                let [low, high] = bank.bytes();
                bytes.extend([0xb0 | channel, 0, high, 0xb0 | channel, 32, low]);
            }
            bytes.extend([0xc0 | channel, number.get()]);
            plain(bytes)
        }
        Message::Control { controller, value } => plain(vec![0xb0 | channel()?, controller.get(), value.get()]),
        Message::ShowControl(command) => {
            let (Some(device), Some(format)) = (receiver.device, receiver.format) else {
                return Err(EncodeError::NoDevice);
            };
            plain(show_control(device, format, command)?)
        }
        Message::Sysex(bytes) if is_full_frame(bytes.as_slice()) => return Err(EncodeError::Timecode),
        Message::Sysex(bytes) if bytes.as_slice().len() > EXCLUSIVE_MAX => return Err(EncodeError::ExclusiveLong),
        Message::Sysex(bytes) => plain(bytes.as_slice().to_vec()),
    })
}

/// The bytes of a release: its own message and, after its pulse, whatever opens the contact again. The pulse takes precedence
/// over any length the message itself has.
///
/// # Errors
/// [`EncodeError`] when the receiver lacks what the message or its end needs, or one of them breaks its standard.
pub fn encode_release(release: &Release, receiver: &Receiver) -> Result<EncodedMessage, EncodeError> {
    let EncodedMessage { on, off } = encode(&release.message, receiver)?;
    let off = match &release.ends {
        None | Some(ReleaseEnd::NoteOff {}) => off.map(|(off, _)| off),
        Some(ReleaseEnd::Message(end)) => Some(encode(end, receiver)?.on),
        Some(ReleaseEnd::OwnTimer {}) => None,
    };
    Ok(EncodedMessage { on, off: off.map(|off| (off, release.pulse)) })
}

fn show_control(device: Data7, format: Data7, command: &ShowCommand) -> Result<Vec<u8>, EncodeError> {
    if format.get() == 0 {
        return Err(EncodeError::Format);
    }
    let data = show_control_data(command)?;
    let mut bytes = vec![0xf0, 0x7f, device.get(), 0x02, format.get()];
    bytes.extend(data);
    bytes.push(0xf7);
    if bytes.len() > SHOW_CONTROL_MAX { Err(EncodeError::TooLong) } else { Ok(bytes) }
}

/// Command byte and data of a show-control command.
pub(crate) fn show_control_data(command: &ShowCommand) -> Result<Vec<u8>, EncodeError> {
    use ShowCommand as C;
    let (code, before, path): (u8, Vec<u8>, _) = match command {
        C::Go(path) => (0x01, Vec::new(), Some(path)),
        C::Stop(path) => (0x02, Vec::new(), Some(path)),
        C::Resume(path) => (0x03, Vec::new(), Some(path)),
        C::TimedGo { time, rate, of } => {
            if time.micros() < 0 || time.micros() >= 86_400_000_000 {
                return Err(EncodeError::Time);
            }
            let (code, hundredths) = Timecode::from_frames(0, *rate).plus(*time);
            let [_, minutes, seconds, frames] = code.fields();
            (0x04, vec![code.midi_hours(), minutes, seconds, frames, hundredths], Some(of))
        }
        C::Load(path) if path.cue.is_none() => return Err(EncodeError::LoadCue),
        C::Load(path) => (0x05, Vec::new(), Some(path)),
        C::Set { control, value } => (0x06, [control.bytes(), value.bytes()].concat(), None),
        C::Fire { number } => (0x07, vec![number.get()], None),
        C::AllOff {} => (0x08, Vec::new(), None),
        C::Restore {} => (0x09, Vec::new(), None),
        C::Reset {} => (0x0a, Vec::new(), None),
        C::GoOff(path) => (0x0b, Vec::new(), Some(path)),
    };
    let mut data = vec![code];
    data.extend(before);
    if let Some(path) = path {
        if path.cue.is_none() && path.list.is_some() || path.list.is_none() && path.path.is_some() {
            return Err(EncodeError::CuePath);
        }
        for (at, part) in [&path.cue, &path.list, &path.path].into_iter().flatten().enumerate() {
            if at > 0 {
                data.push(0);
            }
            data.extend(part.as_str().bytes());
        }
    }
    if data.len() + 6 > SHOW_CONTROL_MAX { Err(EncodeError::TooLong) } else { Ok(data) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::{Data14, HexBytes};

    fn receiver(extra: &str) -> Receiver {
        serde_json::from_str(&format!(r#"{{"key":"r","name":"R","port":"p"{extra}}}"#)).expect("a receiver")
    }

    fn check(receiver: &Receiver, message: &str, bytes: &str) {
        let message: Message = serde_json::from_str(message).expect(message);
        assert_eq!(encode(&message, receiver).expect("bytes").hex(), bytes);
    }

    /// check-values 3: messages composed from MSC 1.1.1; the cue bytes of 235.6/36.6/59 are printed in its 3.1.
    #[test]
    fn show_control_published_messages() {
        let desk = receiver(r#","device":1,"format":1"#);
        check(&desk, r#"{"show-control":{"go":{}}}"#, "F0 7F 01 02 01 01 F7");
        check(&desk, r#"{"show-control":{"go":{"cue":"1"}}}"#, "F0 7F 01 02 01 01 31 F7");
        check(&desk, r#"{"show-control":{"set":{"control":512,"value":127}}}"#, "F0 7F 01 02 01 06 00 04 7F 00 F7");
        check(&desk, r#"{"show-control":{"fire":{"number":10}}}"#, "F0 7F 01 02 01 07 0A F7");
        let timed = r#"{"show-control":{"timed-go":{"time_us":5000000,"rate":"30","of":{"cue":"10"}}}}"#;
        check(&desk, timed, "F0 7F 01 02 01 04 60 00 05 00 00 31 30 F7");
        let rig = receiver(r#","device":2,"format":33"#);
        check(&rig, r#"{"show-control":{"go":{"cue":"12.5"}}}"#, "F0 7F 02 02 21 01 31 32 2E 35 F7");
        let zero = receiver(r#","device":0,"format":33"#);
        check(
            &zero,
            r#"{"show-control":{"go":{"cue":"235.6","list":"36.6","path":"59"}}}"#,
            "F0 7F 00 02 21 01 32 33 35 2E 36 00 33 36 2E 36 00 35 39 F7",
        );
        let all = receiver(r#","device":127,"format":127"#);
        check(&all, r#"{"show-control":{"reset":{}}}"#, "F0 7F 7F 02 7F 0A F7");
    }

    /// MIDI 1.0 channel voice messages; note on 60 on channel 3 is 92 3C 60 in the SMF 1.1 worked example's bytes.
    #[test]
    fn channel_messages() {
        let third = receiver(r#","channel":3"#);
        check(&third, r#"{"note":{"key":60,"velocity":96}}"#, "92 3C 60");
        check(&third, r#"{"program":{"number":70}}"#, "C2 46");
        check(&third, r#"{"program":{"number":5,"bank":130}}"#, "B2 00 01 B2 20 02 C2 05");
        check(&third, r#"{"control":{"controller":7,"value":127}}"#, "B2 07 7F");
        check(&third, r#"{"sysex":"f0 43 12 00 07 f7"}"#, "F0 43 12 00 07 F7");
    }

    #[test]
    fn what_breaks_a_standard_is_refused() {
        let bare = receiver("");
        let say = |text: &str, r: &Receiver| {
            let message: Message = serde_json::from_str(text).expect(text);
            encode(&message, r).expect_err(text)
        };
        assert_eq!(say(r#"{"note":{"key":60,"velocity":96}}"#, &bare), EncodeError::NoChannel);
        assert_eq!(say(r#"{"show-control":{"go":{}}}"#, &bare), EncodeError::NoDevice);
        let desk = receiver(r#","device":1,"format":1"#);
        assert_eq!(say(r#"{"show-control":{"go":{"list":"2"}}}"#, &desk), EncodeError::CuePath);
        assert_eq!(say(r#"{"show-control":{"load":{}}}"#, &desk), EncodeError::LoadCue);
        let long = "1".repeat(32);
        let go = format!(r#"{{"show-control":{{"go":{{"cue":"{long}","list":"{long}","path":"{long}"}}}}}}"#);
        let message: Message = serde_json::from_str(&go).expect("a message");
        assert_eq!(encode(&message, &desk).expect("fits in 128").on.len(), 7 + 32 * 3 + 2);
        assert_eq!(
            say(r#"{"show-control":{"all-off":{}}}"#, &receiver(r#","device":1,"format":0"#)),
            EncodeError::Format
        );
        assert_eq!(say(r#"{"sysex":"F0 7F 7F 01 01 20 00 00 00 F7"}"#, &bare), EncodeError::Timecode);
        let long = |bytes: usize| format!(r#"{{"sysex":"F0 {} F7"}}"#, "00 ".repeat(bytes - 2));
        let message: Message = serde_json::from_str(&long(4096)).expect("bytes");
        assert_eq!(encode(&message, &bare).expect("as long as may be").on.len(), EXCLUSIVE_MAX);
        assert_eq!(say(&long(4097), &bare), EncodeError::ExclusiveLong);
        for bad in ["F0 F7", "F0 80 F7", "43 12", "F0 43", "F0 4 F7", ""] {
            assert!(bad.parse::<HexBytes>().is_err(), "{bad}");
        }
        for bad in ["", ".", "1.", ".1", "1..2", "1a", "-1"] {
            assert!(bad.parse::<crate::show::CueNumber>().is_err(), "{bad}");
        }
        assert!(Data14::new(16_384).is_none() && Data7::new(128).is_none());
    }
}

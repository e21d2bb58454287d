//! Decodes MIDI Show Control (RP-002/014, version 1.1.1), and tells which cue numbers a device may read as the same.

/// A show-control message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ShowControl<'a> {
    /// Device number: 0 to 111 one device, 112 to 126 a group, 127 all.
    pub device: u8,
    /// Command format: the kind of device.
    pub format: u8,
    /// The command.
    pub command: u8,
    /// What follows the command, without the closing F7.
    pub data: &'a [u8],
}

/// Commands by their numbers (MSC 1.1.1, 4.1 and 4.2).
pub mod command {
    /// GO.
    pub const GO: u8 = 0x01;
    /// STOP.
    pub const STOP: u8 = 0x02;
    /// RESUME.
    pub const RESUME: u8 = 0x03;
    /// `TIMED_GO`.
    pub const TIMED_GO: u8 = 0x04;
    /// LOAD.
    pub const LOAD: u8 = 0x05;
    /// SET.
    pub const SET: u8 = 0x06;
    /// FIRE.
    pub const FIRE: u8 = 0x07;
    /// `ALL_OFF`.
    pub const ALL_OFF: u8 = 0x08;
    /// RESET.
    pub const RESET: u8 = 0x0a;
    /// `GO_OFF`.
    pub const GO_OFF: u8 = 0x0b;
}

/// A cue as show control names it: number, list and path, each of digits and points. A part that was left out is empty.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CueName<'a> {
    /// Cue number.
    pub cue: &'a [u8],
    /// Cue list.
    pub list: &'a [u8],
    /// Cue path.
    pub path: &'a [u8],
}

impl<'a> ShowControl<'a> {
    /// Decodes a message; `None` if it is not show control.
    pub fn read(message: &'a [u8]) -> Option<ShowControl<'a>> {
        match message {
            [0xf0, 0x7f, device, 0x02, format, command, data @ .., 0xf7] => {
                Some(ShowControl { device: *device, format: *format, command: *command, data })
            }
            _ => None,
        }
    }

    /// The cue that the command names; `None` for commands that name none, and for data that breaks the standard.
    pub fn cue(&self) -> Option<CueName<'a>> {
        let text = match self.command {
            command::GO | command::STOP | command::RESUME | command::LOAD | command::GO_OFF => self.data,
            // Five bytes of time come before the cue.
            command::TIMED_GO => self.data.get(5..)?,
            _ => return None,
        };
        let mut parts = text.split(|byte| *byte == 0);
        let mut part = || parts.next().unwrap_or_default();
        let name = CueName { cue: part(), list: part(), path: part() };
        let is_number = |part: &[u8]| part.iter().all(|byte| byte.is_ascii_digit() || *byte == b'.');
        (parts.next().is_none() && [name.cue, name.list, name.path].into_iter().all(is_number)).then_some(name)
    }

    /// Whether a device with this number and format may accept the message. Its number must be the same, a group that it may
    /// belong to, or all. Its format must be of the same category, since a device may answer to its general format as well.
    pub fn may_reach(&self, device: u8, format: u8) -> bool {
        const GROUPS: u8 = 0x70;
        const ALL_TYPES: u8 = 0x7f;
        let device = self.device == device || self.device >= GROUPS || device >= GROUPS;
        device && (self.format >> 4 == format >> 4 || self.format == ALL_TYPES || format == ALL_TYPES)
    }
}

impl CueName<'_> {
    /// Whether a device may take two names for the same cue. A list or path that is left out matches any.
    pub fn may_be(&self, other: &CueName<'_>) -> bool {
        let open = |a: &[u8], b: &[u8]| a.is_empty() || b.is_empty() || may_be_one_number(a, b);
        may_be_one_number(self.cue, other.cue) && open(self.list, other.list) && open(self.path, other.path)
    }
}

/// Whether a device may read two numbers as the same: as decimal fractions (1.10 is 1.1, 01 is 1) or part by part (1.01 is 1.1,
/// 1.0 is 1).
fn may_be_one_number(a: &[u8], b: &[u8]) -> bool {
    as_decimal(a) == as_decimal(b) || part_by_part(a, b)
}

/// The whole part without leading zeros, and the fraction without trailing ones.
fn as_decimal(number: &[u8]) -> (&[u8], &[u8]) {
    let point = number.iter().position(|byte| *byte == b'.').unwrap_or(number.len());
    let fraction = number.get(point + 1..).unwrap_or_default();
    let end = fraction.iter().rposition(|byte| *byte != b'0').map_or(0, |at| at + 1);
    (without_leading_zeros(&number[..point]), &fraction[..end])
}

fn without_leading_zeros(number: &[u8]) -> &[u8] {
    let from = number.iter().position(|byte| *byte != b'0').unwrap_or(number.len());
    &number[from..]
}

/// Whether all parts between the points are equal as whole numbers; parts that are missing count as 0.
fn part_by_part(a: &[u8], b: &[u8]) -> bool {
    let parts = |number| <[u8]>::split(number, |byte| *byte == b'.').map(without_leading_zeros);
    let (mut a, mut b) = (parts(a), parts(b));
    loop {
        match (a.next(), b.next()) {
            (None, None) => return true,
            (one, other) if one.unwrap_or_default() != other.unwrap_or_default() => return false,
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_that_a_device_may_read_as_one() {
        for (a, b) in
            [("1", "1"), ("1", "1.0"), ("1", "01"), ("1.10", "1.1"), ("1.01", "1.1"), ("1.0.0", "1"), ("0", "")]
        {
            assert!(may_be_one_number(a.as_bytes(), b.as_bytes()), "{a} {b}");
            assert!(may_be_one_number(b.as_bytes(), a.as_bytes()), "{b} {a}");
        }
        for (a, b) in [("1", "2"), ("1", "10"), ("1.1", "1.2"), ("1", "1.1"), ("12", "1.2"), ("100", "1")] {
            assert!(!may_be_one_number(a.as_bytes(), b.as_bytes()), "{a} {b}");
        }
    }

    /// The cue bytes of 235.6/36.6/59 are printed in MSC 1.1.1, 3.1.
    #[test]
    fn a_published_cue_is_read() {
        let bytes = *b"\xf0\x7f\x00\x02\x21\x01235.6\x0036.6\x0059\xf7";
        let read = ShowControl::read(&bytes).expect("show control");
        assert_eq!((read.device, read.format, read.command), (0, 0x21, command::GO));
        assert_eq!(read.cue(), Some(CueName { cue: b"235.6", list: b"36.6", path: b"59" }));
        let odd = ShowControl { data: b"1\x002\x003\x004", ..read };
        assert_eq!(odd.cue(), None, "four parts");
        assert_eq!(ShowControl { data: b"1a", ..read }.cue(), None);
        assert_eq!(
            ShowControl { command: command::TIMED_GO, data: b"\x60\x00\x05\x00\x0010", ..read }.cue().map(|c| c.cue),
            Some(&b"10"[..])
        );
        assert_eq!(
            ShowControl { command: command::TIMED_GO, data: b"\x60\x00", ..read }.cue(),
            None,
            "its time is cut"
        );
        assert_eq!(ShowControl { command: command::FIRE, data: &[3], ..read }.cue(), None);
    }

    #[test]
    fn whom_a_message_may_reach() {
        let to = |device, format| ShowControl { device, format, command: command::GO, data: b"1" };
        for (device, format) in [(1, 1), (0x7f, 1), (0x70, 1), (1, 0x7f), (1, 2), (0x7e, 0x7f)] {
            assert!(to(device, format).may_reach(1, 1), "{device} {format}");
            assert!(to(1, 1).may_reach(device, format), "{device} {format}");
        }
        assert!(!to(2, 1).may_reach(1, 1) && !to(0x6f, 1).may_reach(1, 1) && !to(1, 0x10).may_reach(1, 1));
    }
}

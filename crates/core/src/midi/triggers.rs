//! What a device may take for what: messages that differ in their bytes and may still do the same thing.

/// Whether a device may take one message for another: the same bytes; notes of one key that differ in how hard they are struck,
/// as a contact box looks at the key alone (common practice, no source); one show-control command, where either goes to all
/// devices or to all command formats (MSC 1.1.1, 7F hex each).
pub fn may_trigger(a: &[u8], b: &[u8]) -> bool {
    match (a, b) {
        ([a @ 0x90..=0x9f, key_a, hard_a], [b @ 0x90..=0x9f, key_b, hard_b]) => {
            a == b && key_a == key_b && (*hard_a > 0) == (*hard_b > 0)
        }
        ([0xf0, 0x7f, device_a, 0x02, format_a, a @ ..], [0xf0, 0x7f, device_b, 0x02, format_b, b @ ..]) => {
            let meets = |a: u8, b: u8| a == b || a == 0x7f || b == 0x7f;
            meets(*device_a, *device_b) && meets(*format_a, *format_b) && a == b
        }
        _ => a == b,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_device_may_take_for_another() {
        let alike = |a: &[u8], b: &[u8]| (may_trigger(a, b), may_trigger(b, a));
        assert_eq!(alike(&[0x90, 60, 1], &[0x90, 60, 127]), (true, true));
        // Struck with 0 it is a note off (MIDI 1.0).
        assert_eq!(alike(&[0x90, 60, 0], &[0x90, 60, 127]), (false, false));
        assert_eq!(alike(&[0x90, 60, 1], &[0x91, 60, 1]), (false, false));
        assert_eq!(alike(&[0xb0, 20, 1], &[0xb0, 20, 2]), (false, false));
        let go = |device: u8, format: u8, cue: u8| [0xf0, 0x7f, device, 2, format, 1, cue, 0xf7];
        assert_eq!(alike(&go(1, 1, 0x31), &go(0x7f, 1, 0x31)), (true, true));
        assert_eq!(alike(&go(1, 1, 0x31), &go(1, 0x7f, 0x31)), (true, true));
        assert_eq!(alike(&go(1, 1, 0x31), &go(2, 1, 0x31)), (false, false));
        assert_eq!(alike(&go(1, 1, 0x31), &go(1, 1, 0x32)), (false, false));
    }
}

//! MIDI time code and MIDI clock as bytes, as their standards define them.

use crate::time::Timecode;

/// Ticks in one MIDI clock; 24 clocks make a quarter note (MIDI 1.0, system real time).
pub const CLOCK_TICKS: i64 = 40;
/// Ticks in one step of the song position pointer: 6 clocks, a sixteenth (MIDI 1.0, song position pointer).
pub const SONG_POSITION_TICKS: i64 = 240;

/// The timing clock, 24 of them to a quarter note (MIDI 1.0, system real time).
pub const TIMING_CLOCK: [u8; 1] = [0xf8];
/// Start from the beginning of the song.
pub const START: [u8; 1] = [0xfa];
/// Continue from the song position.
pub const CONTINUE: [u8; 1] = [0xfb];
/// Stop.
pub const STOP: [u8; 1] = [0xfc];

/// One quarter-frame message. `piece` is 0 to 7. All eight together give the timecode at which piece 0 was sent (MIDI time
/// code, RP-004/008: F1 0nnndddd).
pub fn quarter_frame(of: Timecode, piece: u8) -> [u8; 2] {
    let [hours, minutes, seconds, frames] = of.fields();
    let hours = hours | (of.rate().midi_code() << 5);
    let field = [frames, seconds, minutes, hours][usize::from(piece / 2 % 4)];
    let nibble = if piece.is_multiple_of(2) { field & 15 } else { field >> 4 };
    [0xf1, (piece & 7) << 4 | nibble]
}

/// The full-frame message (F0 7F 7F 01 01 hr mn sc fr F7), sent when the position jumps.
pub fn full_frame(of: Timecode) -> [u8; 10] {
    let [_, minutes, seconds, frames] = of.fields();
    [0xf0, 0x7f, 0x7f, 0x01, 0x01, of.midi_hours(), minutes, seconds, frames, 0xf7]
}

/// Song position pointer (F2, low seven bits, high seven bits): sixteenths from the song's beginning.
pub fn song_position(sixteenths: u16) -> [u8; 3] {
    let [low, high] = [sixteenths & 127, sixteenths >> 7 & 127].map(|b| u8::try_from(b).unwrap_or(0));
    [0xf2, low, high]
}

/// All sound off and all notes off on one channel, 0 to 15 (MIDI 1.0, channel mode messages 120 and 123).
pub fn silence(channel: u8) -> [[u8; 3]; 2] {
    [120, 123].map(|controller| [0xb0 | (channel & 15), controller, 0])
}

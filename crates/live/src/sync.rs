//! MIDI time code and MIDI clock, by their standards, from the place in the song alone.

use letfall_core::time::{Grid, Tick, Timecode};

/// Which ports get what, by their places in the show's list.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SyncPlan {
    /// Ports that get MIDI time code.
    pub timecode: Vec<u16>,
    /// Ports that get MIDI clock and song position.
    pub clock: Vec<u16>,
}

/// Ticks of one MIDI clock: 24 in a quarter note (MIDI 1.0, system real time).
pub(crate) const CLOCK_TICKS: i64 = 40;
/// Ticks of one MIDI beat of the song position pointer: 6 clocks, a sixteenth (MIDI 1.0, song position pointer).
pub(crate) const BEAT_TICKS: i64 = 240;

/// One quarter-frame message. `piece` is 0 to 7; all eight together say the timecode at which piece 0 was sent (MIDI time
/// code, RP-004/008: F1 0nnndddd).
pub fn quarter_frame(of: Timecode, piece: u8) -> [u8; 2] {
    let [hours, minutes, seconds, frames] = of.fields();
    let hours = hours | (of.rate().midi_code() << 5);
    let field = [frames, seconds, minutes, hours][usize::from(piece / 2 % 4)];
    let nibble = if piece.is_multiple_of(2) { field & 15 } else { field >> 4 };
    [0xf1, (piece & 7) << 4 | nibble]
}

/// The full-frame message (F0 7F 7F 01 01 hr mn sc fr F7), sent when the place jumps.
pub(crate) fn full_frame(of: Timecode) -> [u8; 10] {
    let [_, minutes, seconds, frames] = of.fields();
    [0xf0, 0x7f, 0x7f, 0x01, 0x01, of.midi_hours(), minutes, seconds, frames, 0xf7]
}

/// Song position pointer (F2, low seven bits, high seven bits) of so many sixteenths from the song's begin.
pub fn song_position(sixteenths: u16) -> [u8; 3] {
    let [low, high] = [sixteenths & 127, sixteenths >> 7 & 127].map(|b| u8::try_from(b).unwrap_or(0));
    [0xf2, low, high]
}

/// Song time of a quarter frame by its number: number 0 is song time 0, four in a frame.
pub(crate) fn quarter_frame_due(number: i64, at: Timecode) -> i64 {
    let (micros, over) = at.rate().frame_micros();
    letfall_core::time::round::nearest(number as f64 * micros as f64 / over as f64 / 4.0)
}

/// The first quarter frame not before a song time, beginning a set of eight on an even frame: receivers count from there.
#[allow(clippy::cast_possible_truncation)] // within a day
pub(crate) fn first_quarter_frame(song: i64, at: Timecode) -> i64 {
    let (micros, over) = at.rate().frame_micros();
    let number = (song as f64 * 4.0 * over as f64 / micros as f64 - 1e-6).ceil() as i64;
    // Sets of eight begin on even frames of the timecode itself.
    let start = at.frames() * 4;
    let whole = (number + start + 7).div_euclid(8) * 8;
    whole - start
}

/// The first MIDI clock that can start a slave, at or after a song time: one on a sixteenth, not before the song's begin.
pub(crate) fn first_clock(grid: &Grid, song: i64) -> i64 {
    let tick = grid.ticks_at(song as f64).max(0.0);
    #[allow(clippy::cast_possible_truncation)] // within a song
    let sixteenth = ((tick - 1e-3) / BEAT_TICKS as f64).ceil().max(0.0) as i64;
    sixteenth * (BEAT_TICKS / CLOCK_TICKS)
}

/// Song time of a MIDI clock by its number from the song's begin.
pub(crate) fn clock_due(grid: &Grid, number: i64) -> i64 {
    grid.time_at(Tick::new(number * CLOCK_TICKS)).micros()
}

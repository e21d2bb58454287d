//! When MIDI time code and MIDI clock are due, from the place in the song alone. Their bytes are [`letfall_core::midi`]'s.

use crate::units::ShowPort;
use letfall_core::midi::{CLOCK_TICKS, SONG_POSITION_TICKS};
use letfall_core::time::{Grid, SongTime, Tick, Timecode, round};

/// Which ports get what.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SyncPlan {
    /// Ports that get MIDI time code.
    pub timecode: Vec<ShowPort>,
    /// Ports that get MIDI clock and song position.
    pub clock: Vec<ShowPort>,
}

/// Song time of a quarter frame by its number: number 0 is song time 0, four in a frame.
pub(crate) fn quarter_frame_due(number: i64, at: Timecode) -> SongTime {
    let (micros, over) = at.rate().frame_micros();
    SongTime::saturating(round::nearest(number as f64 * micros as f64 / over as f64 / 4.0))
}

/// The first quarter frame not before a song time, beginning a set of eight on an even frame: receivers count from there.
#[allow(clippy::cast_possible_truncation)] // within a day
pub(crate) fn first_quarter_frame(song: SongTime, at: Timecode) -> i64 {
    let (micros, over) = at.rate().frame_micros();
    let number = libm::ceil(song.micros() as f64 * 4.0 * over as f64 / micros as f64 - 1e-6) as i64;
    // Sets of eight begin on even frames of the timecode itself.
    let start = at.frames() * 4;
    let whole = (number + start + 7).div_euclid(8) * 8;
    whole - start
}

/// The first MIDI clock that can start a slave, at or after a song time: one on a sixteenth, not before the song's beginning.
pub(crate) fn first_clock(grid: &Grid, song: SongTime) -> i64 {
    let tick = grid.ticks_at(song.micros() as f64).max(0.0);
    #[allow(clippy::cast_possible_truncation)] // within a song
    let sixteenth = libm::ceil((tick - 1e-3) / SONG_POSITION_TICKS as f64).max(0.0) as i64;
    sixteenth * (SONG_POSITION_TICKS / CLOCK_TICKS)
}

/// Song time of a MIDI clock by its number from the song's beginning.
pub(crate) fn clock_due(grid: &Grid, number: i64) -> SongTime {
    grid.time_at(Tick::new(number * CLOCK_TICKS))
}

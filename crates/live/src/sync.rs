//! When MIDI time code and MIDI clock are due. It depends on the song time only. Their bytes come from [`letfall_core::midi`].

use crate::units::ShowPort;
use letfall_core::midi::{CLOCK_TICKS, SONG_POSITION_TICKS};
use letfall_core::time::{Grid, SongTime, Tick, Timecode, round};

/// Which ports get which sync messages.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SyncPlan {
    /// Ports that get MIDI time code.
    pub timecode: Vec<ShowPort>,
    /// Ports that get MIDI clock and song position.
    pub clock: Vec<ShowPort>,
}

/// The song time of a quarter frame, by its number. Number 0 is at song time 0, and there are four in a frame.
pub(crate) fn quarter_frame_due(number: i64, at: Timecode) -> SongTime {
    let (micros, over) = at.rate().frame_micros();
    SongTime::saturating(round::nearest(number as f64 * micros as f64 / over as f64 / 4.0))
}

/// The first quarter frame at or after a song time that begins a set of eight on an even frame, where receivers start counting.
#[allow(clippy::cast_possible_truncation)] // within a day
pub(crate) fn first_quarter_frame(song: SongTime, at: Timecode) -> i64 {
    let (micros, over) = at.rate().frame_micros();
    let number = libm::ceil(song.micros() as f64 * 4.0 * over as f64 / micros as f64 - 1e-6) as i64;
    // Sets of eight begin on even frames of the timecode itself.
    let start = at.frames() * 4;
    let whole = (number + start + 7).div_euclid(8) * 8;
    whole - start
}

/// The first MIDI clock at or after a song time that can start a follower. It is on a sixteenth, not before the song begins.
pub(crate) fn first_clock(grid: &Grid, song: SongTime) -> i64 {
    let tick = grid.ticks_at(song.micros() as f64).max(0.0);
    #[allow(clippy::cast_possible_truncation)] // within a song
    let sixteenth = libm::ceil((tick - 1e-3) / SONG_POSITION_TICKS as f64).max(0.0) as i64;
    sixteenth * (SONG_POSITION_TICKS / CLOCK_TICKS)
}

/// The song time of a MIDI clock, by its number counted from the song's beginning.
pub(crate) fn clock_due(grid: &Grid, number: i64) -> SongTime {
    grid.time_at(Tick::new(number * CLOCK_TICKS))
}

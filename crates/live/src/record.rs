//! Cues recorded by playing: when something was struck, less how late the hands and the wire are, on the grid or free.

use letfall_core::show::Anchor;
use letfall_core::time::{BarBeat, Grid, SongSpan, SongTime, Tick, TickSpan, round};

/// Something that was struck while the song ran.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Struck {
    /// Song time at which its message came, µs.
    pub song: i64,
    /// The key or controller.
    pub key: u8,
}

impl Struck {
    /// A note that began, a controller or a program that changed; nothing else records a cue.
    pub fn read(bytes: &[u8], song: i64) -> Option<Struck> {
        match bytes {
            [status, key, velocity] if status & 0xf0 == 0x90 && *velocity > 0 => Some(Struck { song, key: *key }),
            [status, key, value] if status & 0xf0 == 0xb0 && *value >= 64 => Some(Struck { song, key: *key }),
            [status, key] if status & 0xf0 == 0xc0 => Some(Struck { song, key: *key }),
            _ => None,
        }
    }
}

/// Where what was struck belongs. `late` is how late it came, hands and wire together; `step` puts it on the grid.
pub fn place(grid: &Grid, struck: Struck, late: SongSpan, step: Option<TickSpan>) -> Anchor {
    let at = SongTime::saturating(struck.song) - late;
    let tick = grid.ticks_at(at.micros() as f64);
    let tick = match step {
        Some(step) => letfall_core::edit::snap(grid, tick, step),
        None => Tick::new(round::nearest(tick)),
    };
    let place: BarBeat = grid.place_of(tick);
    // Played free it keeps what lies between the tick and the hand, to the microsecond.
    let nudge = if step.is_some() { SongSpan::ZERO } else { at - grid.time_at(tick) };
    Anchor::Grid { place, nudge }
}

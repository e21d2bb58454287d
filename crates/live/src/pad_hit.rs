//! Cues recorded by playing. The cue goes where a pad was hit, minus the delay of hands and cable, on the grid or off it.

use letfall_core::midi::MidiInput;
use letfall_core::show::Anchor;
use letfall_core::time::{BarBeat, Grid, SongSpan, SongTime, Tick, TickSpan, round};

/// A pad, key or controller that was hit while the song ran.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PadHit {
    /// When its message arrived.
    pub song: SongTime,
    /// The key or controller.
    pub key: u8,
}

impl PadHit {
    /// Reads a note-on, a controller with a value of 64 or more, or a program change. Nothing else records a cue.
    pub fn read(bytes: &[u8], song: SongTime) -> Option<PadHit> {
        match MidiInput::read(bytes) {
            MidiInput::NoteOn { key } => Some(PadHit { song, key }),
            MidiInput::Control { controller, value } if value >= 64 => Some(PadHit { song, key: controller }),
            MidiInput::Program { number } => Some(PadHit { song, key: number }),
            _ => None,
        }
    }
}

/// Where the cue of a hit belongs. `late` is the delay of hands and cable together. `step` snaps the cue to the grid.
pub fn place(grid: &Grid, hit: PadHit, late: SongSpan, step: Option<TickSpan>) -> Anchor {
    let at = hit.song - late;
    let tick = grid.ticks_at(at.micros() as f64);
    let tick = match step {
        Some(step) => letfall_core::edit::snap(grid, tick, step),
        None => Tick::new(round::nearest(tick)),
    };
    let place: BarBeat = grid.place_of(tick);
    // Without a grid step, the nudge keeps the distance between the tick and the hit, to the microsecond.
    let nudge = if step.is_some() { SongSpan::ZERO } else { at - grid.time_at(tick) };
    Anchor::Grid { place, nudge }
}

//! What the pointer is doing on the score.

use egui::Pos2;
use letfall_core::show::Label;
use letfall_core::time::SongTime;

/// What the pointer is doing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Gesture {
    /// Moving the selection, dragged by the cue that landed at `from`; `to` is where it would land.
    Move { from: SongTime, grabbed: SongTime, to: SongTime, snapped: bool },
    /// Dragging the end of a media cue to `to`.
    Lengthen { label: Label, to: SongTime, snapped: bool },
    /// Drawing a selection box.
    Marquee { from: Pos2 },
    /// Moving the playhead.
    Scrub,
    /// Dragging a bar line of the guide to where it is heard.
    Pin { bar: i32, to: SongTime },
}

//! Song time, ticks, metre, tempo and the grid that ties them together.
//!
//! Points ([`SongTime`], [`Tick`]) and lengths ([`SongSpan`], [`TickSpan`]) are different types. All are whole
//! numbers: microseconds, and ticks of 1/960 quarter note. Fractions exist only inside [`Grid`] and leave it through
//! the one rounding function, [`round::nearest`].

mod day;
mod error;
mod forms;
mod grid;
mod metre;
mod place_form;
mod plan;
mod position;
pub mod round;
mod song_time;
mod tempo;
mod tick;
mod timecode;
mod wall;

pub use day::day_of;
pub use error::TimeError;
pub use grid::{Grid, GridSegment, SegmentLaw};
pub use metre::Metre;
pub use plan::{GridPlan, MetreMark, Pin, Ramp, RampLaw, TempoMark};
pub use position::BarBeat;
pub use song_time::{SongSpan, SongTime};
pub use tempo::{NoteValue, Tempo};
pub use tick::{PPQ, Tick, TickSpan};
pub use timecode::{FrameRate, Timecode};
pub use wall::{WallTime, nearest_in_a_day};

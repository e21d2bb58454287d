//! What the board shows at one moment.

use crate::rehearsal::Run;
use crate::widgets::theme::Theme;
use letfall_core::prepared::Prepared;
use letfall_core::time::SongTime;

/// The state that the board shows.
pub struct BoardState<'a> {
    /// The prepared plan.
    pub plan: &'a Prepared,
    /// The run, if there is one.
    pub run: Option<&'a Run>,
    /// Song time.
    pub at: SongTime,
    /// The theme.
    pub theme: Theme,
    /// The state of the sound, in words.
    pub sound: &'static str,
    /// What was edited since the run began, in words.
    pub changed: Option<String>,
}

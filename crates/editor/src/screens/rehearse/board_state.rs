//! What the board shows of one moment.

use crate::rehearsal::Run;
use crate::widgets::theme::Theme;
use letfall_core::prepared::Prepared;
use letfall_core::time::SongTime;

/// What is shown of one moment.
pub struct BoardState<'a> {
    /// What was worked out.
    pub plan: &'a Prepared,
    /// The run, where there is one.
    pub run: Option<&'a Run>,
    /// Song time.
    pub at: SongTime,
    /// The look.
    pub theme: Theme,
    /// What is heard.
    pub sound: &'static str,
}

//! What the threads of a run tell the screen.

use crate::event::Event;
use crate::units::ShowPort;
use letfall_platform::Priority;

/// What the screen is told.
#[derive(Debug, Clone, PartialEq)]
pub enum RunnerEvent {
    /// An event of the engine.
    Engine(Event),
    /// Which priority the sending thread got.
    Priority(Priority),
    /// A port of the show became available, or is not available.
    Port {
        /// Which.
        port: ShowPort,
        /// The machine's name for it.
        name: String,
        /// Whether it is there.
        there: bool,
        /// In words.
        words: String,
    },
    /// The log cannot be written. The run continues.
    LogFailed(String),
    /// The sending thread has ended although nobody ended the run. Nothing is sent any more.
    SendingEnded,
    /// There is no keeper to open contacts if this program dies, and why.
    KeeperGone(String),
    /// How many events were lost because screen and log did not keep up.
    Missed(u64),
}

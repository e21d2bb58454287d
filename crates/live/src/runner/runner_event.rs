//! What the threads of a run tell the screen.

use crate::event::Event;
use crate::units::ShowPort;
use letfall_platform::Priority;

/// What the screen hears.
#[derive(Debug, Clone, PartialEq)]
pub enum RunnerEvent {
    /// What the engine says.
    Engine(Event),
    /// How the sending thread is run.
    Priority(Priority),
    /// A port of the show is there, or is not.
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
    /// The log cannot be written; the run goes on.
    LogFailed(String),
    /// Sending has ended though nobody ended the run: nothing is sent any more.
    SendingEnded,
    /// Nobody opens contacts if this program dies, and why.
    KeeperGone(String),
    /// So many events were lost to a screen and log that did not keep up.
    Missed(u64),
}

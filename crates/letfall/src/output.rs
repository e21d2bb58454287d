//! The result of a command.

use letfall_files::Failure;

/// What a command prints, and whether it found a problem that must stop the show.
pub struct CommandOutput {
    /// Printed to stdout.
    pub text: String,
    /// Printed to stderr, one sentence each.
    pub remarks: Vec<String>,
    /// Exit with code 1 instead of 0.
    pub found_stop: bool,
}

impl CommandOutput {
    /// A result that is only text.
    pub fn text(text: String) -> CommandOutput {
        CommandOutput { text, remarks: Vec::new(), found_stop: false }
    }
}

/// What a command returns.
pub type Answer = Result<CommandOutput, Failure>;

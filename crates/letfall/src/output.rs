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
    /// Whether the text only says what was done, and is no answer: `--quiet` leaves it out.
    pub is_report: bool,
}

impl CommandOutput {
    /// What was done, in words.
    pub fn report(text: String, remarks: Vec<String>) -> CommandOutput {
        CommandOutput { text, remarks, found_stop: false, is_report: true }
    }

    /// A result that is only text.
    pub fn text(text: String) -> CommandOutput {
        CommandOutput { text, remarks: Vec::new(), found_stop: false, is_report: false }
    }
}

/// What a command returns.
pub type Answer = Result<CommandOutput, Failure>;

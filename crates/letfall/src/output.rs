//! What a command answers.

use letfall_files::Failure;

/// What a command prints, and whether it found something that must not go on.
pub struct CommandOutput {
    /// For stdout.
    pub text: String,
    /// For stderr, one sentence each.
    pub remarks: Vec<String>,
    /// Exit code 1 instead of 0.
    pub found_stop: bool,
}

impl CommandOutput {
    /// Only text.
    pub fn text(text: String) -> CommandOutput {
        CommandOutput { text, remarks: Vec::new(), found_stop: false }
    }
}

/// What a command comes to.
pub type Answer = Result<CommandOutput, Failure>;

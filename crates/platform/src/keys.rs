//! What keys are called.

/// The key that goes with others for a command, as it is written on keyboards: ⌘ on a Mac, Ctrl elsewhere.
pub const COMMAND_KEY: &str = if cfg!(target_os = "macos") { "⌘" } else { "Ctrl" };

//! Processes that outlive the terminal and the program that started them.

use std::process::Command;

/// A process that is started so is not reached by what a terminal sends its foreground programs: Ctrl-C, hang-up.
pub fn apart_from_terminal(command: &mut Command) {
    #[cfg(unix)]
    {
        use std::os::unix::process::CommandExt as _;
        command.process_group(0);
    }
    #[cfg(windows)]
    {
        use std::os::windows::process::CommandExt as _;
        // CREATE_NEW_PROCESS_GROUP and DETACHED_PROCESS (processthreadsapi.h).
        command.creation_flags(0x0000_0200 | 0x0000_0008);
    }
    #[cfg(not(any(unix, windows)))]
    let _ = command;
}

//! The console that Windows opens for a program of the command line.

/// Leaves the console if this program alone has it: then Windows opened it because somebody double-clicked the program, and it would stand
/// empty behind the window. Started from a terminal, the program shares that one and stays in it. Returns whether it left, so that nobody
/// would read what is written from then on. On other systems there is nothing to leave.
pub fn leave_own_console() -> bool {
    #[cfg(windows)]
    {
        let own = crate::system_calls::windows::sharing_console() == 1;
        if own {
            crate::system_calls::windows::leave_console();
        }
        own
    }
    #[cfg(not(windows))]
    false
}

//! The program: a thin wrapper around the command line's library.

use std::process::ExitCode;

fn main() -> ExitCode {
    letfall::run(std::env::args_os())
}

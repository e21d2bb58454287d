//! The program: the command line over the library crates.

use std::process::ExitCode;

fn main() -> ExitCode {
    letfall::run(std::env::args_os())
}

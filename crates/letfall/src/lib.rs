//! Letfall's command line. This crate only reads input, writes output and words messages; the library crates do the work.

mod cli;
mod commands;
mod output;
mod streams;

use clap::Parser as _;
use std::ffi::OsString;
use std::io::Write as _;
use std::process::ExitCode;

/// Runs the program. Exit code 0 is success, 1 means that a check found a problem that must stop the show, 2 means wrong usage
/// or unreadable input.
pub fn run(args: impl IntoIterator<Item = OsString>) -> ExitCode {
    let cli = match cli::Cli::try_parse_from(args) {
        Ok(cli) => cli,
        Err(why) => return usage(&why),
    };
    let quiet = cli.quiet;
    let answer = match cli.command {
        Some(command) => commands::run(command),
        None => commands::edit(cli.show.as_deref()),
    };
    match answer {
        Ok(output) => {
            for remark in output.remarks.iter().filter(|_| !quiet) {
                say(&format!("letfall: {remark}"));
            }
            let text = if quiet && output.is_report { "" } else { output.text.as_str() };
            let mut out = std::io::stdout().lock();
            match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
                // Whoever reads has closed the pipe (as with `| head`): there is nobody to tell, but it did not all arrive.
                Err(why) if why.kind() == std::io::ErrorKind::BrokenPipe => ExitCode::from(2),
                Err(why) => {
                    say(&format!("letfall: the answer cannot be written: {why}"));
                    ExitCode::from(2)
                }
                _ => ExitCode::from(u8::from(output.found_stop)),
            }
        }
        Err(failure) => {
            say(&format!("letfall: {failure}"));
            ExitCode::from(2)
        }
    }
}

/// Writes a line to stderr. If that is closed, nobody can be told, so the error is ignored.
fn say(line: &str) {
    drop(writeln!(std::io::stderr(), "{line}"));
}

/// Help is printed in full to stdout; an error is reduced to one sentence.
fn usage(why: &clap::Error) -> ExitCode {
    use clap::error::ErrorKind;
    match why.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => {
            drop(write!(std::io::stdout(), "{}", why.render()));
            ExitCode::SUCCESS
        }
        _ => {
            let text = why.render().to_string();
            let lines: Vec<&str> = text
                .lines()
                .map(str::trim)
                .take_while(|l| !l.starts_with("Usage:"))
                .filter(|l| !l.is_empty() && !l.starts_with("For more information"))
                .collect();
            let first = lines.join(" ");
            say(&format!("letfall: {}; see letfall --help", first.trim_start_matches("error: ")));
            ExitCode::from(2)
        }
    }
}

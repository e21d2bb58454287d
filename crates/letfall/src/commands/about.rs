//! `letfall completions` and `letfall man`: what a shell and a manual need to know of the program.

use crate::cli;
use crate::output::{Answer, CommandOutput};
use clap::CommandFactory as _;
use clap_complete::Shell;
use letfall_files::Failure;

pub fn completions(args: &cli::Completions) -> CommandOutput {
    let shell = match args.shell {
        cli::Shell::Bash => Shell::Bash,
        cli::Shell::Zsh => Shell::Zsh,
        cli::Shell::Fish => Shell::Fish,
    };
    let mut bytes = Vec::new();
    clap_complete::generate(shell, &mut cli::Cli::command(), "letfall", &mut bytes);
    CommandOutput::text(String::from_utf8_lossy(&bytes).into_owned())
}

/// The manual page: the program, then each command.
pub fn man() -> Answer {
    let fail = |why: std::io::Error| Failure::Use(format!("the manual page cannot be made: {why}"));
    let command = cli::Cli::command();
    let mut bytes = Vec::new();
    clap_mangen::Man::new(command.clone()).render(&mut bytes).map_err(fail)?;
    let mut text = String::from_utf8_lossy(&bytes).into_owned();
    for sub in command.get_subcommands().filter(|sub| !sub.is_hide_set()) {
        let mut part = Vec::new();
        let man = clap_mangen::Man::new(sub.clone());
        man.render_description_section(&mut part).map_err(fail)?;
        man.render_options_section(&mut part).map_err(fail)?;
        let part = String::from_utf8_lossy(&part).replace(".SH DESCRIPTION", "").replace(".SH OPTIONS", "");
        text += ".SH LETFALL ";
        text += &sub.get_name().to_uppercase();
        text.push('\n');
        text += part.trim_start();
        text.push('\n');
    }
    Ok(CommandOutput::text(text))
}

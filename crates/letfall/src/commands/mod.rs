//! One file for each command, or for a few that belong together.

mod about;
mod before;
mod carry;
mod check;
mod common;
mod compare;
mod demo;
mod desk;
mod export;
mod film;
mod film_placed;
mod film_proposed;
mod film_told;
mod grid;
mod import;
mod new;
mod rehearse;
mod room;
mod schedule;
mod shift;
mod which;

use crate::cli::Command;
use crate::output::{Answer, CommandOutput};
use letfall_files::Failure;
use std::path::Path;

pub fn run(command: Command) -> Answer {
    match command {
        Command::Check(args) => check::run(&args),
        Command::Schedule(args) => schedule::run(&args),
        Command::Room(args) => room::run(&args),
        Command::Drawing(args) => before::drawing(&args),
        Command::Calendar(args) => before::calendar(&args),
        Command::Offers(args) => before::offers(&args),
        Command::TakeOffers(args) => before::take_offers(&args),
        Command::NextYear(args) => before::next_year(&args),
        Command::Midi(args) => export::midi(&args),
        Command::Paper(args) => export::paper(&args),
        Command::Table(args) => export::table(&args),
        Command::Click(args) => export::click(&args),
        Command::Timecode(args) => export::timecode(&args),
        Command::Bundle(args) => export::bundle(&args),
        Command::Shift(args) => shift::run(&args),
        Command::Copy(args) => carry::run(&args),
        Command::DeskList(args) => desk::list(&args),
        Command::Import(args) => import::run(&args),
        Command::Renumber(args) => desk::renumber(&args),
        Command::Completions(args) => Ok(about::completions(&args)),
        Command::Man => about::man(),
        Command::Compare(args) => compare::run(&args),
        Command::Grid(args) => grid::run(&args),
        Command::Film(args) => film::run(&args),
        Command::Rehearse(args) => rehearse::run(&args),
        Command::Schema => Ok(CommandOutput::text(letfall_core::file::schema())),
        Command::New(args) => new::run(&args),
        Command::Demo(args) => demo::run(&args),
        Command::KeepContacts => keep_contacts(),
    }
}

/// A word that is no file and nearly a command was meant as that.
#[cfg(feature = "editor")]
fn mistyped(path: &Path) -> Result<(), Failure> {
    use clap::CommandFactory as _;
    let Some(word) = path.to_str().filter(|word| !path.exists() && !word.contains(['.', '/', '\\'])) else {
        return Ok(());
    };
    let command = crate::cli::Cli::command();
    let near = command
        .get_subcommands()
        .filter(|sub| !sub.is_hide_set())
        .map(|sub| (strsim::damerau_levenshtein(word, sub.get_name()), sub.get_name()))
        .min();
    match near {
        Some((distance, name)) if distance <= 2 => {
            Err(Failure::Use(format!("there is no file and no command \"{word}\"; did you mean letfall {name}?")))
        }
        _ => Ok(()),
    }
}

/// Opens the editor with a show, or with the demo show.
#[cfg(feature = "editor")]
pub fn edit(path: Option<&Path>) -> Answer {
    let show = match path {
        Some(path) => {
            mistyped(path)?;
            letfall_files::disk::read_show(path)?
        }
        None => letfall_files::demo_shows::first()?,
    };
    letfall_editor::open(&show, path).map_err(|why| Failure::Use(why.replace('\n', " ")))?;
    Ok(CommandOutput::text(String::new()))
}

/// Keeps contacts for an editor.
#[cfg(feature = "editor")]
fn keep_contacts() -> Answer {
    letfall_editor::keep_contacts().map_err(Failure::Use)?;
    Ok(CommandOutput::text(String::new()))
}

/// Without the editor nothing closes contacts.
#[cfg(not(feature = "editor"))]
fn keep_contacts() -> Answer {
    Err(Failure::Use("this build has no editor, so it closes no contacts".to_owned()))
}

/// Explains that this build has no editor.
#[cfg(not(feature = "editor"))]
pub fn edit(path: Option<&Path>) -> Answer {
    let of = path.map_or_else(String::new, |path| format!(" for {}", path.display()));
    Err(Failure::Use(format!("this build has no editor{of}; every export can be had by a command, see letfall --help")))
}

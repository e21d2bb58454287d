//! One file a command, or a few that belong together.

/// Adds a line of text.
macro_rules! line {
    ($to:expr, $($words:tt)*) => {{
        $to.push_str(&format!($($words)*));
        $to.push('\n');
    }};
}

mod audio;
mod carry;
mod check;
mod compare;
mod demo;
mod export;
mod grid;
mod new;
mod schedule;
mod shift;
mod which;

pub use new::{fresh, song_of};

use crate::cli::Command;
use crate::failure::Failure;
use crate::{Answer, Told, disk, editor};
use letfall_core::show::{Service, Show};
use serde::Serialize;
use std::path::PathBuf;

pub fn run(command: Command) -> Answer {
    match command {
        Command::Check(args) => check::run(&args),
        Command::Schedule(args) => schedule::run(&args),
        Command::Midi(args) => export::midi(&args),
        Command::Paper(args) => export::paper(&args),
        Command::Table(args) => export::table(&args),
        Command::Click(args) => audio::click(&args),
        Command::Timecode(args) => audio::timecode(&args),
        Command::Shift(args) => shift::run(&args),
        Command::Copy(args) => carry::run(&args),
        Command::Compare(args) => compare::run(&args),
        Command::Grid(args) => grid::run(&args),
        Command::Schema => Ok(Told::text(letfall_core::file::schema())),
        Command::New(args) => new::run(&args),
        Command::Demo(args) => demo::run(&args),
    }
}

/// Opens the editor on a show, or on the demo show.
pub fn edit(path: Option<PathBuf>) -> Answer {
    let show = match &path {
        Some(path) => disk::read_show(path)?,
        None => demo::first()?,
    };
    editor::open(show, path).map_err(|why| Failure::Use(why.replace('\n', " ")))?;
    Ok(Told::text(String::new()))
}

/// The service that was named, or the only one.
fn service<'a>(show: &'a Show, name: Option<&str>) -> Result<&'a Service, Failure> {
    let names = || show.services.iter().map(|s| format!("\"{}\"", s.name)).collect::<Vec<_>>().join(", ");
    match (name, show.services.as_slice()) {
        (_, []) => Err(Failure::Service("the show has no service; add one".to_owned())),
        (None, [only]) => Ok(only),
        (None, _) => {
            Err(Failure::Service(format!("the show has several services; say --service with one of {}", names())))
        }
        (Some(name), _) => show
            .service(name)
            .ok_or_else(|| Failure::Service(format!("the show has no service \"{name}\"; it has {}", names()))),
    }
}

/// Adds a JSON object and a line end.
fn json_line(to: &mut String, value: &impl Serialize) {
    to.push_str(&serde_json::to_string(value).unwrap_or_default());
    to.push('\n');
}

/// "1 cue", "2 cues".
fn count(n: usize, thing: &str) -> String {
    format!("{n} {thing}{}", if n == 1 { "" } else { "s" })
}

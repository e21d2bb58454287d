//! Opening films with the system's `ffmpeg` program, run as a child: without a shell, with the film as a file and nothing else allowed,
//! within limits of memory and time, and killed when nobody waits for it any more.

mod child;
mod decode;
mod frames;
mod pictures;
mod sound;
mod stamps;

pub use decode::Picture;
pub use frames::frames;
pub use pictures::{key_pictures, length, pictures_between};
pub use sound::{Channel, FilmSound, sound, sound_of};

use std::path::Path;
use std::process::Command;

/// Why a film cannot be read.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FilmError {
    /// The program is not there.
    #[error(
        "films are read with the program \"ffmpeg\", which is not installed here (on Debian: the package ffmpeg); a sound file is read \
         without it"
    )]
    NoProgram,
    /// It is no film.
    #[error("it is no film that can be read here ({0})")]
    Format(String),
    /// It has no pictures.
    #[error("there are no pictures in it")]
    NoPicture,
    /// It has no sound.
    #[error("there is no sound in it")]
    NoSound,
    /// Reading it ended before its end.
    #[error(
        "it is damaged, or too much for the limits that it is read within: reading ended after {0:.1} s; cut it, or convert it anew"
    )]
    Broken(f64),
    /// It stopped giving anything.
    #[error("reading it came to a standstill; it may be damaged")]
    Stalled,
    /// Its stamps do not go forward.
    #[error("the stamps of its pictures are damaged")]
    Stamps,
    /// Somebody stopped it.
    #[error("it was stopped")]
    Stopped,
}

/// Kinds of files that are read. Lists of other files, which could name anything, are none of them.
const KINDS: &str = "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,ogg";

/// The program, with what is common to all uses; its output comes next.
fn program(film: &Path) -> Command {
    program_reading(film, &[])
}

/// The same with options for how the film is read.
fn program_reading(film: &Path, reading: &[&str]) -> Command {
    let named = std::env::var("LETFALL_FFMPEG").ok().filter(|name| !name.is_empty());
    let mut command = letfall_platform::limited(named.as_deref().unwrap_or("ffmpeg"));
    // Stamps are written among the remarks, so those are not made quieter.
    command.args(["-nostdin", "-hide_banner", "-nostats", "-loglevel", "info", "-max_alloc", "400000000"]);
    command.args(["-protocol_whitelist", "file", "-format_whitelist", KINDS, "-copyts"]);
    command.args(reading).arg("-i");
    let mut name = std::ffi::OsString::from("file:");
    name.push(film);
    command.arg(name);
    command
}

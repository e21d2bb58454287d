//! Reading a film and laying it against a song: what takes long, step by step, so that it can be told and stopped.

use crate::align::{Refusal, Run, align_slowed, by_timecode};
use crate::open::{Channel, FilmError, FilmSound, frames, sound, sound_of};
use crate::picture::{Frame, Proposed, Recorder, Sighting, Watcher};
use crate::sound::sudden;
use letfall_core::time::Timecode;
use std::path::Path;

/// How far the reading is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// So many seconds of sound have been read.
    Sound(f64),
    /// Its place is being looked for: 0 to 1.
    Place(f64),
    /// The pictures have been read to this time of the film, seconds.
    Pictures(f64),
}

/// Why a film says nothing.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StudyError {
    /// It cannot be read.
    #[error(transparent)]
    Film(#[from] FilmError),
    /// It cannot be laid against the song.
    #[error(transparent)]
    Place(#[from] Refusal),
}

/// The sound of a film.
///
/// # Errors
/// [`FilmError`].
pub fn film_sound(film: &Path, go_on: &mut dyn FnMut(Step) -> bool) -> Result<FilmSound, FilmError> {
    sound(film, |secs| go_on(Step::Sound(secs)))
}

/// Every run of the song in a film.
///
/// # Errors
/// [`Refusal`].
pub fn runs(film: &FilmSound, guide: &[f32], go_on: &mut dyn FnMut(Step) -> bool) -> Result<Vec<Run>, Refusal> {
    align_slowed(&film.samples, guide, |share| go_on(Step::Place(share)))
}

/// Every run of the song in a film by the timecode on one of its channels; `zero` is the address of song time 0. None without timecode.
/// A recording of sound alone has been read already: `recorded`.
///
/// # Errors
/// [`FilmError`].
pub fn timecode(
    film: &Path,
    recorded: Option<&FilmSound>,
    zero: Timecode,
    go_on: &mut dyn FnMut(Step) -> bool,
) -> Result<Vec<Run>, FilmError> {
    if let Some(sound) = recorded {
        return Ok(by_timecode(&sound.samples, zero));
    }
    for channel in [Channel::Left, Channel::Right] {
        let sound = sound_of(film, channel, |secs| go_on(Step::Sound(secs)))?;
        let runs = by_timecode(&sound.samples, zero);
        if !runs.is_empty() {
            return Ok(runs);
        }
    }
    Ok(Vec::new())
}

/// How far around the place that a person points at something sudden is looked for, seconds.
const SUDDEN: f64 = 0.15;

/// A run of which a person says one place: at `film` seconds of the film's clock, `song` seconds of the song are heard. The film plays `slow`
/// times slower than it was filmed. If that is a clap, a click or a drum, its own beginning counts; `None` if nothing `is_sudden` there.
pub fn by_hand(sound: &FilmSound, film: f64, song: f64, slow: f64, is_sudden: bool) -> Option<Run> {
    let heard = film - sound.begins;
    if !is_sudden {
        return Some(Run::by_hand(heard, song, slow));
    }
    sudden(&sound.samples, heard, SUDDEN).map(|heard| Run::by_sudden(heard, song, slow))
}

/// How far a clap is looked for around the time at which the hands meet in the picture, seconds: telephones stay well within it.
const CLAP: f64 = 0.3;

/// How much later the film has the sound of a clap than its picture, seconds; `seen` is when the hands meet, by the film's clock.
/// `None` if no clap is heard there.
pub fn clap(film: &FilmSound, seen: f64) -> Option<f64> {
    sudden(&film.samples, seen - film.begins, CLAP).map(|heard| heard + film.begins - seen)
}

/// Takes the pictures that a recorder wants. Later ones are not read.
///
/// # Errors
/// [`FilmError`].
pub fn pictures(film: &Path, recorder: &mut Recorder, go_on: &mut dyn FnMut(Step) -> bool) -> Result<(), FilmError> {
    until(film, recorder.ends(), &mut |frame| recorder.take(frame), go_on)
}

/// Where in the picture something changes at these moments.
///
/// # Errors
/// [`FilmError`].
pub fn propose(
    film: &Path,
    sightings: &[Sighting],
    go_on: &mut dyn FnMut(Step) -> bool,
) -> Result<Proposed, FilmError> {
    let mut watcher = Watcher::new(sightings);
    until(film, watcher.ends(), &mut |frame| watcher.take(frame), go_on)?;
    Ok(watcher.proposed())
}

fn until(
    film: &Path,
    ends: f64,
    take: &mut dyn FnMut(Frame<'_>),
    go_on: &mut dyn FnMut(Step) -> bool,
) -> Result<(), FilmError> {
    let mut stopped = false;
    frames(film, |frame| {
        take(frame);
        stopped = !go_on(Step::Pictures(frame.at));
        // A little more, for the time from one picture to the next.
        !stopped && frame.at <= ends + 0.5
    })?;
    if stopped { Err(FilmError::Stopped) } else { Ok(()) }
}

//! Pictures of a film for people to look at: a strip through all of it, and every picture of a short stretch.

use super::child::{Ended, Output};
use super::decode::{Picture, pictures};
use super::{FilmError, program_reading, stamps};
use std::path::Path;

/// Pieces in which the program's output is taken where none is wanted, bytes.
const PIECE: usize = 1 << 12;
/// So much before a stretch its reading begins, seconds: some kinds of film are found only roughly.
const BEFORE: f64 = 1.0;

/// How long a film says that it is, seconds. `None` if it does not say. It is read no further.
///
/// # Errors
/// [`FilmError`] if it cannot be read at all.
pub fn length(film: &Path) -> Result<Option<f64>, FilmError> {
    // Without an output the program says what the film is and ends.
    let mut output = Output::start(program_reading(film, &[]), PIECE, stamps::wanted)?;
    while output.piece()?.is_some() {}
    if output.ended() == Ended::NotThere {
        return Err(FilmError::NoProgram);
    }
    let mut told = None;
    for line in &output.remarks {
        if stamps::is_complaint(&line) {
            return Err(FilmError::Format(line.rsplit(": ").next().unwrap_or_default().to_owned()));
        }
        told = stamps::length(&line).or(told);
    }
    Ok(told)
}

/// Gives the pictures of a film that stand for themselves (one in every second or every few), `high` points down, until `take` says to
/// stop. They are found quickly, because those between them are not worked out.
///
/// # Errors
/// [`FilmError`].
pub fn key_pictures(film: &Path, high: usize, mut take: impl FnMut(Picture) -> bool) -> Result<(), FilmError> {
    // Some kinds of pictures are worked out all the same, and then left out; for others that counts as a fault.
    let filter = format!("select=key,{}", scaled(high));
    match pictures(film, &["-skip_frame", "nokey"], &filter, &mut take) {
        Err(FilmError::Broken(last)) => pictures(film, &[], &filter, |picture| picture.at <= last || take(picture)),
        told => told,
    }
}

/// Gives every picture of a film from one time to another, seconds of its clock, `high` points down, until `take` says to stop. `go_on` is
/// asked at every picture, also at those that come before.
///
/// # Errors
/// [`FilmError`].
pub fn pictures_between(
    film: &Path,
    (from, to): (f64, f64),
    high: usize,
    go_on: impl Fn() -> bool,
    mut take: impl FnMut(Picture) -> bool,
) -> Result<(), FilmError> {
    let begin = (from - BEFORE).max(0.0);
    if begin > 0.0 {
        let mut first = None;
        let at = format!("{begin:.3}");
        pictures(film, &["-ss", &at], &scaled(high), |picture| {
            let began = *first.get_or_insert(picture.at);
            // If the beginning was missed, everything is read anew below.
            go_on() && began <= from && picture.at <= to && (picture.at < from || take(picture))
        })?;
        if !go_on() || first.is_some_and(|at| at <= from) {
            return Ok(());
        }
    }
    pictures(film, &[], &scaled(high), |picture| go_on() && picture.at <= to && (picture.at < from || take(picture)))
}

/// So many points down, in the shape that it is shown in (`dar`). Twice a half, because some kinds of picture have only even widths.
fn scaled(high: usize) -> String {
    format!("scale=w='2*ceil({high}*dar/2)':h={high}:flags=area,setsar=1")
}

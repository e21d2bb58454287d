//! Pictures of a film for people to look at: a strip through all of it, and every picture of a short stretch.

use super::child::{Ended, Output};
use super::frames::{Clock, why};
use super::{FilmError, program_reading, stamps};
use std::path::Path;

/// A picture to look at, turned upright and with square points.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Its stamp, seconds of the film's clock.
    pub at: f64,
    /// Points across.
    pub wide: usize,
    /// Points down.
    pub high: usize,
    /// Red, green and blue of every point, row by row.
    pub rgb: Vec<u8>,
}

/// Pieces in which the program's output is taken, bytes.
const PIECE: usize = 1 << 16;
/// The largest picture that is taken, bytes: a panorama at the heights that are asked for.
const LARGEST: usize = 1 << 24;
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
    match given(film, &["-skip_frame", "nokey"], "select=key,", high, &mut take) {
        Err(FilmError::Broken(last)) => {
            given(film, &[], "select=key,", high, |picture| picture.at <= last || take(picture))
        }
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
        given(film, &["-ss", &at], "", high, |picture| {
            let began = *first.get_or_insert(picture.at);
            // If the beginning was missed, everything is read anew below.
            go_on() && began <= from && picture.at <= to && (picture.at < from || take(picture))
        })?;
        if !go_on() {
            return Ok(());
        }
        if first.is_some_and(|at| at <= from) {
            return Ok(());
        }
    }
    given(film, &[], "", high, |picture| go_on() && picture.at <= to && (picture.at < from || take(picture)))
}

fn given(
    film: &Path,
    reading: &[&str],
    first: &str,
    high: usize,
    mut take: impl FnMut(Picture) -> bool,
) -> Result<(), FilmError> {
    let mut command = program_reading(film, reading);
    // Twice a half, because some kinds of picture have only even widths; `dar` is the shape that it is shown in.
    let filter =
        format!("{first}scale=w='2*ceil({high}*dar/2)':h={high}:flags=area,setsar=1,format=rgb24,showinfo=checksum=0");
    command.args(["-map", "0:V:0", "-an", "-sn", "-dn", "-vf", &filter, "-fps_mode", "passthrough"]);
    command.args(["-f", "rawvideo", "pipe:1"]);
    let mut output = Output::start(command, PIECE, stamps::wanted)?;
    let mut clock = Clock::default();
    let (mut held, mut last): (Vec<u8>, f64) = (Vec::new(), f64::NEG_INFINITY);
    let mut next: Option<(f64, usize, usize)> = None;
    while let Some(piece) = output.piece()? {
        held.extend(piece);
        loop {
            if next.is_none() && !held.is_empty() {
                let at = clock.next(&output)?;
                let (wide, high) = clock.size.ok_or(FilmError::Stamps)?;
                if at <= last || wide * high * 3 > LARGEST {
                    return Err(FilmError::Stamps);
                }
                last = at;
                next = Some((at, wide, high));
            }
            let Some((at, wide, high)) = next.filter(|(_, wide, high)| held.len() >= wide * high * 3) else { break };
            let rest = held.split_off(wide * high * 3);
            next = None;
            if !take(Picture { at, wide, high, rgb: std::mem::replace(&mut held, rest) }) {
                return Ok(());
            }
        }
    }
    if last == f64::NEG_INFINITY {
        // Nothing after the place at which reading was to begin is no fault of the film.
        let after_its_end = reading.contains(&"-ss") && output.ended() == Ended::Well;
        return if after_its_end { Ok(()) } else { Err(why(&mut output, FilmError::NoPicture)) };
    }
    if output.ended() == Ended::Well { Ok(()) } else { Err(FilmError::Broken(last)) }
}

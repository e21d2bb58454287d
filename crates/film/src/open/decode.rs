//! Decoding a film's pictures, each with its stamp, from one decode.

use super::child::{Ended, Output};
use super::{FilmError, program_reading, stamps};
use std::path::Path;
use std::time::Duration;

/// A picture, turned upright.
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
const PIECE: usize = 1 << 17;
/// The largest picture that is taken, bytes: a panorama at the heights that are asked for.
const LARGEST: usize = 1 << 24;

/// Gives every picture of a film, scaled by a filter, with its stamp, until `take` says to stop. `reading` are options for how the film is
/// read.
pub(super) fn pictures(
    film: &Path,
    reading: &[&str],
    filter: &str,
    mut take: impl FnMut(Picture) -> bool,
) -> Result<(), FilmError> {
    let mut command = program_reading(film, reading);
    let filter = format!("{filter},format=rgb24,showinfo=checksum=0");
    // Every picture as it comes, none doubled or left out to make them even.
    command.args(["-map", "0:V:0", "-an", "-sn", "-dn", "-vf", &filter, "-fps_mode", "passthrough"]);
    command.args(["-f", "rawvideo", "pipe:1"]);
    let mut output = Output::start(command, PIECE, stamps::wanted)?;
    let (mut clock, mut held, mut last) = (Clock::default(), Vec::new(), f64::NEG_INFINITY);
    while is_more(&mut output, &mut held)? {
        let (at, (wide, high)) = clock.next(&output)?;
        // Two pictures at one time, or backwards, would be measured wrongly.
        if at <= last || wide * high * 3 > LARGEST {
            return Err(FilmError::Stamps);
        }
        let Some(rgb) = exactly(&mut output, &mut held, wide * high * 3)? else { break };
        last = at;
        if !take(Picture { at, wide, high, rgb }) {
            return Ok(());
        }
    }
    if last == f64::NEG_INFINITY {
        // Nothing after the place at which reading was to begin is no fault of the film.
        let after_its_end = reading.contains(&"-ss") && output.ended() == Ended::Well;
        return if after_its_end { Ok(()) } else { Err(why(&mut output, FilmError::NoPicture)) };
    }
    // What comes after a fault would be missing without a word.
    if output.ended() == Ended::Well { Ok(()) } else { Err(FilmError::Broken(last)) }
}

/// Whether anything comes after what has been taken; what came of it is held.
fn is_more(output: &mut Output, held: &mut Vec<u8>) -> Result<bool, FilmError> {
    if held.is_empty() {
        held.extend(output.piece()?.unwrap_or_default());
    }
    Ok(!held.is_empty())
}

/// So many bytes of the output, of which `held` have come already; `None` if it ends before.
fn exactly(output: &mut Output, held: &mut Vec<u8>, count: usize) -> Result<Option<Vec<u8>>, FilmError> {
    while held.len() < count {
        match output.piece()? {
            Some(piece) => held.extend(piece),
            None => return Ok(None),
        }
    }
    let rest = held.split_off(count);
    Ok(Some(std::mem::replace(held, rest)))
}

/// What the remarks before the first picture say of all stamps.
#[derive(Default)]
struct Clock {
    unit: Option<f64>,
    begins: f64,
}

impl Clock {
    /// The next picture's stamp, counted from the film's beginning, and its points across and down.
    fn next(&mut self, output: &Output) -> Result<(f64, (usize, usize)), FilmError> {
        loop {
            // The stamp of a picture is written before the picture, and their unit before all.
            let line = output.remarks.recv_timeout(Duration::from_secs(10)).map_err(|_| FilmError::Stamps)?;
            self.unit = stamps::unit(&line).or(self.unit);
            self.begins = stamps::begins(&line).unwrap_or(self.begins);
            if line.contains("pts_time:") {
                let at = self.unit.and_then(|unit| stamps::stamp(&line, unit)).ok_or(FilmError::Stamps)?;
                return Ok((at - self.begins, stamps::size(&line).ok_or(FilmError::Stamps)?));
            }
        }
    }
}

/// Why nothing came.
pub(super) fn why(output: &mut Output, nothing: FilmError) -> FilmError {
    if output.ended() == Ended::NotThere {
        return FilmError::NoProgram;
    }
    let told: Vec<String> = output.remarks.iter().filter(|line| stamps::is_complaint(line)).collect();
    if told.iter().any(|line| line.contains("match")) {
        return nothing;
    }
    // What stands before the last colon is the film's name, which the caller tells.
    let last = told.last().and_then(|line| line.rsplit(": ").next()).map(str::to_owned);
    FilmError::Format(last.unwrap_or_else(|| "ffmpeg gives nothing of it".to_owned()))
}

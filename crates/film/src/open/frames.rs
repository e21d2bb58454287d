//! A film's pictures, each with its stamp, from one decode.

use super::child::{Ended, Output};
use super::{FilmError, program, stamps};
use crate::picture::{Frame, HIGH, WIDE};
use std::path::Path;
use std::time::Duration;

/// Gives every picture of a film, turned upright and made small, to `take`, in order, until that says to stop. Returns how many there were.
///
/// # Errors
/// [`FilmError`].
pub fn frames(film: &Path, mut take: impl FnMut(Frame<'_>) -> bool) -> Result<u64, FilmError> {
    let mut command = program(film);
    let filter = format!("showinfo=checksum=0,scale={WIDE}:{HIGH}:flags=area,format=rgb24");
    // Every frame as it comes, none doubled or left out to make them even.
    command.args(["-map", "0:V:0", "-an", "-sn", "-dn", "-vf", &filter, "-fps_mode", "passthrough"]);
    command.args(["-f", "rawvideo", "pipe:1"]);
    let mut output = Output::start(command, WIDE * HIGH * 3, stamps::wanted)?;
    let (mut count, mut last) = (0u64, f64::NEG_INFINITY);
    let mut clock = Clock::default();
    while let Some(rgb) = output.piece()? {
        if rgb.len() < WIDE * HIGH * 3 {
            break;
        }
        let at = clock.next(&output)?;
        // Two pictures at one time, or backwards, would be measured wrongly.
        if at <= last {
            return Err(FilmError::Stamps);
        }
        last = at;
        count += 1;
        if !take(Frame { at, rgb: &rgb }) {
            return Ok(count);
        }
    }
    if count == 0 {
        return Err(why(&mut output, FilmError::NoPicture));
    }
    // What comes after a fault would be missing without a word.
    if output.ended() == Ended::Well { Ok(count) } else { Err(FilmError::Broken(last)) }
}

/// What the remarks before the first picture say of all stamps.
#[derive(Default)]
pub(super) struct Clock {
    unit: Option<f64>,
    begins: f64,
    /// Points across and down of the last picture.
    pub size: Option<(usize, usize)>,
}

impl Clock {
    /// The next picture's stamp, counted from the film's beginning.
    pub fn next(&mut self, output: &Output) -> Result<f64, FilmError> {
        loop {
            // The stamp of a picture is written before the picture, and their unit before all.
            let line = output.remarks.recv_timeout(Duration::from_secs(10)).map_err(|_| FilmError::Stamps)?;
            self.unit = stamps::unit(&line).or(self.unit);
            self.begins = stamps::begins(&line).unwrap_or(self.begins);
            if line.contains("pts_time:") {
                self.size = stamps::size(&line);
                let at = self.unit.and_then(|unit| stamps::stamp(&line, unit)).ok_or(FilmError::Stamps)?;
                return Ok(at - self.begins);
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

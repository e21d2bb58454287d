//! A film's sound, with the stamp of its beginning.

use super::child::{Ended, Output};
use super::{FilmError, program, stamps};
use crate::sound::RATE;
use std::path::Path;

/// The sound of a film, mono at [`RATE`].
#[derive(Debug, Clone, PartialEq)]
pub struct FilmSound {
    /// When it begins by the film's clock, seconds.
    pub begins: f64,
    /// Its samples.
    pub samples: Vec<f32>,
}

/// The longest sound that is read: three hours.
const MOST: usize = 3 * 3600 * RATE as usize;
/// How far the stamps may lie from a count of samples, seconds. Gaps are filled with silence, so they do not run apart.
const APART: f64 = 0.012;

/// Which of its channels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Channel {
    /// All of them together.
    All,
    /// The left one, or the only one.
    Left,
    /// The right one, or the only one.
    Right,
}

/// Reads it all. `go_on` is called with how many seconds have been read, and says whether to.
///
/// # Errors
/// [`FilmError`].
pub fn sound(film: &Path, go_on: impl FnMut(f64) -> bool) -> Result<FilmSound, FilmError> {
    sound_of(film, Channel::All, go_on)
}

/// The same of one channel.
///
/// # Errors
/// [`FilmError`].
pub fn sound_of(film: &Path, channel: Channel, mut go_on: impl FnMut(f64) -> bool) -> Result<FilmSound, FilmError> {
    let mut command = program(film);
    let one = match channel {
        Channel::All => "",
        Channel::Left => "aformat=channel_layouts=stereo,pan=mono|c0=c0,",
        Channel::Right => "aformat=channel_layouts=stereo,pan=mono|c0=c1,",
    };
    let filter = format!(
        "{one}aresample={RATE}:async=1:min_hard_comp=0.01,aformat=sample_fmts=flt:channel_layouts=mono,ashowinfo"
    );
    command.args(["-map", "0:a:0", "-vn", "-sn", "-dn", "-af", &filter, "-f", "f32le", "pipe:1"]);
    let mut output = Output::start(command, 4 * RATE as usize, stamps::wanted)?;
    let mut samples: Vec<f32> = Vec::new();
    while let Some(piece) = output.piece()? {
        let values = piece.chunks_exact(4).map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]));
        samples.extend(values.map(|v| if v.is_finite() { v.clamp(-4.0, 4.0) } else { 0.0 }));
        if !go_on(samples.len() as f64 / f64::from(RATE)) {
            return Err(FilmError::Stopped);
        }
        if samples.len() > MOST {
            return Err(FilmError::Format("its sound is longer than three hours; cut it".to_owned()));
        }
    }
    if samples.is_empty() {
        return Err(super::decode::why(&mut output, FilmError::NoSound));
    }
    if output.ended() != Ended::Well {
        return Err(FilmError::Broken(samples.len() as f64 / f64::from(RATE)));
    }
    // The first stamp says when it begins; every other must be where the count of samples is.
    let mut begins: Option<f64> = None;
    let (mut counted, mut film_begins) = (0u64, 0.0);
    for line in &output.remarks {
        film_begins = stamps::begins(&line).unwrap_or(film_begins);
        // Sound at this rate is counted in samples.
        let Some(at) = stamps::stamp(&line, 1.0 / f64::from(RATE)) else { continue };
        let begin = at - counted as f64 / f64::from(RATE);
        if begins.is_some_and(|first| (begin - first).abs() > APART) {
            return Err(FilmError::Stamps);
        }
        begins = begins.or(Some(begin));
        counted += samples_of(&line);
    }
    Ok(FilmSound { begins: begins.ok_or(FilmError::Stamps)? - film_begins, samples })
}

/// How many samples a line is about.
fn samples_of(line: &str) -> u64 {
    let after = line.split("nb_samples:").nth(1).unwrap_or_default();
    after.split_whitespace().next().and_then(|n| n.parse().ok()).unwrap_or(0)
}

//! Sound files made from a finished schedule: a click on the bar grid, and linear timecode.
//!
//! Both are 16-bit and mono (timecode with the guide beside it is stereo). They are written sample by sample to any seekable
//! writer, so that a long file needs no more memory than a short one.

mod click;
mod timecode;

pub use click::{ClickOptions, click};
pub use timecode::{TimecodeOptions, timecode, timecode_with_guide, word};

use letfall_core::prepared::Prepared;
use letfall_core::time::{SongSpan, SongTime};
use std::io::{Seek, SeekFrom, Write};

/// Samples a second unless another rate is asked for.
pub const SAMPLE_RATE: u32 = 48_000;

/// What was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Written {
    /// Song time of the first sample: start playing this much before (or, if positive, after) song time 0.
    pub starts_at: SongTime,
    /// How many samples.
    pub samples: u64,
    /// Samples a second.
    pub sample_rate: u32,
}

/// Why no sound file was written.
#[derive(Debug, thiserror::Error)]
pub enum AudioError {
    /// Longer than a WAV file can hold.
    #[error(
        "the song is longer than a WAV file can hold (4 GB: 12 hours at 48000 samples a second); give it fewer bars"
    )]
    TooLong,
    /// A sample rate that players do not support.
    #[error("{0} samples a second cannot be written; use 8000 to 192000, such as 48000")]
    Rate(u32),
    /// The file could not be written.
    #[error("the sound file cannot be written: {0}")]
    Write(#[from] hound::Error),
}

/// The stretch of song time that a file covers. Every file of a service begins at the same instant.
fn stretch(plan: &Prepared) -> (SongTime, SongTime) {
    let grid = plan.grid();
    (grid.time_at(plan.schedule().opens_at()), grid.bar_time(plan.service().song.end_bar()))
}

/// How many samples a span of time has; an error if a WAV file cannot hold them.
fn samples(span: SongSpan, rate: u32) -> Result<u64, AudioError> {
    if !(8000..=192_000).contains(&rate) {
        return Err(AudioError::Rate(rate));
    }
    let micros = u64::try_from(span.micros().max(0)).map_err(|_| AudioError::TooLong)?;
    let count = micros * u64::from(rate) / 1_000_000;
    if count * 2 > u64::from(u32::MAX) - 1000 { Err(AudioError::TooLong) } else { Ok(count) }
}

/// The nearest sample to a time after the start.
fn sample_of(after: SongSpan, rate: u32) -> i64 {
    nearest(i128::from(after.micros()) * i128::from(rate), 1_000_000)
}

/// The whole number nearest to a fraction. A day of samples or microseconds is far within range.
fn nearest(num: i128, den: i128) -> i64 {
    i64::try_from(letfall_core::time::round::div_nearest(num, den)).unwrap_or(i64::MAX)
}

fn writer<W: Write + Seek>(to: W, rate: u32, channels: u16) -> Result<hound::WavWriter<W>, AudioError> {
    let spec =
        hound::WavSpec { channels, sample_rate: rate, bits_per_sample: 16, sample_format: hound::SampleFormat::Int };
    Ok(hound::WavWriter::new(to, spec)?)
}

/// Adds a chunk of texts about the file to a finished WAV file (RIFF LIST of type INFO: ISFT for the program, ICMT for remarks).
fn add_info<W: Write + Seek>(to: &mut W, remark: &str) -> Result<(), AudioError> {
    let failed = |why| AudioError::Write(hound::Error::IoError(why));
    let mut list = b"INFO".to_vec();
    for (id, text) in [(b"ISFT", "Letfall"), (b"ICMT", remark)] {
        // Texts end with a zero, and chunks begin on even places.
        let mut text = [text.as_bytes(), &[0]].concat();
        let length = u32::try_from(text.len()).unwrap_or(0);
        if text.len() % 2 == 1 {
            text.push(0);
        }
        list.extend_from_slice(id);
        list.extend_from_slice(&length.to_le_bytes());
        list.extend_from_slice(&text);
    }
    let end = to.seek(SeekFrom::End(0)).map_err(failed)?;
    if end % 2 == 1 {
        to.write_all(&[0]).map_err(failed)?;
    }
    to.write_all(b"LIST").map_err(failed)?;
    to.write_all(&u32::try_from(list.len()).unwrap_or(0).to_le_bytes()).map_err(failed)?;
    to.write_all(&list).map_err(failed)?;
    let end = to.stream_position().map_err(failed)?;
    to.seek(SeekFrom::Start(4)).map_err(failed)?;
    to.write_all(&u32::try_from(end - 8).map_err(|_| AudioError::TooLong)?.to_le_bytes()).map_err(failed)?;
    to.flush().map_err(failed)
}

/// Converts a sample in ±1 to 16 bits.
#[allow(clippy::cast_possible_truncation)] // clamped
fn pcm(value: f64) -> i16 {
    libm::round(value.clamp(-1.0, 1.0) * 32_767.0) as i16
}

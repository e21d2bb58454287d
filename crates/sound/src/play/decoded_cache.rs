//! A decoded recording, kept in an unnamed temporary file, so that hours of sound take no memory and any position can be read
//! at once.

use super::renderer::Sound;
use crate::Decoder;
use std::fs::File;
use std::io::{BufWriter, Error, Read as _, Seek as _, SeekFrom, Write as _};
use std::sync::{Arc, Mutex, PoisonError};

/// One channel, 16 bits a sample. Clones share the same file.
#[derive(Debug, Clone)]
pub struct DecodedCache {
    file: Arc<Mutex<File>>,
    sample_rate: u32,
    frames: i64,
    bytes: Vec<u8>,
}

impl DecodedCache {
    /// Decodes a whole recording. `go_on` is called now and then; returns `None` once it returns false.
    ///
    /// # Errors
    /// If the system's folder for temporary files cannot be written to or is full.
    #[allow(clippy::cast_possible_truncation)] // clamped
    pub fn of(decoder: &mut Decoder, mut go_on: impl FnMut() -> bool) -> Result<Option<DecodedCache>, Error> {
        let mut out = BufWriter::with_capacity(1 << 18, tempfile::tempfile()?);
        let mut frames = 0i64;
        while let Some(block) = decoder.next_block() {
            for sample in block {
                out.write_all(&((sample.clamp(-1.0, 1.0) * 32767.0) as i16).to_le_bytes())?;
            }
            frames += i64::try_from(block.len()).unwrap_or(0);
            if !go_on() {
                return Ok(None);
            }
        }
        let file = out.into_inner().map_err(std::io::IntoInnerError::into_error)?;
        let sample_rate = decoder.facts().sample_rate;
        Ok(Some(DecodedCache { file: Arc::new(Mutex::new(file)), sample_rate, frames, bytes: Vec::new() }))
    }
}

impl Sound for DecodedCache {
    fn sample_rate(&self) -> f64 {
        f64::from(self.sample_rate)
    }

    fn frames(&self) -> i64 {
        self.frames
    }

    fn read(&mut self, from: i64, out: &mut [f32]) {
        out.fill(0.0);
        let lead = usize::try_from(-from.min(0)).unwrap_or(0).min(out.len());
        let out = &mut out[lead..];
        let from = from.max(0);
        let count = usize::try_from((self.frames - from).max(0)).unwrap_or(0).min(out.len());
        self.bytes.resize(count * 2, 0);
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        let place = SeekFrom::Start(u64::try_from(from * 2).unwrap_or(0));
        if file.seek(place).is_ok() && file.read_exact(&mut self.bytes).is_ok() {
            for (sample, bytes) in out.iter_mut().zip(self.bytes.as_chunks().0) {
                *sample = f32::from(i16::from_le_bytes(*bytes)) / 32768.0;
            }
        }
    }
}

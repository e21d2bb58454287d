//! A file that stops taking bytes when nobody wants it any more: long sound files are streamed, and can be stopped in the middle.

use super::job::{ExportStep, Progress};
use std::io::{Error, Seek, SeekFrom, Write};

/// Passes everything on, and asks before each part.
pub struct Watched<'a, W> {
    to: W,
    progress: &'a mut dyn Progress,
    stopped: bool,
}

impl<'a, W: Write + Seek> Watched<'a, W> {
    /// Watches over a file.
    pub fn new(to: W, progress: &'a mut dyn Progress) -> Watched<'a, W> {
        Watched { to, progress, stopped: false }
    }
}

impl<W: Write> Write for Watched<'_, W> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.stopped = self.stopped || !self.progress.go_on(ExportStep::Writing);
        if self.stopped { Err(Error::other(Stopped)) } else { self.to.write(bytes) }
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.to.flush()
    }
}

impl<W: Seek> Seek for Watched<'_, W> {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.to.seek(to)
    }
}

/// Somebody stopped it.
#[derive(Debug, thiserror::Error)]
#[error("it was stopped")]
pub struct Stopped;

/// Whether an error of writing means that somebody stopped it.
pub fn is_stopped(error: &Error) -> bool {
    error.get_ref().is_some_and(<dyn std::error::Error + Send + Sync + 'static>::is::<Stopped>)
}

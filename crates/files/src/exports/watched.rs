//! A writer that fails once the export is stopped: long sound files are streamed, and can be stopped half way.

use super::job::{ExportStep, Progress};
use std::io::{Error, Seek, SeekFrom, Write};

/// Passes everything on, but first asks before each write whether to go on.
pub struct Watched<'a, W> {
    to: W,
    progress: &'a mut dyn Progress,
    stopped: bool,
}

impl<'a, W: Write + Seek> Watched<'a, W> {
    /// Wraps a writer.
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

/// The export was stopped.
#[derive(Debug, thiserror::Error)]
#[error("it was stopped")]
pub struct Stopped;

/// Whether a write failed because the export was stopped.
pub fn is_stopped(error: &Error) -> bool {
    error.get_ref().is_some_and(<dyn std::error::Error + Send + Sync + 'static>::is::<Stopped>)
}

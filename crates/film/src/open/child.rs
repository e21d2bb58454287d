//! A child program whose output is taken piece by piece, and which is killed when that ends.

use super::FilmError;
use std::io::{BufRead as _, BufReader, Read as _};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, sync_channel};
use std::thread;
use std::time::Duration;

/// For so long the program may give nothing.
const PATIENCE: Duration = Duration::from_mins(1);
/// Pieces that wait to be taken.
const WAITING: usize = 4;
/// The longest remark that is kept, bytes.
const LONGEST: usize = 2000;

/// What the program gives.
pub struct Output {
    child: Child,
    pieces: Receiver<Vec<u8>>,
    /// Remarks that the caller wants, in order.
    pub remarks: Receiver<String>,
}

impl Output {
    /// Starts it. Its output comes in pieces of `size` bytes, the last of which may be shorter; `keep` says which lines of its remarks are
    /// wanted.
    pub fn start(mut command: Command, size: usize, keep: fn(&str) -> bool) -> Result<Output, FilmError> {
        let started = command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn();
        let mut child = started.map_err(|_| FilmError::NoProgram)?;
        let (Some(mut out), Some(err)) = (child.stdout.take(), child.stderr.take()) else {
            return Err(FilmError::Stalled);
        };
        let (give, pieces) = sync_channel(WAITING);
        thread::spawn(move || {
            loop {
                let mut piece = Vec::with_capacity(size);
                let read = out.by_ref().take(size as u64).read_to_end(&mut piece);
                if read.is_err() || piece.is_empty() || give.send(piece).is_err() {
                    return;
                }
            }
        });
        let (tell, remarks) = std::sync::mpsc::channel();
        thread::spawn(move || {
            let mut lines = BufReader::new(err);
            let mut line = Vec::new();
            // A line without end is cut, so that it fills no memory.
            while lines.by_ref().take(LONGEST as u64).read_until(b'\n', &mut line).is_ok_and(|n| n > 0) {
                let text = String::from_utf8_lossy(&line).trim().to_owned();
                if keep(&text) && tell.send(text).is_err() {
                    return;
                }
                line.clear();
            }
        });
        Ok(Output { child, pieces, remarks })
    }

    /// The next piece; `None` at the end.
    pub fn piece(&mut self) -> Result<Option<Vec<u8>>, FilmError> {
        match self.pieces.recv_timeout(PATIENCE) {
            Ok(piece) => Ok(Some(piece)),
            Err(RecvTimeoutError::Disconnected) => Ok(None),
            Err(RecvTimeoutError::Timeout) => Err(FilmError::Stalled),
        }
    }

    /// After the end of its output: how the program ended.
    pub fn ended(&mut self) -> Ended {
        match self.child.wait() {
            Ok(status) if status.success() => Ended::Well,
            // What starts it within limits says so when it is not there (POSIX: 126 and 127 of a utility that runs another).
            Ok(status) if matches!(status.code(), Some(126 | 127)) => Ended::NotThere,
            _ => Ended::Badly,
        }
    }
}

/// How a program ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// It says that all went well.
    Well,
    /// It could not be started.
    NotThere,
    /// It gave up, or was stopped by a limit.
    Badly,
}

impl Drop for Output {
    fn drop(&mut self) {
        // It has nothing to save.
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

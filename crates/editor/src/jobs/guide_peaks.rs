//! Guide recordings: read in the background, kept as peaks while the program runs, drawn under the ruler.

use super::job::{Job, JobContext};
use crate::document::{Document, Waker};
use letfall_core::show::Guide;
use letfall_core::time::{SongSpan, round};
use letfall_sound::Peaks;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A recording that was read to its end.
pub struct GuideRead {
    /// Its peaks.
    pub peaks: Peaks,
    /// What was wrong with it, one sentence each.
    pub notes: Vec<String>,
}

/// Reads a whole recording; `go_on` tells whether the result is still wanted.
///
/// # Errors
/// Why it cannot be read, and what to do about it.
pub fn read(path: &Path, mut go_on: impl FnMut() -> bool) -> Result<GuideRead, String> {
    let fail = |why: String| format!("{}: {why}", path.display());
    let mut decoder = letfall_files::guides::open(path).map_err(fail)?;
    let peaks = Peaks::of(&mut decoder, |_| go_on()).ok_or_else(|| fail("it was stopped".to_owned()))?;
    if peaks.frames == 0 {
        return Err(fail("there is no sound in it; export the recording again".to_owned()));
    }
    Ok(GuideRead { peaks, notes: decoder.notes().to_vec() })
}

/// What the show stores about a recording: its path relative to the show's folder, its checksum and its length.
pub fn facts(path: &Path, folder: Option<&Path>, peaks: &Peaks) -> Option<Guide> {
    // If it is in the show's folder, the path is relative, so that the whole folder can be moved.
    let kept = folder.and_then(|f| path.strip_prefix(f).ok()).unwrap_or(path);
    let guide = |sha256: String| Guide {
        path: kept.to_string_lossy().into_owned(),
        sha256,
        length: SongSpan::from_micros(round::nearest(peaks.frames as f64 * 1e6 / f64::from(peaks.sample_rate))),
    };
    let sum = letfall_files::guides::sum(folder, &guide(String::new()))?;
    Some(guide(sum))
}

/// Recordings that have been read, by path.
#[derive(Default)]
pub struct GuidePeaks {
    read: BTreeMap<PathBuf, Arc<Peaks>>,
    failed: BTreeSet<PathBuf>,
    coming: Option<(PathBuf, Job<Result<GuideRead, String>>)>,
}

impl GuidePeaks {
    /// Stores the peaks of a recording.
    pub fn keep(&mut self, path: PathBuf, peaks: Peaks) {
        self.failed.remove(&path);
        self.read.insert(path, Arc::new(peaks));
    }

    /// The peaks of a recording.
    ///
    /// # Errors
    /// Why there are none, in words for the place where they are drawn.
    pub fn of(&self, path: &Path, exists: Option<bool>) -> Result<Arc<Peaks>, String> {
        if let Some(peaks) = self.read.get(path) {
            return Ok(Arc::clone(peaks));
        }
        let name = path.file_name().map_or_else(|| path.to_string_lossy(), |name| name.to_string_lossy());
        Err(match exists {
            Some(false) => format!("The recording {name} is not there."),
            _ if self.failed.contains(path) => format!("{name} could not be read."),
            _ => format!("Reading {name} …"),
        })
    }

    /// Called once a frame: takes over what was read, and starts reading the recording of the song on screen when it is first
    /// needed.
    pub fn poll(&mut self, document: &mut Document, wake: Waker) {
        if let Some((path, job)) = &mut self.coming
            && let Some(done) = job.poll()
        {
            let path = path.clone();
            self.coming = None;
            match done.and_then(|read| read) {
                Ok(read) => self.keep(path, read.peaks),
                Err(why) => {
                    self.failed.insert(path);
                    document.fail(why);
                }
            }
        }
        // A missing recording is reported by the checks.
        if self.coming.is_some() || !document.has_recording() {
            return;
        }
        let Some(path) = document.guide_path().filter(|p| !self.read.contains_key(p) && !self.failed.contains(p))
        else {
            return;
        };
        let own = path.clone();
        let work = move |job: &JobContext<Result<GuideRead, String>>| read(&own, || job.step(0, "reading"));
        self.coming = Job::start("Reading the guide", 1, wake, work).ok().map(|job| (path, job));
    }
}

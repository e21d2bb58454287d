//! Every picture around the one that is shown, so that a person can go from one to the next.

use crate::document::Waker;
use crate::jobs::Job;
use letfall_film::open::{Picture, pictures_between};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Points of a picture, down.
const HIGH: usize = 300;
/// So many pictures are held at once.
const MOST: usize = 96;
/// So much before and after the time that is wanted, seconds.
const AROUND: (f64, f64) = (0.3, 1.0);

type Read = Result<Vec<Arc<Picture>>, String>;

/// Pictures of a stretch, and the reading of the next.
#[derive(Default)]
pub struct CloseUp {
    pictures: Vec<Arc<Picture>>,
    /// What has been read, seconds, whether or not there are pictures in it.
    covers: Option<(f64, f64)>,
    /// The stretch that is read, and the time for which.
    coming: Option<((f64, f64), f64, Job<Read>)>,
    /// Pictures to go on once those are there.
    steps: i32,
}

impl CloseUp {
    /// The picture that a player shows at a time; `None` if it is not there yet.
    pub fn at(&self, at: f64) -> Option<&Arc<Picture>> {
        if !self.has(at) {
            return None;
        }
        self.pictures.get(self.shown(at)?)
    }

    /// The number of the last picture at or before a time.
    fn shown(&self, at: f64) -> Option<usize> {
        self.pictures.partition_point(|picture| picture.at <= at + 1e-6).checked_sub(1)
    }

    /// The number of the picture so many further, or back; it may lie beyond what is there.
    fn further(&self, at: f64, steps: i32) -> i64 {
        i64::try_from(self.shown(at).unwrap_or(0)).unwrap_or(0) + i64::from(steps)
    }

    /// Whether a time has been read.
    fn has(&self, at: f64) -> bool {
        self.covers.is_some_and(|(from, to)| (from..=to).contains(&at))
    }

    /// The stamps of all pictures that are there.
    pub fn stamps(&self) -> impl Iterator<Item = f64> + '_ {
        self.pictures.iter().map(|picture| picture.at)
    }

    /// The usual time from one picture to the next, seconds: the median of those that are there.
    pub fn step(&self) -> Option<f64> {
        let mut steps: Vec<f64> = self.pictures.windows(2).map(|pair| pair[1].at - pair[0].at).collect();
        steps.sort_by(f64::total_cmp);
        steps.get(steps.len() / 2).copied()
    }

    /// Whether pictures are being read.
    pub const fn is_coming(&self) -> bool {
        self.coming.is_some()
    }

    /// Reads the pictures around a time if they are not there. `ahead` says whether somebody goes forward, so that more is read there.
    pub fn want(&mut self, film: &Path, at: f64, ahead: bool, wake: &Waker) -> Result<(), String> {
        // One reading at a time: whoever drags along the film asks anew when it is done.
        if self.has(at) || self.coming.is_some() {
            return Ok(());
        }
        self.read(film.to_owned(), at, ahead, wake.clone())
    }

    fn read(&mut self, film: PathBuf, at: f64, ahead: bool, wake: Waker) -> Result<(), String> {
        let (before, after) = if ahead { AROUND } else { (AROUND.1, AROUND.0) };
        let stretch = ((at - before).max(0.0), at + after);
        let job = Job::start("Pictures", 1, wake, move |job| {
            let mut pictures: Vec<Arc<Picture>> = Vec::new();
            let goes_on = || job.step(0, "");
            let read = pictures_between(&film, stretch, HIGH, goes_on, |picture| {
                // Of very many, those around the time that is wanted.
                if pictures.len() >= MOST {
                    if picture.at > at + 0.1 {
                        return false;
                    }
                    pictures.remove(0);
                }
                pictures.push(Arc::new(picture));
                true
            });
            read.map(|()| pictures).map_err(|why| why.to_string())
        })?;
        self.coming = Some((stretch, at, job));
        Ok(())
    }

    /// Forgets where somebody wanted to go on to: somewhere else was asked for.
    pub const fn forget_steps(&mut self) {
        self.steps = 0;
    }

    /// Goes so many pictures on, or back, from a time. Returns where that is; `None` if those pictures must be read first.
    pub fn stepped(&mut self, film: &Path, at: f64, steps: i32, wake: &Waker) -> Result<Option<f64>, String> {
        let inside = self.at(at).is_some();
        let there = usize::try_from(self.further(at, steps));
        if inside && let Some(picture) = there.ok().and_then(|there| self.pictures.get(there)) {
            return Ok(Some(picture.at));
        }
        // Before the first picture, or after the last, there is nothing.
        if inside && steps < 0 && self.covers.is_some_and(|(from, _)| from <= 0.0) {
            return Ok(self.pictures.first().map(|picture| picture.at));
        }
        if self.coming.is_none() {
            self.steps = steps;
            self.read(film.to_owned(), at, steps > 0, wake.clone())?;
        }
        Ok(None)
    }

    /// Takes over what was read. Returns where to go, if somebody waits to go on from `at`.
    pub fn poll(&mut self, at: f64) -> Result<Option<f64>, String> {
        let Some(done) = self.coming.as_mut().and_then(|(.., job)| job.poll()) else { return Ok(None) };
        let Some((stretch, wanted, _)) = self.coming.take() else { return Ok(None) };
        let steps = std::mem::take(&mut self.steps);
        // What cannot be read is not read again and again.
        (self.pictures, self.covers) = (Vec::new(), Some(stretch));
        self.pictures = done.and_then(|read| read)?;
        if let (true, Some(first), Some(last)) =
            (self.pictures.len() >= MOST, self.pictures.first(), self.pictures.last())
        {
            // The time that was asked for is within it, whatever there is: it is not read again and again.
            self.covers = Some((first.at.min(wanted), last.at.max(wanted)));
        }
        if steps == 0 {
            return Ok(None);
        }
        let last = self.pictures.len().saturating_sub(1);
        let there = usize::try_from(self.further(at, steps)).unwrap_or(0).min(last);
        Ok(self.pictures.get(there).map(|picture| picture.at))
    }
}

//! Opening a film: its sound, its place in the song, and pictures for the strip. In the background.

use crate::jobs::JobContext;
use letfall_core::time::Timecode;
use letfall_files::recordings;
use letfall_film::align::Run;
use letfall_film::open::{FilmError, FilmSound, Picture, key_pictures, length};
use letfall_film::sound::RATE;
use letfall_film::study::{Step, film_sound, runs, timecode};
use letfall_sound::Peaks;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

/// Parts that the progress of opening is told in.
pub const STEPS: u8 = 100;
/// What each part of the work is of that: sound, place, strip.
const PARTS: [u8; 3] = [40, 30, 30];
/// Points of the strip's pictures, down.
const HIGH: usize = 54;
/// The most pictures of the strip. If there are more, every other one is left out.
const MOST: usize = 400;
/// Where a film lies against the song.
#[derive(Debug, Clone, PartialEq)]
pub enum Placed {
    /// By its sound.
    Sound(Vec<Run>),
    /// A person has said one place.
    Hand(Run),
    /// Not at all, and why.
    Nowhere(String),
}

impl Placed {
    /// Every run of the song in it.
    pub fn runs(&self) -> &[Run] {
        match self {
            Placed::Sound(runs) => runs,
            Placed::Hand(run) => std::slice::from_ref(run),
            Placed::Nowhere(_) => &[],
        }
    }
}

/// A film that was opened.
#[derive(Debug, Clone)]
pub struct Opened {
    /// The file.
    pub path: PathBuf,
    /// Its name.
    pub name: String,
    /// When the file was last written: another film of that name is another film.
    pub written: Option<SystemTime>,
    /// Its sound; without samples if it has none.
    pub sound: Arc<FilmSound>,
    /// Where it lies.
    pub placed: Placed,
    /// Some of its pictures, in order.
    pub strip: Vec<Picture>,
    /// How long it is, seconds.
    pub length: f64,
    /// The peaks of its sound, as shares of the highest sample of all.
    peaks: Peaks,
    /// The highest sample of all.
    highest: f32,
}

/// The lowest and the highest of some samples.
fn ends(samples: &[f32]) -> Option<(f32, f32)> {
    let first = *samples.first()?;
    Some(samples.iter().fold((first, first), |(low, high), s| (low.min(*s), high.max(*s))))
}

impl Opened {
    fn new(path: &Path, sound: FilmSound, placed: Placed, strip: Vec<Picture>) -> Opened {
        let heard = sound.begins + sound.samples.len() as f64 / f64::from(RATE);
        let last = strip.last().map_or(0.0, |picture| picture.at);
        let highest = ends(&sound.samples).map_or(1.0, |(low, high)| high.max(-low).max(1e-3));
        let peaks = Peaks::of_samples(sound.samples.iter().map(|sample| sample / highest), RATE);
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let (path, sound, length) = (path.to_owned(), Arc::new(sound), heard.max(last));
        let written = std::fs::metadata(&path).and_then(|facts| facts.modified()).ok();
        Opened { path, name, written, sound, placed, strip, length, peaks, highest }
    }

    /// The lowest and highest sample between two times, roughly, as shares of the highest of all.
    pub fn loudness(&self, from: f64, to: f64) -> Option<(f32, f32)> {
        self.peaks.range(from - self.sound.begins, to - self.sound.begins)
    }

    /// The same exactly, for a short stretch.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a film is at most three hours
    pub fn samples_between(&self, from: f64, to: f64) -> Option<(f32, f32)> {
        if to < self.sound.begins {
            return None;
        }
        let at = |secs: f64| ((secs - self.sound.begins) * f64::from(RATE)).max(0.0) as usize;
        let (from, to) = (at(from), at(to).max(at(from) + 1).min(self.sound.samples.len()));
        let (low, high) = ends(self.sound.samples.get(from..to)?)?;
        Some((low / self.highest, high / self.highest))
    }

    /// Whether there are pictures in it.
    pub const fn has_pictures(&self) -> bool {
        !self.strip.is_empty()
    }
}

/// Tells how far a part of the work is, 0 to 1; `false` if it is to stop.
fn tell<T: Send + 'static>(job: &JobContext<T>, part: usize, share: f64, words: &'static str) -> bool {
    let before: u8 = PARTS[..part].iter().sum();
    let own = (f64::from(PARTS[part]) * share.clamp(0.0, 1.0)).floor();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // at most 100
    job.step(before + own as u8, words)
}

/// Opens a film and looks for its place.
pub fn open<T: Send + 'static>(path: &Path, against: &Against, job: &JobContext<T>) -> Result<Opened, String> {
    let fail = |why: &dyn std::fmt::Display| format!("{}: {why}", path.display());
    if let Err(why) = std::fs::metadata(path) {
        return Err(fail(&letfall_files::io_words(&why)));
    }
    let (said, sound, pictures) = if recordings::is_sound(path) {
        (None, FilmSound { begins: 0.0, samples: recording(path, job)? }, false)
    } else {
        let said = length(path).map_err(|e| fail(&e))?;
        let usual = said.unwrap_or(600.0);
        let read = film_sound(path, &mut |step| match step {
            Step::Sound(secs) => tell(job, 0, secs / usual, "reading its sound"),
            _ => true,
        });
        match read {
            Ok(sound) => (said, sound, true),
            Err(FilmError::NoSound) => (said, FilmSound { begins: 0.0, samples: Vec::new() }, true),
            Err(why) => return Err(fail(&why)),
        }
    };
    let placed = place(path, &sound, against, job)?;
    let mut strip = Vec::new();
    let usual = said.unwrap_or(600.0);
    if pictures {
        let read = key_pictures(path, HIGH, |picture| {
            let goes_on = tell(job, 2, picture.at / usual, "looking through its pictures");
            thinned(&mut strip, picture);
            goes_on
        });
        match read {
            Ok(()) | Err(FilmError::NoPicture) => {}
            Err(why) => return Err(fail(&why)),
        }
    }
    if !job.step(STEPS - 1, "looking through its pictures") {
        return Err(fail(&FilmError::Stopped));
    }
    if strip.is_empty() && sound.samples.is_empty() {
        return Err(fail(&"there are neither pictures nor sound in it"));
    }
    Ok(Opened::new(path, sound, placed, strip))
}

/// Keeps a picture; when there are too many, every other one goes.
fn thinned(strip: &mut Vec<Picture>, picture: Picture) {
    if strip.len() >= MOST {
        let mut odd = false;
        strip.retain(|_| {
            odd = !odd;
            odd
        });
    }
    strip.push(picture);
}

/// What a film is laid against.
#[derive(Debug, Clone, Default)]
pub struct Against {
    /// The song's guide recording.
    pub guide: Option<PathBuf>,
    /// The timecode of song time 0, if the house runs on timecode.
    pub zero: Option<Timecode>,
}

/// Where the film lies, by its sound. Only being stopped is an error: what cannot be placed by its sound can be placed by hand.
pub fn place<T: Send + 'static>(
    path: &Path,
    sound: &FilmSound,
    against: &Against,
    job: &JobContext<T>,
) -> Result<Placed, String> {
    let by_guide = |job| by_guide(sound, against.guide.as_deref(), job);
    let Some(zero) = against.zero.filter(|_| !sound.samples.is_empty()) else { return by_guide(job) };
    // The house's timecode may be on one of its channels. It came by wire and says it to the frame.
    let length = sound.samples.len() as f64 / f64::from(RATE);
    let recorded = recordings::is_sound(path).then_some(sound);
    let read = timecode(path, recorded, zero, &mut |step| match step {
        Step::Sound(secs) => tell(job, 1, secs / length, "looking for timecode in it"),
        _ => true,
    });
    let runs = read.map_err(|why| format!("{}: {why}", path.display()))?;
    if runs.is_empty() { by_guide(job) } else { Ok(Placed::Sound(runs)) }
}

/// Where the sound lies against the guide.
fn by_guide<T: Send + 'static>(sound: &FilmSound, guide: Option<&Path>, job: &JobContext<T>) -> Result<Placed, String> {
    if sound.samples.is_empty() {
        return Ok(Placed::Nowhere("There is no sound in it. Say by hand what is heard in one picture.".to_owned()));
    }
    let Some(guide) = guide else {
        return Ok(Placed::Nowhere(
            "The song has no guide recording to lay it against. Say by hand what is heard in one picture.".to_owned(),
        ));
    };
    let recording = match recording(guide, job) {
        Ok(recording) => recording,
        Err(why) => return Ok(Placed::Nowhere(format!("The guide cannot be read: {why}"))),
    };
    let told = runs(sound, &recording, &mut |step| match step {
        Step::Place(share) => tell(job, 1, share, "looking for its place in the song"),
        _ => true,
    });
    match told {
        Ok(runs) => Ok(Placed::Sound(runs)),
        Err(why @ letfall_film::align::Refusal::Stopped) => Err(why.to_string()),
        Err(why) => {
            let why = why.to_string();
            let mut letters = why.chars();
            let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
            Ok(Placed::Nowhere(format!("{first}{}.", letters.as_str())))
        }
    }
}

/// A recording's sound as films are compared with it.
fn recording<T: Send + 'static>(path: &Path, job: &JobContext<T>) -> Result<Vec<f32>, String> {
    let fail = |why: String| format!("{}: {why}", path.display());
    let read = recordings::compared(path, || tell(job, 0, 1.0, "reading the guide")).map_err(fail)?;
    read.ok_or_else(|| FilmError::Stopped.to_string())
}

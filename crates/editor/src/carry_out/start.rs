//! Beginning: a show made from the start panel's answers, a demo show, the song or rig of another file.

use crate::document::Document;
use crate::editor::{Editor, NEVER_KEPT};
use crate::jobs::{Job, JobResult};
use crate::request::StartChoice;
use crate::screens::Screen;
use crate::screens::windows::{Tour, stem};
use letfall_core::edit::History;
use letfall_files::{demo_shows, disk, new_show};
use std::path::{Path, PathBuf};

impl Editor {
    /// Does what was chosen on the start panel.
    pub(super) fn start_with(&mut self, choice: StartChoice) {
        if !self.may_still_replace() {
            return;
        }
        match choice {
            StartChoice::Open(path) => self.open_file(path),
            StartChoice::Tour => {
                self.tour_after_demo = true;
                self.open_demo(0);
            }
            StartChoice::Demo(which) => self.open_demo(which),
            StartChoice::Make(show, guide) => {
                self.replace(Document::new(*show, None));
                // It is in no file yet, and kept for recovery from now on.
                self.document.history = History::default();
                self.put_by = NEVER_KEPT;
                self.screen = Screen::Score;
                self.document.say("A new show. Double-click on a track, or press L, M, O or R, to lay the first cue");
                if let Some(path) = guide {
                    self.screens.inspector.open_song();
                    self.by_ear.find_when_read = true;
                    self.read_guide(path);
                }
            }
        }
    }

    /// Opens one of the demo shows, once its recordings are there.
    fn open_demo(&mut self, which: usize) {
        let folder = self.folder.clone();
        let words = "Making the demo show's recordings";
        self.start(words, 1, move |_| Ok(JobResult::Demo(Box::new(demo(&folder, which)?))));
        // Another job may still be running: then there is no demo show to come, and no tour after it.
        self.tour_after_demo &= self.job.as_ref().is_some_and(|job| job.words == words);
    }

    /// At the first start the demo show stands there without recordings; they are made beside the screen, so that there is a waveform to see.
    pub(crate) fn make_first_demo(&mut self) {
        let folder = self.folder.clone();
        let job = Job::start("The demo show's recordings", 1, self.wake(), move |_| demo(&folder, 0));
        self.demo_coming = job.ok();
    }

    /// Takes over the demo show of the first start, unless something else has come in between.
    pub(crate) fn take_first_demo(&mut self) {
        let Some(made) = self.demo_coming.as_mut().and_then(Job::poll) else { return };
        self.demo_coming = None;
        let untouched = !self.document.history.is_changed()
            && self.document.path.is_none()
            && self.document.revision == 0
            && self.screens.recovered.is_none();
        if let (Ok(Ok(document)), true) = (made, untouched) {
            let waker = self.document.waker.clone();
            self.document = document;
            self.document.waker = waker;
        }
    }

    /// Shows a demo show that was chosen.
    pub(super) fn show_demo(&mut self, document: Document) {
        let tour = std::mem::take(&mut self.tour_after_demo);
        if !self.may_still_replace() {
            return;
        }
        self.replace(document);
        if tour {
            // The service with the most to see.
            self.show_service(1);
            self.screens.tour = Some(Tour::default());
        }
        self.document.say("A demo show. Save it under a name of your own to keep what you change");
    }

    /// Reads the song of a MIDI file for the start panel.
    pub(super) fn read_start_song(&mut self, path: PathBuf) {
        self.start(&format!("Reading {}", path.display()), 1, move |_| {
            let (song, _) = new_show::song_of_midi(&path).map_err(|e| e.to_string())?;
            Ok(JobResult::StartSong(Box::new(song), stem(&path)))
        });
    }

    /// Reads the rig of an earlier show for the start panel.
    pub(super) fn read_start_rig(&mut self, path: PathBuf) {
        self.start(&format!("Reading {}", path.display()), 1, move |_| {
            let show = disk::read_show(&path).map_err(|e| e.to_string())?;
            let title = show.title.clone();
            Ok(JobResult::StartRig(Box::new(show), title))
        });
    }
}

/// Writes the demo shows with their recordings into the program's own folder. Returns one of them as a show without a file: what is tried on
/// it changes no file until it is saved under a name of its own.
fn demo(folder: &Path, which: usize) -> Result<Document, String> {
    let folder = folder.join("demo-shows");
    demo_shows::write(&folder).map_err(|e| e.to_string())?;
    let mut show = demo_shows::built_in(which).map_err(|e| e.to_string())?;
    // A show without a file has no folder, so its recordings are named in full.
    for service in &mut show.services {
        if let Some(guide) = &mut service.song.guide {
            guide.path = folder.join(&guide.path).display().to_string();
        }
    }
    Ok(Document::new(show, None))
}

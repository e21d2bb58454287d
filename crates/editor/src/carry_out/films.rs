//! Films of rehearsals: opening them, what belongs to them, taking what they show.

use crate::editor::Editor;
use crate::film::FilmRequest;
use crate::jobs::{FilePurpose, Leaving};
use crate::request::Then;
use crate::screens::Screen;
use letfall_core::time::{SongTime, round};
use letfall_files::{disk, recordings};
use letfall_film::measure::known;
use letfall_film::picture::Regions;
use std::path::{Path, PathBuf};

impl Editor {
    /// Opens a film of the service on screen, and shows it.
    pub(super) fn open_film(&mut self, path: PathBuf) {
        let wake = self.wake();
        self.screen = Screen::Film;
        self.film.open(&mut self.document, path, wake);
    }

    /// What was dropped on the window: a show, a recording or a film.
    pub(crate) fn dropped(&mut self, path: PathBuf) {
        if self.screens.has_window() {
            return self.document.fail("close the window in front first, then drop the file again");
        }
        if self.rehearsal.runs() || self.rehearsal.is_holding() {
            return self.document.fail("a run is going on; drop files when it has stopped");
        }
        let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default();
        match ending.as_str() {
            "letfall" => {
                self.dropped_show = Some(path);
                self.leave(Leaving::Dropped);
            }
            // On the other screens a recording is likely to be the song.
            _ if recordings::is_sound(&path) && self.screen != Screen::Film => self.chosen(FilePurpose::Guide, path),
            _ => self.open_film(path),
        }
    }

    /// Carries out a request about the film.
    pub(super) fn film(&mut self, request: FilmRequest) {
        let wake = self.wake();
        if request == FilmRequest::Print {
            if let Some(page) = self.film.page() {
                self.screens.paper.show_film(page);
                self.screen = Screen::Paper;
            }
            return;
        }
        if let FilmRequest::Show(at) = request
            && let Some(song) = self.film.song_at(at)
        {
            self.document.playhead = SongTime::saturating(round::nearest(song * 1e6));
        }
        if let Some((name, edit)) = self.film.request(request, &mut self.document, &wake) {
            let words = "Taken into the show; Undo takes it back".to_owned();
            self.commit(&name, Ok(edit), Then::Say(words));
        }
    }

    /// Takes what is seen where from a file.
    pub(super) fn read_regions(&mut self, path: &Path) {
        let read = || -> Result<Regions, String> {
            let bytes = std::fs::read(path).map_err(|why| letfall_files::io_words(&why))?;
            let regions: Regions = serde_json::from_slice(&bytes).map_err(|why| why.to_string())?;
            regions.validate().map_err(|why| why.to_string())?;
            known(&self.document.show, &regions).map_err(|why| why.to_string())?;
            Ok(regions)
        };
        match read() {
            Ok(regions) => {
                self.document.say(format!("{} regions from {}", regions.regions.len(), path.display()));
                self.film(FilmRequest::Regions(regions));
            }
            Err(why) => self.document.fail(format!("{}: {why}", path.display())),
        }
    }

    /// Keeps what is seen where in a file.
    pub(super) fn save_regions(&mut self, path: &Path) {
        let text = serde_json::to_string_pretty(self.film.regions()).unwrap_or_default() + "\n";
        match disk::write(path, text.as_bytes()) {
            Ok(()) => self.document.say(format!("Wrote {}", path.display())),
            Err(why) => self.document.fail(why.to_string()),
        }
    }

    /// Takes the log of the run that was filmed.
    pub(super) fn read_film_log(&mut self, path: &Path) {
        let bytes = match std::fs::read(path) {
            Ok(bytes) => bytes,
            Err(why) => return self.document.fail(format!("{}: {}", path.display(), letfall_files::io_words(&why))),
        };
        let (records, _) = letfall_live::read_log(&String::from_utf8_lossy(&bytes));
        let sent = letfall_live::sent_late(&records);
        if sent.is_empty() {
            return self.document.fail(format!("{} is no log of a run in which anything was sent", path.display()));
        }
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        self.film.take_log(&mut self.document, name, sent);
    }
}

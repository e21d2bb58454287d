//! Beginning: a show made from the start panel's answers, a demo show, the song or rig of another file.

use crate::document::Document;
use crate::editor::Editor;
use crate::jobs::JobResult;
use crate::request::StartChoice;
use crate::screens::Screen;
use crate::screens::windows::{Tour, stem};
use letfall_core::edit::History;
use letfall_files::{demo_shows, disk, new_show};
use std::path::PathBuf;

impl Editor {
    /// Does what was chosen on the start panel.
    pub(super) fn start_with(&mut self, choice: StartChoice) {
        if self.rehearsal.performs() || self.rehearsal.is_holding() {
            return self.document.fail("a performance is running; stop it before another show takes this one's place");
        }
        match choice {
            StartChoice::Open(path) => self.open_file(path),
            StartChoice::Tour => {
                self.start_with(StartChoice::Demo(0));
                // The service with the most to see.
                self.show_service(1);
                self.screens.tour = Some(Tour::default());
            }
            StartChoice::Demo(which) => match demo_shows::without_recordings(which) {
                Ok(show) => {
                    self.replace(Document::new(show, None), None);
                    self.document.say("A demo show, without its recordings: letfall demo FOLDER writes it with them");
                }
                Err(why) => self.document.fail(why.to_string()),
            },
            StartChoice::Make(show, guide) => {
                self.replace(Document::new(*show, None), None);
                // It is in no file yet.
                self.document.history = History::default();
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

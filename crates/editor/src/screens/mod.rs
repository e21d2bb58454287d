//! The screens. A screen draws what it is given and records requests. Its own state is only about how it looks (zoom, text that
//! is typed but not committed), never the show itself.

pub mod film;
pub mod head;
pub mod paper;
pub mod problems;
pub mod rehearse;
pub mod rig;
pub mod room;
pub mod score;
pub mod services;
pub mod status;
pub mod windows;

use crate::jobs::{FilePurpose, Leaving, Recovered};
use std::path::PathBuf;

/// The screens, named after their purpose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Screen {
    /// The song, left to right.
    Score,
    /// Services side by side.
    Services,
    /// Devices, fabric, safety, kit.
    Rig,
    /// What is known of the room, and what comes before the first cue.
    Room,
    /// Running the schedule.
    Rehearse,
    /// The pages.
    Paper,
    /// A film of a rehearsal.
    Film,
}

impl Screen {
    /// Its name.
    pub fn name(self) -> &'static str {
        Screen::ALL.iter().find(|(screen, _)| *screen == self).map_or("", |(_, name)| name)
    }

    /// All screens with their names, in the order of the head.
    pub const ALL: [(Screen, &'static str); 7] = [
        (Screen::Score, "Score"),
        (Screen::Services, "Services"),
        (Screen::Rig, "Rig"),
        (Screen::Rehearse, "Rehearse"),
        (Screen::Paper, "Paper"),
        (Screen::Room, "Room"),
        (Screen::Film, "Film"),
    ];
}

/// The state of all screens.
#[derive(Default)]
pub struct Screens {
    /// The score's canvas.
    pub score: score::Score,
    /// The panel beside the score.
    pub inspector: score::Inspector,
    /// Services side by side.
    pub services: services::Services,
    /// The rig's tables.
    pub rig: rig::Rig,
    /// The room.
    pub room: room::RoomScreen,
    /// The pages.
    pub paper: paper::PaperScreen,
    /// The film.
    pub film: film::FilmScreen,
    /// The board and its desk.
    pub rehearse: rehearse::RehearseScreen,
    /// The search over everything.
    pub find: windows::Find,
    /// The tour, while it goes on.
    pub tour: Option<windows::Tour>,
    /// The help window.
    pub help: Option<windows::HelpWindow>,
    /// The start panel.
    pub start: Option<windows::Start>,
    /// The choice of what a new cue calls up.
    pub choose: Option<windows::ChooseCue>,
    /// A table of cues that is looked over.
    pub table: Option<windows::CueTableWindow>,
    /// The window for the values of a batch edit.
    pub batch: Option<windows::Batch>,
    /// A path that is being typed, and its purpose.
    pub path: Option<(FilePurpose, String)>,
    /// What to do after asking the user about unsaved work.
    pub leaving: Option<Leaving>,
    /// The show's file, which somebody else has changed since it was opened here.
    pub changed_by_others: Option<PathBuf>,
    /// What to do after asking whether a performance that goes on is to be stopped.
    pub performing: Option<Leaving>,
    /// Unsaved work of an earlier session, offered to the user.
    pub recovered: Option<Box<Recovered>>,
}

impl Screens {
    /// Whether a window stands over the screen.
    pub const fn has_window(&self) -> bool {
        self.find.is_open()
            || self.help.is_some()
            || self.batch.is_some()
            || self.start.is_some()
            || self.choose.is_some()
            || self.table.is_some()
            || self.asks()
    }

    /// Whether a question, or a path that is to be typed, stands over all other windows.
    pub const fn asks(&self) -> bool {
        let asks = self.leaving.is_some() || self.performing.is_some() || self.changed_by_others.is_some();
        asks || self.path.is_some() || self.recovered.is_some()
    }

    /// Whether the window that stands over all others holds what was typed in many fields.
    pub fn keeps_typed(&self) -> bool {
        let small = self.find.is_open() || self.help.is_some() || self.choose.is_some() || self.batch.is_some();
        let table = self.table.as_ref().is_some_and(windows::CueTableWindow::has_text);
        !self.asks() && !small && (table || self.start.is_some())
    }

    /// Closes the window that stands over all others, if there is one. A question about unsaved work of an earlier session stays: nothing but
    /// an answer ends it.
    pub fn close_innermost(&mut self) -> bool {
        if self.recovered.is_some() {
            return true;
        }
        let asked = self.leaving.take().is_some() || self.performing.take().is_some();
        if asked || self.changed_by_others.take().is_some() || self.path.take().is_some() {
            return true;
        }
        if self.find.is_open() {
            self.find.toggle();
            return true;
        }
        self.help.take().is_some()
            || self.choose.take().is_some()
            || self.batch.take().is_some()
            || self.table.take().is_some()
            || self.start.take().is_some()
    }

    /// Discards text that was typed but not committed, so that the show's values appear again.
    pub fn forget_drafts(&mut self) {
        self.rig.forget_draft();
        self.room.forget_draft();
        self.inspector.forget_draft();
        self.services.forget_draft();
    }
}

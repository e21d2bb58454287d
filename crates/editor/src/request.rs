//! What a screen asks for, as values. Screens change nothing themselves: they record requests while they are drawn, and
//! `carry_out` carries them out afterwards.

use crate::by_ear::EarRequest;
use crate::commands::Command;
use crate::document::Document;
use crate::film::FilmRequest;
use crate::jobs::FilePurpose;
use crate::rehearsal::RehearsalRequest;
use letfall_core::edit::{Edit, EditError, Pick, Selection};
use letfall_core::performed::Performed;
use letfall_core::show::{Action, Label, Show, TrackKey};
use letfall_core::time::{SongTime, Tick};
use std::path::PathBuf;

/// What to do after an edit was accepted.
#[derive(Debug, Clone, PartialEq)]
pub enum Then {
    /// Nothing more.
    Nothing,
    /// Select these cues.
    Select(Selection),
    /// Show this message.
    Say(String),
    /// Show on the Services screen what was carried.
    Carried(Vec<String>),
    /// Clear the page after the run.
    WrittenDown,
    /// Show the whole song.
    ShowSong,
}

/// What the user chose on the start panel.
#[derive(Debug)]
pub enum StartChoice {
    /// Make this show; a recording in which to look for its bars, if there is one.
    Make(Box<Show>, Option<PathBuf>),
    /// Look at the demo show with this index.
    Demo(usize),
    /// Take the tour on the first demo show.
    Tour,
    /// Open this show.
    Open(PathBuf),
}

/// A single request.
#[derive(Debug)]
pub enum UiRequest {
    /// Commit an edit as one named step. If it could not be made, show why.
    Commit {
        /// The step's name.
        name: String,
        /// The edit.
        edit: Result<Edit, EditError>,
        /// What to do afterwards.
        then: Then,
    },
    /// Select these cues and no others.
    Select(Selection),
    /// Select these cues and show how many they are.
    SelectAndSay(Selection),
    /// Select what this picks in the service on screen, and show how many cues that is.
    Pick(Pick),
    /// Repeat the selected cues at an interval in bars.
    Repeat {
        /// Bars from one copy to the next.
        bars: i32,
        /// How many copies.
        times: u32,
    },
    /// Let the user choose what a new cue on this track calls up.
    ChooseCue {
        /// The track.
        track: TrackKey,
        /// Where the cue lands.
        at: Tick,
    },
    /// Add a cue.
    PutCue {
        /// Its track.
        track: TrackKey,
        /// Where it lands.
        at: Tick,
        /// What it does.
        does: Action,
    },
    /// Move the playhead.
    Playhead(SongTime),
    /// Add a service like the one on screen, and show it.
    AddService,
    /// Remove the service with this name from the show.
    RemoveService(String),
    /// Show another service, by its index.
    ShowService(usize),
    /// Show this message.
    Say(String),
    /// Show this message about a failure.
    Fail(String),
    /// Carry out a command from the list.
    Command(Command),
    /// What was chosen on the start panel.
    Start(StartChoice),
    /// Ask for a file.
    File(FilePurpose),
    /// Show the Rig screen with this table.
    RigTable(&'static str),
    /// Show the help page about a screen.
    HelpPage(&'static str),
    /// Show what is known about a field in a table of Rig.
    HelpField(&'static str, &'static str),
    /// Bring this song time into view on the score.
    Reveal(SongTime),
    /// A request about bars by ear.
    Ear(EarRequest),
    /// A request about the film.
    Film(FilmRequest),
    /// A request about the rehearsal.
    Rehearsal(RehearsalRequest),
    /// Show the report of a performance, filled in.
    Report(Box<Performed>),
    /// Open or close the board's own window.
    SecondWindow(bool),
}

/// The requests of one frame, in order.
#[derive(Debug, Default)]
pub struct Requests(Vec<UiRequest>);

impl Requests {
    /// Adds a request.
    pub fn push(&mut self, request: UiRequest) {
        self.0.push(request);
    }

    /// Requests an edit as one named step.
    pub fn commit(&mut self, name: impl Into<String>, edit: Result<Edit, EditError>) {
        self.commit_then(name, edit, Then::Nothing);
    }

    /// Requests an edit, and what to do once it is accepted.
    pub fn commit_then(&mut self, name: impl Into<String>, edit: Result<Edit, EditError>, then: Then) {
        self.push(UiRequest::Commit { name: name.into(), edit, then });
    }

    /// Requests an edit of the selected cues as one step. Returns whether any are selected.
    pub fn with_selected(
        &mut self,
        document: &Document,
        verb: &str,
        edit: impl FnOnce(&Show, &str, &[Label]) -> Result<Edit, EditError>,
    ) -> bool {
        let Some((name, edit)) = document.edit_of_selected(verb, edit) else {
            self.say("Select cues first");
            return false;
        };
        self.commit(name, edit);
        true
    }

    /// Requests to select these cues.
    pub fn select(&mut self, labels: impl IntoIterator<Item = Label>) {
        self.push(UiRequest::Select(labels.into_iter().collect()));
    }

    /// Requests to move the playhead.
    pub fn playhead(&mut self, at: SongTime) {
        self.push(UiRequest::Playhead(at));
    }

    /// Requests to show a message.
    pub fn say(&mut self, words: impl Into<String>) {
        self.push(UiRequest::Say(words.into()));
    }

    /// Requests to show a message about a failure.
    pub fn fail(&mut self, words: impl Into<String>) {
        self.push(UiRequest::Fail(words.into()));
    }

    /// Requests a command.
    pub fn command(&mut self, command: Command) {
        self.push(UiRequest::Command(command));
    }

    /// Whether there are no requests.
    pub const fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Takes all requests, in order.
    pub fn take(&mut self) -> Vec<UiRequest> {
        std::mem::take(&mut self.0)
    }
}

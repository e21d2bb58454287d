//! What a screen asks for, as values. Screens change nothing themselves: they put requests down while they are drawn, and one place
//! (`carry_out`) carries them out afterwards.

use crate::by_ear::EarRequest;
use crate::commands::Command;
use crate::document::Document;
use crate::jobs::FilePurpose;
use crate::rehearsal::RehearsalRequest;
use letfall_core::edit::{Edit, EditError, Pick, Selection};
use letfall_core::show::{Kind, Label, Show};
use letfall_core::time::SongTime;

/// What follows where an edit was taken.
#[derive(Debug, Clone, PartialEq)]
pub enum Then {
    /// Nothing more.
    Nothing,
    /// These cues are selected.
    Select(Selection),
    /// This is said.
    Say(String),
    /// The Services screen says what was carried.
    Carried(Vec<String>),
    /// The page after the run is empty again.
    WrittenDown,
    /// The whole song is shown.
    ShowSong,
}

/// One thing that a screen asks for.
#[derive(Debug)]
pub enum UiRequest {
    /// An edit, as one named step; or why it cannot be made, which is said.
    Commit {
        /// The step's name.
        name: String,
        /// The edit.
        edit: Result<Edit, EditError>,
        /// What follows.
        then: Then,
    },
    /// These cues are selected, and no others.
    Select(Selection),
    /// These cues are selected, and how many they are is said.
    SelectAndSay(Selection),
    /// What is picked of the service on screen is selected, and how many they are is said.
    Pick(Pick),
    /// The selected cues are repeated every so many bars.
    Repeat {
        /// Bars from one to the next.
        bars: i32,
        /// How many copies.
        times: u32,
    },
    /// A cue of this kind comes in at the playhead.
    NewCue(Kind),
    /// The playhead goes there.
    Playhead(SongTime),
    /// A service is added, like the one on screen, and comes on screen.
    AddService,
    /// A service goes out of the show, by name.
    RemoveService(String),
    /// Another service comes on screen, by its place.
    ShowService(usize),
    /// This is said.
    Say(String),
    /// This is said to have failed.
    Fail(String),
    /// A command of the list is carried out.
    Command(Command),
    /// A file is asked for.
    File(FilePurpose),
    /// A place of the song is brought into view on the score.
    Reveal(SongTime),
    /// Something with bars that were heard or tapped.
    Ear(EarRequest),
    /// Something with the rehearsal.
    Rehearsal(RehearsalRequest),
    /// The board in a window of its own, or no longer.
    SecondWindow(bool),
}

/// What the screens of one frame ask for, in order.
#[derive(Debug, Default)]
pub struct Requests(Vec<UiRequest>);

impl Requests {
    /// Asks for something.
    pub fn push(&mut self, request: UiRequest) {
        self.0.push(request);
    }

    /// Asks for an edit, as one named step.
    pub fn commit(&mut self, name: impl Into<String>, edit: Result<Edit, EditError>) {
        self.commit_then(name, edit, Then::Nothing);
    }

    /// Asks for an edit, and for what follows where it is taken.
    pub fn commit_then(&mut self, name: impl Into<String>, edit: Result<Edit, EditError>, then: Then) {
        self.push(UiRequest::Commit { name: name.into(), edit, then });
    }

    /// Asks for something to be done with the selected cues, as one step. Whether any are selected.
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

    /// Asks for these cues to be selected.
    pub fn select(&mut self, labels: impl IntoIterator<Item = Label>) {
        self.push(UiRequest::Select(labels.into_iter().collect()));
    }

    /// Asks for the playhead to be set.
    pub fn playhead(&mut self, at: SongTime) {
        self.push(UiRequest::Playhead(at));
    }

    /// Asks for something to be said.
    pub fn say(&mut self, words: impl Into<String>) {
        self.push(UiRequest::Say(words.into()));
    }

    /// Asks for something to be said that failed.
    pub fn fail(&mut self, words: impl Into<String>) {
        self.push(UiRequest::Fail(words.into()));
    }

    /// Asks for a command.
    pub fn command(&mut self, command: Command) {
        self.push(UiRequest::Command(command));
    }

    /// Whether nothing was asked for.
    pub const fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// All of it, in order.
    pub fn take(&mut self) -> Vec<UiRequest> {
        std::mem::take(&mut self.0)
    }
}

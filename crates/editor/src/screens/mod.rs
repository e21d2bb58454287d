//! The screens, each in a room of its own. A screen draws what it is given and puts down what it is asked for as requests; its own
//! state is what it looks like (zoom, what is typed and not yet taken), never the show.

pub mod head;
pub mod paper;
pub mod problems;
pub mod rehearse;
pub mod rig;
pub mod score;
pub mod services;
pub mod status;
pub mod windows;

use crate::jobs::{FilePurpose, Leaving};
use letfall_core::show::Show;

/// The screens, called by what they are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Screen {
    /// The song, left to right.
    Score,
    /// Services side by side.
    Services,
    /// Devices, fabric, safety, kit.
    Rig,
    /// The schedule, sent.
    Rehearse,
    /// The pages.
    Paper,
}

impl Screen {
    /// All of them, with their names, in the order of the head.
    pub const ALL: [(Screen, &'static str); 5] = [
        (Screen::Score, "Score"),
        (Screen::Services, "Services"),
        (Screen::Rig, "Rig"),
        (Screen::Rehearse, "Rehearse"),
        (Screen::Paper, "Paper"),
    ];
}

/// What the screens look like now.
#[derive(Default)]
pub struct Screens {
    /// The score's canvas.
    pub score: score::Score,
    /// What stands beside the score.
    pub inspector: score::Inspector,
    /// Services side by side.
    pub services: services::Services,
    /// The rig's tables.
    pub rig: rig::Rig,
    /// The pages.
    pub paper: paper::PaperScreen,
    /// The board and its desk.
    pub rehearse: rehearse::RehearseScreen,
    /// The list of all commands.
    pub command_list: windows::CommandList,
    /// The window in which a batch's figures are typed.
    pub batch: Option<windows::Batch>,
    /// A path that is being typed, and what it is for.
    pub path: Option<(FilePurpose, String)>,
    /// Unsaved work is asked about, before this is done.
    pub leaving: Option<Leaving>,
    /// Unsaved work of an earlier editor is offered back.
    pub recovered: Option<Box<Show>>,
}

impl Screens {
    /// What was typed and not taken is forgotten: what stands in the show is shown again.
    pub fn forget_drafts(&mut self) {
        self.rig.forget_draft();
        self.inspector.forget_draft();
        self.services.forget_draft();
    }
}

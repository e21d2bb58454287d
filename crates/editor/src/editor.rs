//! The whole editor as a value: the open show, what goes on beside it, what the screens look like.

use crate::by_ear::ByEar;
use crate::document::Document;
use crate::jobs::dialogs::{Dialogs, Native, Typed};
use crate::jobs::{Autosaver, GuidePeaks, Job, JobResult, Leaving, forget, mark_open, recovered};
use crate::playback::Playback;
use crate::rehearsal::Rehearsal;
use crate::request::Requests;
use crate::screens::{Screen, Screens};
use crate::widgets::theme::Theme;
use letfall_core::show::Show;
use letfall_files::fonts::SystemFont;
use letfall_platform::FileLock;
use std::collections::BTreeSet;
use std::path::PathBuf;

/// Fonts that were found on this machine, and characters that none has.
pub type FoundFonts = (Vec<SystemFont>, BTreeSet<char>);

/// The whole editor.
pub struct Editor {
    /// The open show and what is worked out from it.
    pub document: Document,
    /// Which screen is up.
    pub screen: Screen,
    /// Dark or paper.
    pub theme: Theme,
    /// Where file dialogs come from.
    pub dialogs: Box<dyn Dialogs>,
    /// What is heard.
    pub playback: Playback,
    /// Bars heard in the guide.
    pub by_ear: ByEar,
    /// The schedule, sent.
    pub rehearsal: Rehearsal,
    /// What the screens look like.
    pub(crate) screens: Screens,
    /// What the screens of the last frame asked for.
    pub(crate) requests: Requests,
    /// The theme is to be put on with the next frame.
    pub(crate) restyle: bool,
    /// How large letters are, 1 for as they were made.
    pub(crate) letters: f32,
    /// The window goes over to full screen, or back, with the next frame.
    pub(crate) full_screen: bool,
    /// The window may close.
    pub(crate) close: bool,
    /// Recordings that were read, for drawing.
    pub(crate) peaks: GuidePeaks,
    /// Long work that goes on, one at a time.
    pub(crate) job: Option<Job<Result<JobResult, String>>>,
    /// The show is being saved.
    pub(crate) saving: Option<Job<Result<JobResult, String>>>,
    /// What is done once it is saved.
    pub(crate) after_saving: Option<Leaving>,
    /// Characters that fonts have been looked for.
    pub(crate) fonts_for: BTreeSet<char>,
    /// Fonts that are being looked for.
    pub(crate) fonts_coming: Option<Job<FoundFonts>>,
    /// The program's own folder.
    pub(crate) folder: PathBuf,
    /// The show is marked as open here.
    pub(crate) mark: Option<FileLock>,
    /// Puts unsaved work by.
    pub(crate) autosaver: Autosaver,
    /// Which revision was put by last, and when (seconds of the screen's time).
    pub(crate) put_by: (u64, f64),
    /// The window's title as it was last set.
    pub(crate) titled: String,
}

impl Editor {
    /// An editor on a show; offers back what an earlier one left unsaved.
    pub fn new(show: Show, path: Option<PathBuf>) -> Editor {
        let mut editor = Editor::with_recovery(show, path, letfall_platform::program_folder());
        editor.dialogs = Box::new(Native);
        editor
    }

    /// As [`Editor::new`], with unsaved work kept in a folder of one's choice, and paths typed.
    pub fn with_recovery(show: Show, path: Option<PathBuf>, folder: PathBuf) -> Editor {
        let recovered = recovered(&folder, path.as_deref()).filter(|r| *r != show).map(Box::new);
        Editor::with_document(Document::new(show, path), recovered, folder)
    }

    fn with_document(mut document: Document, recovered: Option<Box<Show>>, folder: PathBuf) -> Editor {
        let mut mark = None;
        if let Some(path) = document.path.clone() {
            if let Some(made) = mark_open(&folder, &path) {
                mark = made;
            } else {
                let words = format!("{} is open in another editor too; whoever saves last wins", path.display());
                document.fail(words);
            }
        }
        Editor {
            document,
            screen: Screen::Score,
            theme: Theme::default(),
            dialogs: Box::new(Typed),
            playback: Playback::default(),
            by_ear: ByEar::default(),
            rehearsal: Rehearsal::new(folder.clone()),
            screens: Screens { recovered, ..Screens::default() },
            requests: Requests::default(),
            restyle: true,
            letters: 1.0,
            full_screen: false,
            close: false,
            peaks: GuidePeaks::default(),
            job: None,
            saving: None,
            after_saving: None,
            fonts_for: BTreeSet::new(),
            fonts_coming: None,
            folder,
            mark,
            autosaver: Autosaver::start(),
            put_by: (0, 0.0),
            titled: String::new(),
        }
    }

    /// Puts another show in the place of this one.
    pub(crate) fn replace(&mut self, document: Document, recovered: Option<Box<Show>>) {
        forget(&self.folder, self.document.path.as_deref());
        self.mark = None;
        let (theme, letters, folder) = (self.theme, self.letters, self.folder.clone());
        let dialogs = std::mem::replace(&mut self.dialogs, Box::new(Typed));
        let ending = self.rehearsal.take_ending();
        *self = Editor::with_document(document, recovered, folder);
        (self.theme, self.letters, self.dialogs) = (theme, letters, dialogs);
        self.rehearsal.wait_for(ending);
    }

    /// Takes back what an earlier editor left unsaved.
    pub(crate) fn take_back(&mut self, show: Show) {
        let (path, waker) = (self.document.path.clone(), self.document.waker.clone());
        self.document = Document::new(show, path);
        self.document.waker = waker;
        // It is not what is on disk.
        self.document.history = letfall_core::edit::History::default();
        self.document.say("Taken back; save to keep it");
        self.screens.score.refit();
    }
}

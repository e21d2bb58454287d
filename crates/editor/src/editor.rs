//! The whole editor as a value: the open show, background jobs, the state of the screens.

use crate::by_ear::ByEar;
use crate::document::Document;
use crate::film::FilmStudy;
use crate::jobs::dialogs::{Dialogs, Native, Typed};
use crate::jobs::{Autosaver, GuidePeaks, Job, JobResult, Leaving, forget, own_place, recent, recovered, remember};
use crate::playback::Playback;
use crate::rehearsal::Rehearsal;
use crate::request::Requests;
use crate::screens::windows::Start;
use crate::screens::{Screen, Screens};
use crate::widgets::theme::Theme;
use letfall_core::show::Show;
use letfall_files::fonts::SystemFont;
use letfall_platform::FileLock;
use std::collections::BTreeSet;
use std::path::PathBuf;

/// No revision of a show has been kept for recovery yet.
pub(crate) const NEVER_KEPT: (u64, f64) = (u64::MAX, 0.0);

/// Fonts that were found on this machine, and the characters that none of them has.
pub type FoundFonts = (Vec<SystemFont>, BTreeSet<char>);

/// The whole editor.
#[allow(clippy::struct_excessive_bools)] // each is a wish of one frame
pub struct Editor {
    /// The open show and what is worked out from it.
    pub document: Document,
    /// Which screen is shown.
    pub screen: Screen,
    /// The dark theme or the paper theme.
    pub theme: Theme,
    /// Where file dialogs come from.
    pub dialogs: Box<dyn Dialogs>,
    /// Playing the guide.
    pub playback: Playback,
    /// Bars found in the guide.
    pub by_ear: ByEar,
    /// The film that is looked at.
    pub film: FilmStudy,
    /// The run that sends the schedule, and its set-up.
    pub rehearsal: Rehearsal,
    /// The state of the screens.
    pub(crate) screens: Screens,
    /// Requests left from the last frame.
    pub(crate) requests: Requests,
    /// Whether the theme must be applied in the next frame.
    pub(crate) restyle: bool,
    /// The text size as a factor; 1 is the normal size.
    pub(crate) letters: f32,
    /// Whether the window must enter or leave full screen in the next frame.
    pub(crate) full_screen: bool,
    /// Whether the window may close.
    pub(crate) close: bool,
    /// The peaks of recordings that have been read, for drawing.
    pub(crate) peaks: GuidePeaks,
    /// The long job that is running; only one runs at a time.
    pub(crate) job: Option<Job<Result<JobResult, String>>>,
    /// The demo show of the first start, which gets its recordings.
    pub(crate) demo_coming: Option<Job<Result<Document, String>>>,
    /// The job that is saving the show.
    pub(crate) saving: Option<Job<Result<JobResult, String>>>,
    /// The show that was dropped on the window, while it is asked whether this one may be left.
    pub(crate) dropped_show: Option<PathBuf>,
    /// What to do once the show is saved.
    pub(crate) after_saving: Option<Leaving>,
    /// Characters for which fonts have been looked for.
    pub(crate) fonts_for: BTreeSet<char>,
    /// The job that is looking for fonts.
    pub(crate) fonts_coming: Option<Job<FoundFonts>>,
    /// The program's own folder.
    pub(crate) folder: PathBuf,
    /// Marks the show as open in this editor.
    pub(crate) mark: Option<FileLock>,
    /// Where its unsaved work is kept.
    pub(crate) kept_at: PathBuf,
    /// Saves unsaved work for recovery.
    pub(crate) autosaver: Autosaver,
    /// The revision that was last saved for recovery, and when (in seconds of egui's clock).
    pub(crate) put_by: (u64, f64),
    /// The revision of the show for which it was asked whether it may be left.
    pub(crate) asked_at: u64,
    /// Whether the tour begins once the demo show is there.
    pub(crate) tour_after_demo: bool,
    /// Whether help was asked for in this frame.
    pub(crate) wants_help: bool,
    /// The rows that were copied last, to tell them from a table from elsewhere.
    pub(crate) copied: String,
    /// Text to hand to the system's clipboard at the end of the frame.
    pub(crate) to_clipboard: Option<String>,
    /// The window's title as last set.
    pub(crate) titled: String,
}

impl Editor {
    /// An editor with a show. It offers to restore what an earlier session left unsaved.
    pub fn new(show: Show, path: Option<PathBuf>) -> Editor {
        let folder = letfall_platform::program_folder();
        let mut editor =
            if path.is_none() { Editor::first_start(show, folder) } else { Editor::with_recovery(show, path, folder) };
        editor.dialogs = Box::new(Native);
        editor
    }

    /// An editor that begins without a show of the user's own: with the start panel, over a demo show.
    pub fn first_start(show: Show, folder: PathBuf) -> Editor {
        let mut editor = Editor::with_recovery(show, None, folder);
        editor.make_first_demo();
        editor.screens.start = Some(Start::new(recent(&editor.folder)));
        editor
    }

    /// Like [`Editor::new`], but keeps unsaved work in a given folder and has paths typed instead of chosen in a dialog.
    pub fn with_recovery(show: Show, path: Option<PathBuf>, folder: PathBuf) -> Editor {
        Editor::with_document(Document::new(show, path), folder)
    }

    fn with_document(mut document: Document, folder: PathBuf) -> Editor {
        let own = own_place(&folder, document.path.as_deref());
        if let Some(path) = document.path.clone() {
            remember(&folder, &path);
            if own.open_elsewhere {
                document.fail(format!(
                    "{} is open in another editor too: only one of you should change it",
                    path.display()
                ));
            }
        }
        // What an earlier session left there is offered before it is written over.
        let kept =
            recovered(&own.place, document.path.as_deref()).filter(|kept| kept.show != *document.show).map(Box::new);
        Editor {
            document,
            screen: Screen::Score,
            theme: Theme::default(),
            dialogs: Box::new(Typed),
            playback: Playback::default(),
            by_ear: ByEar::default(),
            film: FilmStudy::default(),
            rehearsal: Rehearsal::new(folder.clone()),
            screens: Screens { recovered: kept, ..Screens::default() },
            requests: Requests::default(),
            restyle: true,
            letters: 1.0,
            full_screen: false,
            close: false,
            peaks: GuidePeaks::default(),
            job: None,
            demo_coming: None,
            saving: None,
            dropped_show: None,
            after_saving: None,
            fonts_for: BTreeSet::new(),
            fonts_coming: None,
            folder,
            mark: own.mark,
            kept_at: own.place,
            autosaver: Autosaver::start(),
            put_by: (0, 0.0),
            asked_at: 0,
            tour_after_demo: false,
            wants_help: false,
            copied: String::new(),
            to_clipboard: None,
            titled: String::new(),
        }
    }

    /// Replaces the open show with another one.
    pub(crate) fn replace(&mut self, document: Document) {
        forget(&self.kept_at);
        self.mark = None;
        let (theme, letters, folder) = (self.theme, self.letters, self.folder.clone());
        let dialogs = std::mem::replace(&mut self.dialogs, Box::new(Typed));
        let rehearsal = self.rehearsal.for_another_show();
        *self = Editor::with_document(document, folder);
        (self.theme, self.letters, self.dialogs, self.rehearsal) = (theme, letters, dialogs, rehearsal);
    }

    /// Restores what an earlier session left unsaved. It is kept for recovery until it is saved.
    pub(crate) fn take_back(&mut self, show: Show) {
        let (path, waker) = (self.document.path.clone(), self.document.waker.clone());
        let in_file = self.document.in_file.clone();
        self.document = Document::new(show, path);
        (self.document.waker, self.document.in_file) = (waker, in_file);
        // It differs from the file on disk.
        self.document.history = letfall_core::edit::History::default();
        self.put_by = NEVER_KEPT;
        self.document.say("Taken back; save to keep it");
        self.screens.score.refit();
    }
}

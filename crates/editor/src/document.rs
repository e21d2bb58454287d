//! The open show and everything worked out from it. It has no screen, so it can be tested without one.

use letfall_core::edit::{self, Clipboard, Edit, EditError, History, PasteAt, Selection};
use letfall_core::prepared::{OutsideFacts, Prepared, PreparedShow};
use letfall_core::show::{Cue, CueList, Label, Service, Show, Song};
use letfall_core::time::{SongTime, Tick};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread;

/// The message shown at the bottom of the window.
pub struct StatusMessage {
    /// The text.
    pub text: String,
    /// Whether it reports a failure.
    pub failed: bool,
}

/// The plan of the service on screen, or why there is none.
type Worked = Result<Arc<Prepared>, String>;

/// A result that a background thread will deliver.
struct Coming<T> {
    /// The revision of the show that it belongs to.
    revision: u64,
    from: Receiver<T>,
}

/// Wakes the screen from another thread.
pub type Waker = Arc<dyn Fn() + Send + Sync>;

/// The open show.
pub struct Document {
    /// The show. Anyone who clones the pointer keeps the show as it is now, even if it is edited later.
    pub show: Arc<Show>,
    /// The show's file, if it has one.
    pub path: Option<PathBuf>,
    /// The show as its file had it when it was opened or last saved here.
    pub in_file: Option<Arc<Show>>,
    /// The steps that can be undone and redone.
    pub history: History,
    /// The index of the service on screen.
    pub service: usize,
    /// The selected cues.
    pub selection: Selection,
    /// The copied cues.
    pub clipboard: Clipboard,
    /// The position of the playhead.
    pub playhead: SongTime,
    /// The latest message.
    pub said: Option<StatusMessage>,
    /// Counts changes, so that other code can notice them.
    pub revision: u64,
    /// Characters in the show that our own typefaces lack.
    pub unusual: BTreeSet<char>,
    plan: Worked,
    /// A plan that is being made in the background.
    coming: Option<Coming<(Worked, BTreeSet<char>)>>,
    /// What is known about the recordings.
    facts: OutsideFacts,
    /// The search for recordings, running in the background.
    looking: Option<Coming<OutsideFacts>>,
    /// Wakes the screen when a background job is done.
    pub waker: Option<Waker>,
}

/// Services with more cues than this are prepared in the background, so that edits never block the screen.
pub const BESIDE: usize = 4000;

impl Document {
    /// Opens a show. Its recordings are looked for at the first [`Document::poll`].
    pub fn new(show: Show, path: Option<PathBuf>) -> Document {
        let show = Arc::new(show);
        let unusual = letfall_files::fonts::lacking_in(&show);
        let facts = OutsideFacts::none();
        let plan = prepare(show.clone(), facts.clone(), 0);
        if let Ok(plan) = plan.as_ref()
            && plan.service().cues.len() > BESIDE
        {
            // Shows are opened on a background thread, so this is the place to work out everything the screen will read of a
            // large one.
            plan.complete();
        }
        Document {
            in_file: path.is_some().then(|| show.clone()),
            show,
            path,
            history: History::new(),
            service: 0,
            selection: Selection::none(),
            clipboard: Clipboard::default(),
            playhead: SongTime::ZERO,
            said: None,
            revision: 0,
            unusual,
            plan,
            coming: None,
            facts,
            looking: None,
            waker: None,
        }
    }

    /// The folder of the show file, where guides are looked up.
    pub fn folder(&self) -> Option<&Path> {
        // For a bare file name, this is the current folder.
        let folder = self.path.as_deref().and_then(Path::parent)?;
        Some(if folder.as_os_str().is_empty() { Path::new(".") } else { folder })
    }

    /// The path of the guide recording of the song on screen, if it has one.
    pub fn guide_path(&self) -> Option<PathBuf> {
        let guide = self.current()?.song.guide.as_ref()?;
        Some(letfall_files::guides::place(self.folder(), guide))
    }

    /// Whether the recording of the song on screen exists; `None` as long as nobody has looked, or without a recording.
    pub fn recording_exists(&self) -> Option<bool> {
        let guide = self.current()?.song.guide.as_ref()?;
        self.facts.guide(guide).map(|found| found.is_some())
    }

    /// Whether the recording of the song on screen is known to exist.
    pub fn has_recording(&self) -> bool {
        self.recording_exists() == Some(true)
    }

    /// Changes the song on screen in one step, keeping its cues. Returns whether the change was accepted.
    pub fn change_song(&mut self, name: &str, change: impl FnOnce(&mut Song)) -> bool {
        let Some(edit) = self.edit_of_song(change) else { return false };
        self.commit(name, Ok(edit))
    }

    /// The edit that changes the song on screen, keeping its cues.
    pub fn edit_of_song(&self, change: impl FnOnce(&mut Song)) -> Option<Edit> {
        let before = Service { cues: CueList::default(), ..self.current()?.clone() };
        let mut after = before.clone();
        change(&mut after.song);
        Some(Edit::Facts { before: Box::new(before), after: Box::new(after) })
    }

    /// The service on screen.
    pub fn current(&self) -> Option<&Service> {
        self.show.services.get(self.service)
    }

    fn name(&self) -> String {
        self.current().map_or_else(String::new, |s| s.name.clone())
    }

    /// The plan of the service on screen, or why there is none. While the plan of a large service is being remade, this is the
    /// previous one.
    pub fn plan(&self) -> Result<Arc<Prepared>, String> {
        self.plan.clone()
    }

    /// The plan of the show as it is now, for writing files. If a large plan is still being made in the background, this
    /// prepares only the minimum right away; the rest is worked out when it is read.
    pub fn newest_plan(&self) -> Result<Arc<Prepared>, String> {
        match &self.plan {
            Ok(plan) if Arc::ptr_eq(plan.show(), &self.show) && plan.service_at() == self.service => Ok(plan.clone()),
            _ => prepare(self.show.clone(), self.facts.clone(), self.service),
        }
    }

    /// Remakes the plan after a change.
    pub fn prepare(&mut self) {
        self.revision += 1;
        self.service = self.service.min(self.show.services.len().saturating_sub(1));
        self.prepare_unchanged();
        if let Some(service) = self.show.services.get(self.service) {
            self.selection.labels.retain(|label| service.cues.get(*label).is_some());
        }
        self.look_for_recordings();
    }

    /// Remakes the plan for the same show, because something new is known about its recordings.
    fn prepare_unchanged(&mut self) {
        if self.current().is_some_and(|s| s.cues.len() > BESIDE) {
            if self.plan.as_ref().is_ok_and(|plan| plan.service_at() != self.service) {
                self.plan = Err("Working out the schedule…".to_owned());
            }
            self.prepare_beside();
        } else {
            self.coming = None;
            self.unusual = letfall_files::fonts::lacking_in(&self.show);
            self.plan = prepare(self.show.clone(), self.facts.clone(), self.service);
        }
    }

    /// Starts making a plan in the background. Only one is made at a time; the newest state follows when it is done.
    fn prepare_beside(&mut self) {
        if self.coming.is_some() {
            return;
        }
        let (show, facts, at) = (self.show.clone(), self.facts.clone(), self.service);
        let made = move || {
            let unusual = letfall_files::fonts::lacking_in(&show);
            let plan = prepare(show, facts, at);
            if let Ok(plan) = &plan {
                // Work out everything the screen will read now, so that it does not have to wait.
                plan.complete();
            }
            (plan, unusual)
        };
        self.coming = beside("plan", self.revision, self.waker.clone(), made);
        if self.coming.is_none() {
            self.plan = prepare(self.show.clone(), self.facts.clone(), self.service);
        }
    }

    /// Looks for the show's recordings in the background, because whole files may have to be read.
    fn look_for_recordings(&mut self) {
        if self.looking.is_some() || self.show.services.iter().all(|s| s.song.guide.is_none()) {
            return;
        }
        let (show, folder) = (self.show.clone(), self.folder().map(Path::to_owned));
        let look = move || letfall_files::outside_facts(&show, folder.as_deref());
        self.looking = beside("recordings", self.revision, self.waker.clone(), look);
    }

    /// Whether the plan on screen is out of date and a new one is being made.
    pub fn is_preparing(&self) -> bool {
        self.coming.is_some()
    }

    /// Takes over the results of background threads. Call it once a frame.
    pub fn poll(&mut self) {
        if self.revision == 0 && self.looking.is_none() && self.facts == OutsideFacts::none() {
            self.look_for_recordings();
        }
        if let Some(done) = self.looking.as_ref().and_then(Coming::poll) {
            let newest = self.looking.take().is_some_and(|looking| looking.revision == self.revision);
            if let Ok(facts) = done
                && facts != self.facts
            {
                self.facts = facts;
                self.prepare_unchanged();
            }
            if !newest {
                self.look_for_recordings();
            }
        }
        let Some(done) = self.coming.as_ref().and_then(Coming::poll) else { return };
        let newest = self.coming.take().is_some_and(|coming| coming.revision == self.revision);
        let gone = || "The schedule could not be worked out; undo the last step.".to_owned();
        let (plan, unusual) = done.unwrap_or_else(|()| (Err(gone()), BTreeSet::new()));
        let facts_known = plan.as_ref().map_or(true, |plan| *plan.prepared_show().facts() == self.facts);
        if newest || plan.as_ref().is_ok_and(|plan| plan.service_at() == self.service) {
            (self.plan, self.unusual) = (plan, unusual);
        }
        if !newest || !facts_known {
            self.prepare_beside();
        }
    }

    /// Shows a message.
    pub fn say(&mut self, text: impl Into<String>) {
        self.said = Some(StatusMessage { text: text.into(), failed: false });
    }

    /// Shows a message about a failure.
    pub fn fail(&mut self, text: impl Into<String>) {
        self.said = Some(StatusMessage { text: text.into(), failed: true });
    }

    /// Commits an edit under a name, or shows why it was refused. Returns whether it was committed.
    pub fn commit(&mut self, name: &str, edit: Result<Edit, EditError>) -> bool {
        let done = edit
            .and_then(|edit| self.history.commit(Arc::make_mut(&mut self.show), name, edit, self.selection.clone()));
        match done {
            Ok(()) => {
                self.prepare();
                self.say(name);
                true
            }
            Err(why) => {
                self.fail(why.to_string());
                false
            }
        }
    }

    /// Undoes the last step.
    pub fn undo(&mut self) {
        match self.history.undo(Arc::make_mut(&mut self.show)) {
            Ok(Some((name, selected))) => {
                self.selection = selected;
                self.prepare();
                self.say(format!("Undone: {name}"));
            }
            Ok(None) => self.say("Nothing to undo"),
            Err(why) => self.fail(why.to_string()),
        }
    }

    /// Redoes the step undone last.
    pub fn redo(&mut self) {
        match self.history.redo(Arc::make_mut(&mut self.show)) {
            Ok(Some(name)) => {
                self.prepare();
                self.say(format!("Done again: {name}"));
            }
            Ok(None) => self.say("Nothing to do again"),
            Err(why) => self.fail(why.to_string()),
        }
    }

    /// The labels of the selected cues, in order.
    pub fn selected(&self) -> Vec<Label> {
        self.selection.to_vec()
    }

    /// The selected cues.
    pub fn selected_cues(&self) -> Vec<&Cue> {
        let Some(service) = self.current() else { return Vec::new() };
        self.selection.labels.iter().filter_map(|label| service.cues.get(*label)).collect()
    }

    /// The selection with one cue added, or removed if it was selected.
    pub fn toggled(&self, label: Label) -> Selection {
        let mut selection = self.selection.clone();
        if !selection.labels.remove(&label) {
            selection.labels.insert(label);
        }
        selection
    }

    /// "12 cues", "L3".
    pub fn selection_words(&self) -> String {
        match self.selected().as_slice() {
            [one] => one.to_string(),
            many => format!("{} cues", many.len()),
        }
    }

    /// Applies an edit to the selected cues as one step. Returns whether it was done.
    pub fn with_selected(
        &mut self,
        verb: &str,
        edit: impl FnOnce(&Show, &str, &[Label]) -> Result<Edit, EditError>,
    ) -> bool {
        let Some((name, edit)) = self.edit_of_selected(verb, edit) else {
            self.say("Select cues first");
            return false;
        };
        self.commit(&name, edit)
    }

    /// The edit for the selected cues, and the step's name; `None` if none are selected.
    pub fn edit_of_selected(
        &self,
        verb: &str,
        edit: impl FnOnce(&Show, &str, &[Label]) -> Result<Edit, EditError>,
    ) -> Option<(String, Result<Edit, EditError>)> {
        let labels = self.selected();
        let name = verb.replace("{}", &self.selection_words());
        (!labels.is_empty()).then(|| (name, edit(&self.show, &self.name(), &labels)))
    }

    /// Copies the selected cues.
    pub fn copy(&mut self) {
        match edit::copy(&self.show, &self.name(), &self.selected()) {
            Ok(clipboard) if !clipboard.is_empty() => {
                let count = clipboard.len();
                self.clipboard = clipboard;
                self.say(format!("Copied {count} cue{}", if count == 1 { "" } else { "s" }));
            }
            Ok(_) => self.say("Select cues first"),
            Err(why) => self.fail(why.to_string()),
        }
    }

    /// Pastes the copied cues and selects them.
    pub fn paste(&mut self, same_place: bool) {
        if self.clipboard.is_empty() {
            return self.say("Nothing has been copied");
        }
        let at = if same_place { PasteAt::SamePlace } else { PasteAt::Tick(self.playhead_tick()) };
        let pasted = edit::paste(&self.show, &self.name(), &self.clipboard, at);
        let count = self.clipboard.len();
        self.put_in(&format!("Paste {count} cue{}", if count == 1 { "" } else { "s" }), pasted);
    }

    /// Repeats the selected cues and selects the copies.
    pub fn repeat(&mut self, bars: i32, times: u32) {
        let labels = self.selected();
        if labels.is_empty() {
            return self.say("Select cues first");
        }
        let result = edit::repeat(&self.show, &self.name(), &labels, bars, times);
        self.put_in(&format!("Repeat {} every {bars} bars, {times} times", self.selection_words()), result);
    }

    fn put_in(&mut self, name: &str, result: Result<(Edit, Vec<Label>), EditError>) {
        match result {
            Ok((edit, labels)) => {
                if self.commit(name, Ok(edit)) {
                    self.selection = labels.into_iter().collect();
                }
            }
            Err(why) => self.fail(why.to_string()),
        }
    }

    /// The playhead's position in ticks.
    pub fn playhead_tick(&self) -> Tick {
        self.plan.as_ref().map_or(Tick::ZERO, |plan| plan.grid().tick_at(self.playhead))
    }

    /// The title of the window.
    pub fn title(&self) -> String {
        let mark = if self.history.is_changed() { " (changed)" } else { "" };
        format!("{}{mark} – Letfall", self.show.title)
    }
}

impl<T> Coming<T> {
    /// The result once it is there; an error if the thread ended without one.
    fn poll(&self) -> Option<Result<T, ()>> {
        match self.from.try_recv() {
            Ok(done) => Some(Ok(done)),
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) => Some(Err(())),
        }
    }
}

/// Does work on a background thread and then wakes the screen; `None` if the system cannot start a thread.
fn beside<T: Send + 'static>(
    name: &str,
    revision: u64,
    waker: Option<Waker>,
    work: impl FnOnce() -> T + Send + 'static,
) -> Option<Coming<T>> {
    let (to, from) = channel();
    let run = move || {
        drop(to.send(work()));
        if let Some(wake) = waker {
            wake();
        }
    };
    thread::Builder::new().name(name.into()).spawn(run).ok().map(|_| Coming { revision, from })
}

fn prepare(show: Arc<Show>, facts: OutsideFacts, at: usize) -> Worked {
    if show.services.get(at).is_none() {
        return Err("This show has no service yet. Add one on the Services screen.".to_owned());
    }
    PreparedShow::new(show, facts).prepare(at).map_err(|why| why.to_string())
}

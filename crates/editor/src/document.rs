//! The open show and everything worked out from it. No screen: what is here can be tested without one.

use letfall_core::edit::{self, Clipboard, Edit, EditError, History, PasteAt, Selection};
use letfall_core::prepared::{OutsideFacts, Prepared, PreparedShow};
use letfall_core::show::{Cue, CueList, Label, Service, Show, Song};
use letfall_core::time::{SongTime, Tick};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread;

/// What stands in the foot of the window: what was last said to the person.
pub struct StatusMessage {
    /// The words.
    pub text: String,
    /// Whether it is a failure.
    pub failed: bool,
}

/// The plan of the service on screen, or why there is none.
type Worked = Result<Arc<Prepared>, String>;

/// What a thread beside the screen brings.
struct Coming<T> {
    /// Of which revision of the show it is.
    revision: u64,
    from: Receiver<T>,
}

/// Wakes the screen.
pub type Waker = Arc<dyn Fn() + Send + Sync>;

/// The open show.
pub struct Document {
    /// The show. Whoever takes a copy of the pointer has the show as it is now, whatever is edited later.
    pub show: Arc<Show>,
    /// Where it is kept, if anywhere.
    pub path: Option<PathBuf>,
    /// Steps taken.
    pub history: History,
    /// The service on screen, by its place.
    pub service: usize,
    /// Selected cues.
    pub selection: Selection,
    /// Copied cues.
    pub clipboard: Clipboard,
    /// Where the playhead stands.
    pub playhead: SongTime,
    /// What was last said.
    pub said: Option<StatusMessage>,
    /// Counts changes, so that others can notice one.
    pub revision: u64,
    /// Characters in use that the house's typefaces lack.
    pub unusual: BTreeSet<char>,
    plan: Worked,
    /// A plan that is being made beside the screen.
    coming: Option<Coming<(Worked, BTreeSet<char>)>>,
    /// What is known of the recordings.
    facts: OutsideFacts,
    /// Recordings that are being looked for beside the screen.
    looking: Option<Coming<OutsideFacts>>,
    /// Wakes the screen when something beside it is done.
    pub waker: Option<Waker>,
}

/// A service of more cues is worked out beside the screen, so that no edit holds it up.
pub const BESIDE: usize = 4000;

impl Document {
    /// Opens a show. Its recordings are looked for with the first [`Document::poll`].
    pub fn new(show: Show, path: Option<PathBuf>) -> Document {
        let show = Arc::new(show);
        let unusual = letfall_files::fonts::lacking_in(&show);
        let facts = OutsideFacts::none();
        let plan = prepare(show.clone(), facts.clone(), 0);
        if let Ok(plan) = plan.as_ref()
            && plan.service().cues.len() > BESIDE
        {
            // Shows are opened beside the screen: whatever it reads of a large one is there before it asks.
            plan.complete();
        }
        Document {
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

    /// The folder that the show is kept in: guides are found from there.
    pub fn folder(&self) -> Option<&Path> {
        // The folder of a bare name is the one that the program was started in.
        let folder = self.path.as_deref().and_then(Path::parent)?;
        Some(if folder.as_os_str().is_empty() { Path::new(".") } else { folder })
    }

    /// Where the guide recording of the song on screen is, if it has one.
    pub fn guide_path(&self) -> Option<PathBuf> {
        let guide = self.current()?.song.guide.as_ref()?;
        Some(letfall_files::guides::place(self.folder(), guide))
    }

    /// Whether the song on screen has a recording that was found.
    pub fn has_recording(&self) -> bool {
        let guide = self.current().and_then(|service| service.song.guide.as_ref());
        guide.is_some_and(|guide| matches!(self.facts.guide(guide), Some(Some(_))))
    }

    /// Changes the song on screen as one step; its cues stay. Whether it was done.
    pub fn change_song(&mut self, name: &str, change: impl FnOnce(&mut Song)) -> bool {
        let Some(edit) = self.edit_of_song(change) else { return false };
        self.commit(name, Ok(edit))
    }

    /// The step that changes the song on screen; its cues stay.
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

    /// The plan of the service on screen, or why there is none. While a large one is made anew it is the one before.
    pub fn plan(&self) -> Result<Arc<Prepared>, String> {
        self.plan.clone()
    }

    /// A plan of the show as it is now, for whoever writes it into a file: while a large one is still being made beside the screen,
    /// one is made here and now in its smallest part, and the rest where it is read.
    pub fn newest_plan(&self) -> Result<Arc<Prepared>, String> {
        match &self.plan {
            Ok(plan) if Arc::ptr_eq(plan.show(), &self.show) && plan.service_at() == self.service => Ok(plan.clone()),
            _ => prepare(self.show.clone(), self.facts.clone(), self.service),
        }
    }

    /// Makes the plan anew after a change.
    pub fn prepare(&mut self) {
        self.revision += 1;
        self.service = self.service.min(self.show.services.len().saturating_sub(1));
        self.prepare_unchanged();
        if let Some(service) = self.show.services.get(self.service) {
            self.selection.labels.retain(|label| service.cues.get(*label).is_some());
        }
        self.look_for_recordings();
    }

    /// Makes the plan anew where the show is the same and what is known of its recordings is not.
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

    /// Starts making a plan beside the screen, one at a time: the newest state follows when the last is done.
    fn prepare_beside(&mut self) {
        if self.coming.is_some() {
            return;
        }
        let (show, facts, at) = (self.show.clone(), self.facts.clone(), self.service);
        let made = move || {
            let unusual = letfall_files::fonts::lacking_in(&show);
            let plan = prepare(show, facts, at);
            if let Ok(plan) = &plan {
                // Whatever the screen reads is there before it asks.
                plan.complete();
            }
            (plan, unusual)
        };
        self.coming = beside("plan", self.revision, self.waker.clone(), made);
        if self.coming.is_none() {
            self.plan = prepare(self.show.clone(), self.facts.clone(), self.service);
        }
    }

    /// Looks for the show's recordings beside the screen: whole files may have to be read.
    fn look_for_recordings(&mut self) {
        if self.looking.is_some() || self.show.services.iter().all(|s| s.song.guide.is_none()) {
            return;
        }
        let (show, folder) = (self.show.clone(), self.folder().map(Path::to_owned));
        let look = move || letfall_files::outside_facts(&show, folder.as_deref());
        self.looking = beside("recordings", self.revision, self.waker.clone(), look);
    }

    /// Whether the plan shown is not yet the newest.
    pub fn is_preparing(&self) -> bool {
        self.coming.is_some()
    }

    /// Takes over what was made beside the screen; to be called once a frame.
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

    /// Says something.
    pub fn say(&mut self, text: impl Into<String>) {
        self.said = Some(StatusMessage { text: text.into(), failed: false });
    }

    /// Says that something failed.
    pub fn fail(&mut self, text: impl Into<String>) {
        self.said = Some(StatusMessage { text: text.into(), failed: true });
    }

    /// Commits an edit under a name, or says why not.
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

    /// Takes the last step back.
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

    /// Does the last step taken back again.
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

    /// Selected labels, in order.
    pub fn selected(&self) -> Vec<Label> {
        self.selection.to_vec()
    }

    /// Selected cues.
    pub fn selected_cues(&self) -> Vec<&Cue> {
        let Some(service) = self.current() else { return Vec::new() };
        self.selection.labels.iter().filter_map(|label| service.cues.get(*label)).collect()
    }

    /// The selection with one cue more, or less.
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

    /// Does something with the selected cues, as one step.
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

    /// The step that does something with the selected cues, and its name; `None` where none are selected.
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

    /// Pastes what was copied and selects it.
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

    /// The tick under the playhead.
    pub fn playhead_tick(&self) -> Tick {
        self.plan.as_ref().map_or(Tick::ZERO, |plan| plan.grid().tick_at(self.playhead))
    }

    /// What stands in the title of the window.
    pub fn title(&self) -> String {
        let mark = if self.history.is_changed() { " (changed)" } else { "" };
        format!("{}{mark} – Letfall", self.show.title)
    }
}

impl<T> Coming<T> {
    /// What has come: a result, or that nobody brings one any more.
    fn poll(&self) -> Option<Result<T, ()>> {
        match self.from.try_recv() {
            Ok(done) => Some(Ok(done)),
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) => Some(Err(())),
        }
    }
}

/// Does something on a thread beside the screen and wakes it; `None` where the system has no thread to give.
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

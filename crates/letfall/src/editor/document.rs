//! The open show and everything worked out from it. No screen: what is here can be tested without one.

use letfall_core::check::{self, Problem};
use letfall_core::edit::{self, Clipboard, Edit, EditError, History, PasteAt, Selection};
use letfall_core::file;
use letfall_core::schedule::{Row, Schedule};
use letfall_core::show::{Cue, CueList, Kind, Label, Service, Show, Song, TrackKey};
use letfall_core::stage::Stage;
use letfall_core::time::{SongTime, Tick};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread;

/// What is worked out from the show for the service on screen.
pub struct Derived {
    /// The show as it was then: a large one is worked out beside the screen while edits go on.
    pub show: Arc<Show>,
    /// Which service, by its place.
    pub service_at: usize,
    /// Its schedule.
    pub schedule: Schedule,
    /// What the audience sees.
    pub stage: Stage,
    /// What is wrong, the rig's problems first.
    pub problems: Vec<Problem>,
    /// Rows of each track in order of landing: places in `schedule.rows`.
    pub tracks: Vec<TrackRows>,
    /// The place in `schedule.rows` of each cue, in the order of the service's list.
    pub rows: Vec<u32>,
    /// When each cue's effect ends, by its place in `schedule.rows`.
    pub ends: Vec<SongTime>,
    /// The light's level before and after each row of the schedule, on its track.
    pub levels: Vec<[f32; 2]>,
    /// Characters in use that the house's typefaces lack.
    pub unusual: BTreeSet<char>,
}

impl Derived {
    /// The service that the schedule is of, as it was then.
    pub fn service(&self) -> &Service {
        &self.show.services[self.service_at]
    }

    /// The row of a label.
    pub fn row(&self, label: Label) -> Option<&Row> {
        let cue = self.service().cues.index_of(label)?;
        self.schedule.rows.get(self.rows[cue] as usize)
    }

    /// The cue of a row of the schedule.
    pub fn cue(&self, row: &Row) -> &Cue {
        &self.service().cues.as_slice()[row.cue as usize]
    }
}

/// One row of the score.
pub struct TrackRows {
    /// Its key.
    pub key: TrackKey,
    /// Its name.
    pub name: String,
    /// What its cues are.
    pub kind: Kind,
    /// Places in `schedule.rows`, by land.
    pub rows: Vec<u32>,
}

/// What was last said to the person.
pub struct Said {
    /// The words.
    pub text: String,
    /// Whether it is a failure.
    pub failed: bool,
}

/// What was worked out, or why nothing could be.
type Worked = Result<Arc<Derived>, String>;

/// The open show.
pub struct Document {
    /// The show.
    pub show: Show,
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
    pub said: Option<Said>,
    /// Counts changes, so that others can notice one.
    pub revision: u64,
    derived: Worked,
    /// What is being worked out beside the screen, of which revision.
    coming: Option<(u64, Receiver<Worked>)>,
    /// Wakes the screen when that is done.
    pub waker: Option<Arc<dyn Fn() + Send + Sync>>,
}

/// A service of more cues is worked out beside the screen, so that no edit holds it up.
const BESIDE: usize = 4000;

impl Document {
    /// Opens a show.
    pub fn new(show: Show, path: Option<PathBuf>) -> Document {
        let mut document = Document {
            show,
            path,
            history: History::new(),
            service: 0,
            selection: Selection::none(),
            clipboard: Clipboard::default(),
            playhead: SongTime::ZERO,
            said: None,
            revision: 0,
            derived: Err(String::new()),
            coming: None,
            waker: None,
        };
        document.derived = derive(&document.show, document.service, document.folder());
        document
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
        Some(crate::guides::place(self.folder(), guide))
    }

    /// Changes the song on screen as one step; its cues stay. Whether it was done.
    pub fn change_song(&mut self, name: &str, change: impl FnOnce(&mut Song)) -> bool {
        let Some(service) = self.current() else { return false };
        let before = Service { cues: CueList::default(), ..service.clone() };
        let mut after = before.clone();
        change(&mut after.song);
        self.commit(name, Ok(Edit::Facts { before: Box::new(before), after: Box::new(after) }))
    }

    /// The service on screen.
    pub fn current(&self) -> Option<&Service> {
        self.show.services.get(self.service)
    }

    fn name(&self) -> String {
        self.current().map_or_else(String::new, |s| s.name.clone())
    }

    /// What is worked out, or why nothing can be.
    pub fn derived(&self) -> Result<Arc<Derived>, String> {
        self.derived.clone()
    }

    /// Works everything out anew.
    pub fn derive(&mut self) {
        self.revision += 1;
        self.service = self.service.min(self.show.services.len().saturating_sub(1));
        if self.current().is_some_and(|s| s.cues.len() > BESIDE) {
            if self.derived.as_ref().is_ok_and(|d| d.service_at != self.service) {
                self.derived = Err("Working out the schedule…".to_owned());
            }
            self.derive_beside();
        } else {
            self.coming = None;
            self.derived = derive(&self.show, self.service, self.folder());
        }
        if let Some(service) = self.show.services.get(self.service) {
            self.selection.labels.retain(|label| service.cues.get(*label).is_some());
        }
    }

    /// Starts working out beside the screen, one at a time: the newest state follows when the last is done.
    fn derive_beside(&mut self) {
        if self.coming.is_some() {
            return;
        }
        let (to, from) = channel();
        let (show, at, waker) = (self.show.clone(), self.service, self.waker.clone());
        let folder = self.folder().map(Path::to_owned);
        let work = move || {
            drop(to.send(derive(&show, at, folder.as_deref())));
            if let Some(wake) = waker {
                wake();
            }
        };
        match thread::Builder::new().name("schedule".into()).spawn(work) {
            Ok(_) => self.coming = Some((self.revision, from)),
            Err(_) => self.derived = derive(&self.show, self.service, self.folder()),
        }
    }

    /// Whether the schedule shown is not yet the newest.
    pub fn is_deriving(&self) -> bool {
        self.coming.is_some()
    }

    /// Takes over what was worked out beside the screen; to be called once a frame.
    pub fn poll(&mut self) {
        let Some((revision, from)) = &self.coming else { return };
        let worked = match from.try_recv() {
            Ok(worked) => worked,
            Err(TryRecvError::Empty) => return,
            Err(TryRecvError::Disconnected) => Err("The schedule could not be worked out; undo the last step.".into()),
        };
        let newest = *revision == self.revision;
        self.coming = None;
        if newest || worked.as_ref().is_ok_and(|d| d.service_at == self.service) {
            self.derived = worked;
        }
        if !newest {
            self.derive_beside();
        }
    }

    /// Says something.
    pub fn say(&mut self, text: impl Into<String>) {
        self.said = Some(Said { text: text.into(), failed: false });
    }

    /// Says that something failed.
    pub fn fail(&mut self, text: impl Into<String>) {
        self.said = Some(Said { text: text.into(), failed: true });
    }

    /// Commits an edit under a name, or says why not.
    pub fn commit(&mut self, name: &str, edit: Result<Edit, EditError>) -> bool {
        let done = edit.and_then(|edit| self.history.commit(&mut self.show, name, edit, self.selection.clone()));
        match done {
            Ok(()) => {
                self.derive();
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
        match self.history.undo(&mut self.show) {
            Ok(Some((name, selected))) => {
                self.selection = selected;
                self.derive();
                self.say(format!("Undone: {name}"));
            }
            Ok(None) => self.say("Nothing to undo"),
            Err(why) => self.fail(why.to_string()),
        }
    }

    /// Does the last step taken back again.
    pub fn redo(&mut self) {
        match self.history.redo(&mut self.show) {
            Ok(Some(name)) => {
                self.derive();
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
        let labels = self.selected();
        if labels.is_empty() {
            self.say("Select cues first");
            return false;
        }
        let name = verb.replace("{}", &self.selection_words());
        let edit = edit(&self.show, &self.name(), &labels);
        self.commit(&name, edit)
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
        let made = edit::repeat(&self.show, &self.name(), &labels, bars, times);
        self.put_in(&format!("Repeat {} every {bars} bars, {times} times", self.selection_words()), made);
    }

    fn put_in(&mut self, name: &str, made: Result<(Edit, Vec<Label>), EditError>) {
        match made {
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
        self.derived.as_ref().map_or(Tick::ZERO, |d| d.schedule.grid.tick_at(self.playhead))
    }

    /// The show's bytes, as they are kept.
    pub fn bytes(&self) -> Vec<u8> {
        file::write(&self.show)
    }

    /// What stands in the title of the window.
    pub fn title(&self) -> String {
        let mark = if self.history.is_changed() { " (changed)" } else { "" };
        format!("{}{mark} – Letfall", self.show.title)
    }
}

fn derive(show: &Show, at: usize, folder: Option<&Path>) -> Worked {
    let Some(service) = show.services.get(at) else {
        return Err("This show has no service yet. Add one on the Services screen.".to_owned());
    };
    let schedule = Schedule::build(show, service).map_err(|e| e.to_string())?;
    let stage = Stage::new(show, service, &schedule);
    let ends = letfall_core::stage::ends(show, service, &schedule, &stage);
    let mut problems = check::rig(show);
    problems.extend(check::with_schedule(show, service, &schedule, &stage));
    let own = |p: &Problem| p.service.as_deref() == Some(service.name.as_str());
    problems.extend(check::guides(show, |guide| crate::guides::sum(folder, guide)).into_iter().filter(own));
    let mut tracks: Vec<TrackRows> = show
        .tracks
        .iter()
        .map(|t| TrackRows { key: t.key.clone(), name: t.name.clone(), kind: t.kind, rows: Vec::new() })
        .collect();
    let mut order: Vec<u32> = (0..u32::try_from(schedule.rows.len()).unwrap_or(u32::MAX)).collect();
    order.sort_by_key(|at| (schedule.rows[*at as usize].land, schedule.rows[*at as usize].label));
    for at in order {
        let cue = &service.cues.as_slice()[schedule.rows[at as usize].cue as usize];
        if let Some(track) = tracks.iter_mut().find(|t| t.key == cue.track) {
            track.rows.push(at);
        }
    }
    let levels = letfall_core::stage::levels(show, service, &schedule);
    let mut rows = vec![0u32; service.cues.len()];
    for (at, row) in (0u32..).zip(&schedule.rows) {
        rows[row.cue as usize] = at;
    }
    let unusual = crate::scripts::of_show(show);
    Ok(Arc::new(Derived {
        show: Arc::new(show.clone()),
        service_at: at,
        schedule,
        stage,
        problems,
        tracks,
        rows,
        ends,
        levels,
        unusual,
    }))
}

//! Files: asking for a path, opening, saving, exporting. Anything that may take long is done in the background.

use crate::by_ear::EarRequest;
use crate::document::{Document, Waker};
use crate::editor::Editor;
use crate::jobs::dialogs::{DialogResult, Question};
use crate::jobs::{
    ExportKind, FilePurpose, GuideRead, Job, JobContext, JobResult, Leaving, forget, guide_facts, own_place,
    read_guide, recent, remember,
};
use crate::rehearsal::RehearsalRequest;
use crate::request::{StartChoice, UiRequest};
use crate::screens::windows::{ChangedAnswer, CueTableWindow, Start};
use letfall_core::prepared::{OutsideFacts, PreparedShow};
use letfall_core::show::Song;
use letfall_export::midi::MidiOptions;
use letfall_files::exports::{Export, ExportStep, Product, bundle};
use letfall_files::{disk, new_show};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The sample rate of exported sound files.
const SAMPLE_RATE: u32 = 48_000;

impl Editor {
    /// Does something that would lose unsaved work, but asks first if there is any.
    pub(super) fn leave(&mut self, to: Leaving) {
        if self.rehearsal.is_holding() {
            // Nothing may come between a hand and its release.
            self.document.fail("a hand holds a release; let go of it first");
        } else if self.rehearsal.performs() {
            self.screens.performing = Some(to);
        } else if to == Leaving::Grid {
            self.left(to);
        } else if self.document.history.is_changed() {
            self.screens.leaving = Some(to);
        } else {
            self.left(to);
        }
    }

    /// Called when the window is about to close. Returns whether it may; if work is unsaved, asks about it first.
    pub(crate) fn may_close(&mut self) -> bool {
        let performs = self.rehearsal.performs() || self.rehearsal.is_holding();
        if self.close || !performs && !self.document.history.is_changed() {
            return true;
        }
        self.leave(Leaving::Close);
        false
    }

    /// Handles the answer to the question about a performance that goes on: whether it is to be stopped.
    pub(crate) fn answer_performing(&mut self, stop: bool) {
        let Some(to) = self.screens.performing.take() else { return };
        if stop {
            self.rehearsal_request(RehearsalRequest::StopAll);
            self.rehearsal.count_as_stopped();
            self.leave(to);
        }
    }

    /// Handles the answer to the question about unsaved work.
    pub(crate) fn answer_leaving(&mut self, save: bool) {
        let Some(to) = self.screens.leaving.take() else { return };
        if save {
            self.after_saving = Some(to);
            self.save();
        } else {
            // Nothing is lost yet but by closing: the show stays until another takes its place.
            if to == Leaving::Close {
                forget(&self.kept_at);
            }
            self.left(to);
        }
    }

    /// Whether another show may take this one's place, which was asked before it was read. Meanwhile somebody may have gone on working.
    pub(super) fn may_still_replace(&mut self) -> bool {
        if self.rehearsal.performs() || self.rehearsal.is_holding() {
            self.document.fail("not opened: a performance is running; stop it first");
            return false;
        }
        if self.document.history.is_changed() && self.document.revision != self.asked_at {
            self.document.fail("not opened: this show was edited meanwhile; save it, then open the other one again");
            return false;
        }
        true
    }

    fn left(&mut self, to: Leaving) {
        self.screens.leaving = None;
        self.asked_at = self.document.revision;
        match to {
            Leaving::New => self.screens.start = Some(Start::new(recent(&self.folder))),
            Leaving::Tour => self.start_with(StartChoice::Tour),
            Leaving::Open => self.ask_for_file(FilePurpose::Open),
            Leaving::Dropped => {
                if let Some(path) = self.dropped_show.take() {
                    self.open_file(path);
                }
            }
            Leaving::Close => self.close = true,
            Leaving::Grid => self.ask_for_file(FilePurpose::Grid),
        }
    }

    /// Asks for a path, in the system's dialog or by typing.
    pub(super) fn ask_for_file(&mut self, purpose: FilePurpose) {
        let near = self.near(purpose);
        let question = Question {
            title: purpose.title(),
            to_write: purpose.writes(),
            kind: purpose.files(),
            near: std::path::absolute(&near).unwrap_or_else(|_| near.clone()),
        };
        let answer = self.dialogs.ask(question);
        self.start("Waiting for the file dialog", 1, move |_| Ok(JobResult::FileChosen(purpose, answer(), near)));
    }

    fn near(&self, purpose: FilePurpose) -> PathBuf {
        let path = self.document.path.clone();
        match purpose {
            FilePurpose::Open
            | FilePurpose::Grid
            | FilePurpose::Previous
            | FilePurpose::Guide
            | FilePurpose::Table
            | FilePurpose::StartSong
            | FilePurpose::StartGuide
            | FilePurpose::StartRig
            | FilePurpose::Film
            | FilePurpose::FilmLog
            | FilePurpose::Regions => {
                let folder = path.as_deref().and_then(Path::parent).map(Path::to_owned).unwrap_or_default();
                if folder.as_os_str().is_empty() { folder } else { folder.join("") }
            }
            FilePurpose::SaveAs => path.unwrap_or_else(|| PathBuf::from("my-show.letfall")),
            FilePurpose::SaveRegions => {
                let show = path.unwrap_or_else(|| PathBuf::from("my-show.letfall"));
                PathBuf::from(format!("{}-film-regions.json", show.with_extension("").display()))
            }
            FilePurpose::Export(kind) => {
                let plain = |c: char| if c.is_alphanumeric() { c } else { '-' };
                let service: String = self
                    .document
                    .current()
                    .map_or_else(String::new, |s| s.name.to_lowercase().chars().map(plain).collect());
                let stem = path.unwrap_or_else(|| PathBuf::from("show.letfall")).with_extension("");
                if kind == ExportKind::Bundle {
                    return PathBuf::from(format!("{}-bundle.zip", stem.display()));
                }
                let pages = kind == ExportKind::Paper;
                let sheet = if pages { format!("-{}", self.screens.paper.file_word()) } else { kind.word().to_owned() };
                PathBuf::from(format!("{}-{service}{sheet}.{}", stem.display(), kind.files().0))
            }
        }
    }

    /// Starts a long job unless one is already running.
    pub(super) fn start(
        &mut self,
        words: &str,
        steps: u8,
        work: impl FnOnce(&JobContext<Result<JobResult, String>>) -> Result<JobResult, String> + Send + 'static,
    ) {
        if let Some(other) = &self.job {
            let other = other.words.clone();
            return self.document.fail(format!("“{other}” is still running; stop it first"));
        }
        match Job::start(words, steps, self.wake(), work) {
            Ok(job) => self.job = Some(job),
            Err(why) => self.document.fail(why),
        }
    }

    /// A function that wakes the screen from a background thread.
    pub(super) fn wake(&self) -> Waker {
        self.document.waker.clone().unwrap_or_else(|| Arc::new(|| {}))
    }

    /// Takes over the results of background jobs.
    pub(crate) fn take_job_results(&mut self) {
        if let Some(result) = self.saving.as_mut().and_then(Job::poll) {
            self.saving = None;
            self.job_result(result.and_then(|r| r));
        }
        if let Some(result) = self.job.as_mut().and_then(Job::poll) {
            self.job = None;
            self.job_result(result.and_then(|r| r));
        }
    }

    fn job_result(&mut self, result: Result<JobResult, String>) {
        match result {
            Ok(JobResult::FileChosen(purpose, DialogResult::Path(path), _)) => self.chosen(purpose, path),
            // Whoever gives up saving does not want what was to come after it.
            Ok(JobResult::FileChosen(_, DialogResult::Nothing, _)) => self.after_saving = None,
            Ok(JobResult::FileChosen(purpose, DialogResult::NoService, near)) => {
                self.screens.path = Some((purpose, near.display().to_string()));
            }
            Ok(JobResult::Opened(document)) => {
                if self.may_still_replace() {
                    self.replace(*document);
                }
            }
            Ok(JobResult::Saved(show, path)) => self.saved(&show, path),
            Ok(JobResult::ChangedByOthers(path)) => self.screens.changed_by_others = Some(path),
            Ok(JobResult::Guide(path, read)) => self.set_guide(path, *read),
            Ok(JobResult::Grid(song, notes)) => self.set_grid(*song, &notes),
            Ok(JobResult::Demo(document)) => self.show_demo(*document),
            Ok(JobResult::StartSong(song, name)) => {
                if let Some(start) = &mut self.screens.start {
                    start.set_song(*song, name);
                }
            }
            Ok(JobResult::StartRig(show, title)) => {
                if let Some(start) = &mut self.screens.start {
                    start.set_rig(show, title);
                }
            }
            Ok(JobResult::Table(text)) => self.screens.table = Some(CueTableWindow::new(text)),
            Ok(JobResult::Previous(show, name)) => self.screens.paper.compare(name, *show),
            Ok(JobResult::Wrote(path, words)) => self.document.say(format!("Wrote {}: {words}", path.display())),
            Err(why) => {
                self.forget_what_follows();
                self.document.fail(why);
            }
        }
    }

    /// Uses a chosen path for its purpose.
    pub(crate) fn chosen(&mut self, purpose: FilePurpose, mut path: PathBuf) {
        if purpose.writes() && path.extension().is_none() {
            path.set_extension(purpose.files().0);
        }
        match purpose {
            FilePurpose::Open => self.open_file(path),
            FilePurpose::SaveAs => self.save_to(path, false),
            FilePurpose::Export(kind) => self.export(kind, path),
            FilePurpose::Grid => self.read_grid(path),
            FilePurpose::Guide => self.read_guide(path),
            FilePurpose::Previous => self.read_previous(path),
            FilePurpose::Table => self.read_table(path),
            FilePurpose::StartSong => self.read_start_song(path),
            FilePurpose::StartRig => self.read_start_rig(path),
            FilePurpose::Film => self.open_film(path),
            FilePurpose::FilmLog => self.read_film_log(&path),
            FilePurpose::Regions => self.read_regions(&path),
            FilePurpose::SaveRegions => self.save_regions(&path),
            FilePurpose::StartGuide => {
                if let Some(start) = &mut self.screens.start {
                    start.set_guide(path);
                }
            }
        }
    }

    /// Opens a show in the background.
    pub fn open_file(&mut self, path: PathBuf) {
        let words = format!("Opening {}", path.display());
        self.start(&words, 2, move |job| {
            let given_up = || Err("not opened: it was stopped".to_owned());
            if !job.step(0, "reading the file") {
                return given_up();
            }
            let show = disk::read_show(&path).map_err(|e| e.to_string())?;
            if !job.step(1, "working out the schedule") {
                return given_up();
            }
            Ok(JobResult::Opened(Box::new(Document::new(show, Some(path)))))
        });
    }

    /// Handles the answer to the question about a file that somebody else has changed.
    pub(crate) fn answer_changed_by_others(&mut self, answer: ChangedAnswer) {
        let Some(path) = self.screens.changed_by_others.take() else { return };
        match answer {
            ChangedAnswer::Elsewhere => self.ask_for_file(FilePurpose::SaveAs),
            ChangedAnswer::Over => self.save_to(path, true),
            ChangedAnswer::Back => self.after_saving = None,
        }
    }

    /// Saves the show to its file, or asks for one.
    pub(super) fn save(&mut self) {
        match self.document.path.clone() {
            Some(path) => self.save_to(path, false),
            None => self.ask_for_file(FilePurpose::SaveAs),
        }
    }

    /// Saves in the background, because a disk may take a while to confirm the write. What others have saved there since it was opened
    /// here is written over only if somebody said so.
    fn save_to(&mut self, path: PathBuf, over_others: bool) {
        if self.saving.is_some() {
            return self.document.fail("the show is being saved; save it again in a moment");
        }
        let show = self.document.show.clone();
        let words = format!("Saving {}", path.display());
        // Another file was chosen by a person, who was asked about writing over it.
        let own = !over_others && self.document.path.as_ref() == Some(&path);
        let left = self.document.in_file.clone().filter(|_| own);
        let work = move |_: &JobContext<Result<JobResult, String>>| {
            if let Some(left) = left
                && let Ok(there) = std::fs::read(&path)
                && letfall_core::file::read(&there).ok().as_ref() != Some(&*left)
            {
                return Ok(JobResult::ChangedByOthers(path));
            }
            let bytes = letfall_core::file::write(&show);
            disk::write(&path, &bytes).map_err(|e| e.to_string())?;
            Ok(JobResult::Saved(show, path))
        };
        match Job::start(words, 1, self.wake(), work) {
            Ok(job) => self.saving = Some(job),
            Err(why) => self.document.fail(why),
        }
    }

    fn saved(&mut self, show: &Arc<letfall_core::show::Show>, path: PathBuf) {
        let before = self.document.path.clone();
        forget(&self.kept_at);
        if before.as_deref() != Some(&path) {
            self.mark = None;
            let own = own_place(&self.folder, Some(&path));
            (self.kept_at, self.mark) = (own.place, own.mark);
        }
        remember(&self.folder, &path);
        self.document.say(format!("Saved {}", path.display()));
        self.document.path = Some(path);
        self.document.in_file = Some(show.clone());
        // Edits made during saving are not on the disk.
        if Arc::ptr_eq(show, &self.document.show) {
            self.document.history.mark_saved();
        }
        // A performance may have begun meanwhile, so this is asked as if it were new.
        if let Some(to) = self.after_saving.take() {
            self.leave(to);
        }
    }

    /// Puts everything together in one zip file, in the background.
    fn export_bundle(&mut self, path: PathBuf) {
        let name = self.document.current().map_or_else(String::new, |service| service.name.clone());
        let options = self.screens.paper.choice(&name).bundle(SAMPLE_RATE);
        let prepared = PreparedShow::new(self.document.show.clone(), OutsideFacts::none());
        let folder = self.document.folder().map(Path::to_owned);
        let words = format!("Writing {}", path.display());
        self.start(&words, 1, move |job| {
            let mut progress = |_: ExportStep| job.step(0, "making every sheet and file");
            let made =
                bundle(&prepared, folder.as_deref(), &path, &options, &mut progress).map_err(|e| e.to_string())?;
            let words =
                made.remarks.iter().fold(format!("{} files", made.files), |words, more| format!("{words}; {more}"));
            Ok(JobResult::Wrote(path, words))
        });
    }

    fn export(&mut self, kind: ExportKind, path: PathBuf) {
        if kind == ExportKind::Bundle {
            return self.export_bundle(path);
        }
        let plan = match self.document.newest_plan() {
            Ok(plan) => plan,
            Err(why) => return self.document.fail(why),
        };
        let paper = self.screens.paper.choice(&plan.service().name);
        let folder = self.document.folder().map(Path::to_owned);
        let words = format!("Writing {}", path.display());
        self.start(&words, 2, move |job| {
            let product = match kind {
                ExportKind::Midi => Product::Midi(MidiOptions::default()),
                ExportKind::MidiWithReleases => {
                    Product::Midi(MidiOptions { with_releases: true, ..MidiOptions::default() })
                }
                ExportKind::Paper | ExportKind::Bundle => Product::Paper(Box::new(paper.options())),
                ExportKind::Table => Product::Table,
                ExportKind::Click => Product::Click { sample_rate: SAMPLE_RATE, section_pips: true },
                ExportKind::Timecode => Product::Timecode { rate: None, sample_rate: SAMPLE_RATE, with_guide: false },
            };
            let export = Export { product, plan, folder, to: path.clone() };
            let mut progress = |step: ExportStep| match step {
                ExportStep::Making => job.step(0, "making the file"),
                ExportStep::Writing => job.step(1, "writing"),
            };
            let exported = export.run(&mut progress).map_err(|e| e.to_string())?;
            let words = exported.remarks.iter().fold(exported.words, |words, more| format!("{words}; {more}"));
            Ok(JobResult::Wrote(path, words))
        });
    }

    /// Reads an earlier version of the show in the background, to mark changes against it.
    fn read_previous(&mut self, path: PathBuf) {
        let words = format!("Reading {}", path.display());
        self.start(&words, 1, move |job| {
            job.step(0, "reading the file");
            let show = disk::read_show(&path).map_err(|e| e.to_string())?;
            let name = if show.version.is_empty() { path.display().to_string() } else { show.version.clone() };
            Ok(JobResult::Previous(Box::new(show), name))
        });
    }

    /// Reads a table of cues in the background.
    fn read_table(&mut self, path: PathBuf) {
        let words = format!("Reading {}", path.display());
        self.start(&words, 1, move |_| {
            let bytes = disk::read("the table", &path).map_err(|e| e.to_string())?;
            let text = String::from_utf8(bytes)
                .map_err(|_| format!("{} is not UTF-8 text; save the table as CSV in UTF-8", path.display()))?;
            Ok(JobResult::Table(text))
        });
    }

    /// Reads a recording in the background, to use it as the song's guide.
    pub(super) fn read_guide(&mut self, path: PathBuf) {
        let words = format!("Reading {}", path.display());
        self.start(&words, 1, move |job| {
            let read = read_guide(&path, || job.step(0, "decoding"))?;
            Ok(JobResult::Guide(path, Box::new(read)))
        });
    }

    /// Makes a recording that has been read the song's guide.
    fn set_guide(&mut self, path: PathBuf, read: GuideRead) {
        let path = std::path::absolute(&path).unwrap_or(path);
        let folder = self.document.folder().map(|f| std::path::absolute(f).unwrap_or_else(|_| f.to_owned()));
        let Some(facts) = guide_facts(&path, folder.as_deref(), &read.peaks) else {
            return self.document.fail(format!("{} went away while it was read; choose it again", path.display()));
        };
        let name = facts.path.clone();
        let place = letfall_files::guides::place(self.document.folder(), &facts);
        if self.document.change_song(&format!("Guide: {name}"), |song| song.guide = Some(facts)) {
            self.peaks.keep(place, read.peaks);
            if std::mem::take(&mut self.by_ear.find_when_read) {
                self.carry_out(UiRequest::Ear(EarRequest::Find));
            }
            if !read.notes.is_empty() {
                self.document.say(format!("Guide: {name}; {}", read.notes.join("; ")));
            }
        }
    }

    /// Reads the bars, tempo and sections of a MIDI file in the background.
    fn read_grid(&mut self, path: PathBuf) {
        let words = format!("Reading {}", path.display());
        self.start(&words, 1, move |job| {
            job.step(0, "reading the file");
            let (song, notes) = new_show::song_of_midi(&path).map_err(|e| e.to_string())?;
            Ok(JobResult::Grid(Box::new(song), notes))
        });
    }

    /// Gives the song new bars, tempo and sections; cues keep their bars.
    fn set_grid(&mut self, song: Song, notes: &[String]) {
        if self.document.current().is_none() {
            return self.document.fail("this show has no service yet; add one on the Services screen");
        }
        let taken = self.document.change_song("Take bars and tempo from a MIDI file", |own| {
            let title = if own.title.is_empty() { song.title.clone() } else { own.title.clone() };
            *own = Song { title, guide: own.guide.take(), ..song };
        });
        if taken {
            self.screens.score.refit();
            if !notes.is_empty() {
                self.document.say(format!("Taken over; {}", notes.join("; ")));
            }
        }
    }

    /// What was to come after a job that failed or was stopped does not come.
    fn forget_what_follows(&mut self) {
        self.after_saving = None;
        self.tour_after_demo = false;
        self.by_ear.find_when_read = false;
    }

    /// Stops the long job that is running.
    pub(crate) fn stop_job(&mut self) {
        if let Some(job) = self.job.take() {
            self.forget_what_follows();
            self.document.say(format!("Stopped: {}", job.words));
        }
    }
}

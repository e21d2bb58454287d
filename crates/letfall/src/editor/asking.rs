//! Files: asking for a path, opening, saving, exporting. Whatever may take long is done beside the screen.

use super::dialogs::{Chosen, Question};
use super::document::Document;
use super::work::{Desk, Work};
use super::{Editor, files, guide};
use crate::disk;
use egui::{Key, RichText, Ui};
use letfall_core::schedule::Schedule;
use letfall_core::show::{Service, Show};
use letfall_export::audio::{self, ClickOptions, TimecodeOptions};
use letfall_export::midi::{self, MidiOptions};
use letfall_paper::PaperOptions;
use std::io::Cursor;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What stands under every screen.
const CAUTION: &str = "Planning figures only. Sent is not fallen; competent people and local codes decide.";

/// What is written for a service.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Export {
    /// The MIDI file, without releases.
    Midi,
    /// The MIDI file, with releases; needs a complete safety sheet.
    MidiWithReleases,
    /// The pages chosen on the Paper screen.
    Paper,
    /// The table.
    Table,
    /// The click, as a sound file.
    Click,
    /// Linear timecode, as a sound file.
    Timecode,
}

impl Export {
    /// The ending of its file.
    const fn ending(self) -> &'static str {
        match self {
            Export::Midi | Export::MidiWithReleases => "mid",
            Export::Paper => "pdf",
            Export::Table => "csv",
            Export::Click | Export::Timecode => "wav",
        }
    }

    /// What sets its file apart from others of the same ending.
    const fn word(self) -> &'static str {
        match self {
            Export::Click => "-click",
            Export::Timecode => "-timecode",
            _ => "",
        }
    }
}

/// What a path is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asking {
    /// A show to open.
    Open,
    /// Where to save the show.
    SaveAs,
    /// Where to write an export.
    Export(Export),
    /// An earlier version of the show, to mark changes against.
    Previous,
    /// A recording for the song on screen.
    Guide,
    /// A MIDI file whose bars and tempo the song takes over.
    Grid,
}

impl Asking {
    const fn title(self) -> &'static str {
        match self {
            Asking::Open => "Open a show",
            Asking::SaveAs => "Save the show as",
            Asking::Export(_) => "Export to",
            Asking::Previous => "Mark changes since this version",
            Asking::Guide => "Choose the song's guide recording",
            Asking::Grid => "Take bars and tempo from a MIDI file",
        }
    }

    const fn verb(self) -> &'static str {
        match self {
            Asking::Open => "Open",
            Asking::SaveAs => "Save",
            Asking::Export(_) => "Export",
            Asking::Previous => "Compare",
            Asking::Guide => "Take it",
            Asking::Grid => "Take over",
        }
    }

    const fn writes(self) -> bool {
        matches!(self, Asking::SaveAs | Asking::Export(_))
    }

    const fn kind(self) -> (&'static str, &'static str) {
        match self {
            Asking::Open | Asking::SaveAs | Asking::Previous => ("letfall", "Letfall shows"),
            Asking::Export(export) => match export {
                Export::Midi | Export::MidiWithReleases => ("mid", "Standard MIDI Files"),
                Export::Paper => ("pdf", "PDF files"),
                Export::Table => ("csv", "CSV tables"),
                Export::Click | Export::Timecode => ("wav", "WAV sound files"),
            },
            Asking::Grid => ("mid", "Standard MIDI Files"),
            // One ending stands for all in the dialog's filter; a path that is typed may have any.
            Asking::Guide => ("*", "Sound files"),
        }
    }
}

/// What the person was about to do when the show was not saved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Leaving {
    /// Start a new show.
    New,
    /// Open another.
    Open,
    /// Close the window.
    Close,
}

/// What long work brings.
pub enum Made {
    /// An answer of the system's dialog, and the path to begin with if it must be typed.
    Chosen(Asking, Chosen, PathBuf),
    /// A show that was read, and newer work of it that was put by.
    Opened(Box<Document>, Option<Box<Show>>),
    /// A file was written; what there is to say about it.
    Wrote(PathBuf, String),
    /// A recording was read through.
    Guide(PathBuf, Box<guide::Read>),
}

impl Editor {
    /// Does what would lose unsaved work, or asks first.
    pub(super) fn leave(&mut self, to: Leaving) {
        if self.document.history.is_changed() {
            self.leaving = Some(to);
        } else {
            self.left(to);
        }
    }

    fn left(&mut self, to: Leaving) {
        self.leaving = None;
        match to {
            Leaving::New => match crate::commands::fresh() {
                Ok(show) => {
                    let mut document = Document::new(show, None);
                    document.say("A new show: choose its song under “Song” beside, its devices on the Rig screen");
                    self.replace(document, None);
                }
                Err(why) => self.document.fail(why.to_string()),
            },
            Leaving::Open => self.ask(Asking::Open),
            Leaving::Close => self.close = true,
        }
    }

    /// Asks for a path: by the system's dialog, or typed.
    pub(super) fn ask(&mut self, asking: Asking) {
        let near = self.near(asking);
        let question = Question {
            title: asking.title(),
            to_write: asking.writes(),
            kind: asking.kind(),
            near: std::path::absolute(&near).unwrap_or_else(|_| near.clone()),
        };
        let answer = self.dialogs.ask(question);
        self.start("Waiting for the file dialog", 1, move |_| Ok(Made::Chosen(asking, answer(), near)));
    }

    fn near(&self, asking: Asking) -> PathBuf {
        let path = self.document.path.clone();
        match asking {
            Asking::Open | Asking::Grid | Asking::Previous | Asking::Guide => {
                let folder = path.as_deref().and_then(Path::parent).map(Path::to_owned).unwrap_or_default();
                if folder.as_os_str().is_empty() { folder } else { folder.join("") }
            }
            Asking::SaveAs => path.unwrap_or_else(|| PathBuf::from("my-show.letfall")),
            Asking::Export(export) => {
                let plain = |c: char| if c.is_alphanumeric() { c } else { '-' };
                let service: String = self
                    .document
                    .current()
                    .map_or_else(String::new, |s| s.name.to_lowercase().chars().map(plain).collect());
                let stem = path.unwrap_or_else(|| PathBuf::from("show.letfall")).with_extension("");
                let pages = export == Export::Paper;
                let sheet = if pages { format!("-{}", self.paper.file_word()) } else { export.word().to_owned() };
                PathBuf::from(format!("{}-{service}{sheet}.{}", stem.display(), export.ending()))
            }
        }
    }

    /// Starts long work, if none goes on.
    fn start(
        &mut self,
        words: &str,
        steps: u8,
        work: impl FnOnce(&Desk<Result<Made, String>>) -> Result<Made, String> + Send + 'static,
    ) {
        if let Some(other) = &self.work {
            let other = other.words.clone();
            return self.document.fail(format!("“{other}” still goes on; stop it first"));
        }
        match Work::start(words, steps, self.wake(), work) {
            Ok(work) => self.work = Some(work),
            Err(why) => self.document.fail(why),
        }
    }

    pub(super) fn wake(&self) -> Arc<dyn Fn() + Send + Sync> {
        self.document.waker.clone().unwrap_or_else(|| Arc::new(|| {}))
    }

    /// Takes over what long work has brought.
    pub(super) fn finish(&mut self) {
        let Some(made) = self.work.as_mut().and_then(Work::poll) else { return };
        self.work = None;
        match made.and_then(|m| m) {
            Ok(Made::Chosen(asking, Chosen::Path(path), _)) => self.chosen(asking, path),
            Ok(Made::Chosen(_, Chosen::Nothing, _)) => {}
            Ok(Made::Chosen(asking, Chosen::NoService, near)) => {
                self.asking = Some((asking, near.display().to_string()));
            }
            Ok(Made::Opened(document, recovered)) => self.replace(*document, recovered),
            Ok(Made::Guide(path, read)) => self.set_guide(path, *read),
            Ok(Made::Wrote(path, words)) => self.document.say(format!("Wrote {}{words}", path.display())),
            Err(why) => self.document.fail(why),
        }
    }

    /// Does with a path what it was asked for.
    fn chosen(&mut self, asking: Asking, mut path: PathBuf) {
        if asking.writes() && path.extension().is_none() {
            path.set_extension(asking.kind().0);
        }
        match asking {
            Asking::Open => self.open_file(path),
            Asking::SaveAs => self.save_to(path),
            Asking::Export(export) => self.export(export, path),
            Asking::Grid => self.take_grid(&path),
            Asking::Guide => self.take_guide(path),
            Asking::Previous => match disk::read_show(&path) {
                Ok(show) => {
                    let name = if show.version.is_empty() { path.display().to_string() } else { show.version.clone() };
                    self.paper.compare(name, show);
                }
                Err(why) => self.document.fail(why.to_string()),
            },
        }
    }

    /// Opens a show beside the screen.
    pub fn open_file(&mut self, path: PathBuf) {
        let folder = self.recovery.clone();
        let words = format!("Opening {}", path.display());
        self.start(&words, 3, move |desk| {
            let given_up = || Err("not opened: it was stopped".to_owned());
            if !desk.step(0, "reading the file") {
                return given_up();
            }
            let show = disk::read_show(&path).map_err(|e| e.to_string())?;
            if !desk.step(1, "looking for unsaved work") {
                return given_up();
            }
            let recovered = files::recovered(&folder, Some(&path)).filter(|r| *r != show).map(Box::new);
            if !desk.step(2, "working out the schedule") {
                return given_up();
            }
            Ok(Made::Opened(Box::new(Document::new(show, Some(path))), recovered))
        });
    }

    /// Saves the show where it is kept, or asks where.
    pub fn save(&mut self) {
        match self.document.path.clone() {
            Some(path) => self.save_to(path),
            None => self.ask(Asking::SaveAs),
        }
    }

    fn save_to(&mut self, path: PathBuf) {
        match disk::write(&path, &self.document.bytes()) {
            Ok(()) => {
                let before = self.document.path.clone();
                files::forget(&self.recovery, before.as_deref());
                if before.as_deref() != Some(&path) {
                    files::leave(&self.recovery, before.as_deref());
                }
                files::take(&self.recovery, &path);
                self.document.say(format!("Saved {}", path.display()));
                self.document.path = Some(path);
                self.document.history.mark_saved();
                if let Some(to) = self.after_saving.take() {
                    self.left(to);
                }
            }
            Err(why) => {
                self.after_saving = None;
                self.document.fail(why.to_string());
            }
        }
    }

    fn export(&mut self, export: Export, path: PathBuf) {
        if self.document.current().is_none() {
            return self.document.fail("this show has no service to export");
        }
        let (show, at, paper) = (self.document.show.clone(), self.document.service, self.paper.options());
        let words = format!("Writing {}", path.display());
        self.start(&words, 3, move |desk| {
            let stopped = || Err("nothing was written: it was stopped".to_owned());
            desk.step(0, "working out the schedule");
            let service = &show.services[at];
            let schedule = Schedule::build(&show, service).map_err(|e| e.to_string())?;
            if !desk.step(1, "making the file") {
                return stopped();
            }
            let (bytes, words) = bytes_of(export, &show, service, &schedule, &paper)?;
            if !desk.step(2, "writing") {
                return stopped();
            }
            disk::write(&path, &bytes).map_err(|e| e.to_string())?;
            Ok(Made::Wrote(path, words))
        });
    }

    /// Reads a recording beside the screen, to be the song's guide.
    fn take_guide(&mut self, path: PathBuf) {
        let words = format!("Reading {}", path.display());
        self.start(&words, 1, move |desk| {
            let read = guide::read(&path, || desk.step(0, "decoding"))?;
            Ok(Made::Guide(path, Box::new(read)))
        });
    }

    /// The song follows a recording that was read.
    fn set_guide(&mut self, path: PathBuf, read: guide::Read) {
        let path = std::path::absolute(&path).unwrap_or(path);
        let folder = self.document.folder().map(|f| std::path::absolute(f).unwrap_or_else(|_| f.to_owned()));
        let Some(facts) = guide::facts(&path, folder.as_deref(), &read.peaks) else {
            return self.document.fail(format!("{} went away while it was read; choose it again", path.display()));
        };
        let name = facts.path.clone();
        let place = crate::guides::place(self.document.folder(), &facts);
        if self.document.change_song(&format!("Guide: {name}"), |song| song.guide = Some(facts)) {
            self.guides.keep(place, read.peaks);
            if !read.notes.is_empty() {
                self.document.say(format!("Guide: {name}; {}", read.notes.join("; ")));
            }
        }
    }

    /// The song takes over the bars, tempo and sections of a MIDI file; cues stay at their bars.
    fn take_grid(&mut self, path: &Path) {
        let (song, notes) = match crate::commands::song_of(path) {
            Ok(found) => found,
            Err(why) => return self.document.fail(why.to_string()),
        };
        if self.document.current().is_none() {
            return self.document.fail("this show has no service yet; add one on the Services screen");
        }
        let taken = self.document.change_song("Take bars and tempo from a MIDI file", |own| {
            let title = if own.title.is_empty() { song.title.clone() } else { own.title.clone() };
            *own = letfall_core::show::Song { title, guide: own.guide.take(), ..song };
        });
        if taken {
            self.score.refit();
            if !notes.is_empty() {
                self.document.say(format!("Taken over; {}", notes.join("; ")));
            }
        }
    }

    /// What goes on, or what was said last; and the caution, which never makes room for it.
    pub(super) fn said(&mut self, ui: &mut Ui) {
        ui.horizontal(|ui| {
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                let caution = RichText::new(CAUTION).color(self.theme.palette().quiet);
                ui.add(egui::Label::new(caution).extend());
                ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| self.said_last(ui));
            });
        });
    }

    /// What goes on, or what was said last.
    fn said_last(&mut self, ui: &mut Ui) {
        if let Some(work) = &self.work {
            let (words, share) = (format!("{} {}", work.words, work.step()), work.share());
            // First in the row, so that it does not move while the words beside it change.
            let stop = ui.button("Stop").clicked();
            ui.label(words.trim_end().to_owned());
            let bar = ui.add(egui::ProgressBar::new(share).desired_width(140.0).desired_height(14.0));
            bar.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::ProgressIndicator, true, "How far"));
            if stop {
                let words = format!("Stopped: {}", work.words);
                self.work = None;
                self.document.say(words);
            }
            return;
        }
        if self.document.is_deriving() {
            ui.label("Working out the schedule…");
            return;
        }
        match &self.document.said {
            Some(said) if said.failed => {
                let words = RichText::new(format!("Not done: {}", said.text)).color(ui.visuals().error_fg_color);
                ui.add(egui::Label::new(words).wrap());
            }
            Some(said) => {
                ui.add(egui::Label::new(&said.text).wrap());
            }
            None => {}
        }
    }

    /// The window in which a path is typed.
    pub(super) fn path_window(&mut self, ctx: &egui::Context) {
        let Some((asking, mut text)) = self.asking.take() else { return };
        let (mut open, mut go) = (true, false);
        let window = egui::Window::new(asking.title()).collapsible(false).resizable(false).open(&mut open);
        window.anchor(egui::Align2::CENTER_TOP, egui::vec2(0.0, 120.0)).show(ctx, |ui| {
            let label = ui.label("Path of the file");
            let field = ui.add(egui::TextEdit::singleline(&mut text).desired_width(520.0)).labelled_by(label.id);
            let path = PathBuf::from(text.trim());
            let over = asking.writes() && path.is_file() && self.document.path.as_deref() != Some(&path);
            if over {
                ui.label("There is a file of that name already; it will be replaced.");
            }
            let button = ui.button(if over { "Replace it" } else { asking.verb() });
            go = button.clicked() || field.lost_focus() && !over && ui.input(|i| i.key_pressed(Key::Enter));
            if !ctx.memory(|m| m.focused().is_some()) {
                field.request_focus();
            }
        });
        if go {
            self.chosen(asking, PathBuf::from(text.trim()));
        } else if open && !ctx.input(|i| i.key_pressed(Key::Escape)) {
            self.asking = Some((asking, text));
        }
    }

    /// Asks what shall become of unsaved work.
    pub(super) fn leave_window(&mut self, ctx: &egui::Context) {
        let Some(to) = self.leaving else { return };
        let (mut save, mut leave, mut back) = (false, false, ctx.input(|i| i.key_pressed(Key::Escape)));
        egui::Window::new("This show has changes that are not saved")
            .collapsible(false)
            .resizable(false)
            .anchor(egui::Align2::CENTER_CENTER, egui::Vec2::ZERO)
            .show(ctx, |ui| {
                ui.horizontal(|ui| {
                    save = ui.button("Save them").clicked();
                    leave = ui.button("Leave them").clicked();
                    back |= ui.button("Go back").clicked();
                });
            });
        if save {
            self.leaving = None;
            self.after_saving = Some(to);
            self.save();
        } else if leave {
            files::forget(&self.recovery, self.document.path.as_deref());
            self.left(to);
        } else if back {
            self.leaving = None;
        }
    }
}

/// An export's bytes, and what there is to say about them.
fn bytes_of(
    export: Export,
    show: &Show,
    service: &Service,
    schedule: &Schedule,
    paper: &PaperOptions,
) -> Result<(Vec<u8>, String), String> {
    match export {
        Export::Midi | Export::MidiWithReleases => {
            let with_releases = export == Export::MidiWithReleases;
            let options = MidiOptions { with_releases, ..MidiOptions::default() };
            let file = midi::write(show, service, schedule, options).map_err(|e| e.to_string())?;
            let faults = schedule.rows.iter().filter(|r| r.fault.is_some()).count();
            let mut words = vec![format!(": {} messages", file.messages)];
            if faults > 0 {
                words.push(format!("{faults} could not be made, see the problems"));
            }
            if file.releases_left_out > 0 {
                words.push(format!("without the {} releases", file.releases_left_out));
            }
            Ok((file.bytes, words.join("; ")))
        }
        Export::Table => Ok((letfall_export::table::write(show, service, schedule), String::new())),
        Export::Click => {
            let count_in_bars = show.settings.count_in_bars;
            let options = ClickOptions { count_in_bars, section_pips: true, ..ClickOptions::default() };
            let mut to = Cursor::new(Vec::new());
            let written = audio::click(service, options, &mut to).map_err(|e| e.to_string())?;
            Ok((to.into_inner(), format!(": it starts at song time {}", written.starts_at)))
        }
        Export::Timecode => {
            let own = service.timecode.as_ref().ok_or_else(|| {
                format!("\"{}\" has no timecode start; give it one on the Services screen", service.name)
            })?;
            let start = own.parse().map_err(|e| e.to_string())?;
            let count_in_bars = show.settings.count_in_bars;
            let options = TimecodeOptions { count_in_bars, ..TimecodeOptions::new(start) };
            let mut to = Cursor::new(Vec::new());
            let written = audio::timecode(service, options, &mut to).map_err(|e| e.to_string())?;
            Ok((to.into_inner(), format!(": {start} at song time 0; it starts at {}", written.starts_at)))
        }
        Export::Paper => {
            let paper = letfall_paper::print(show, service, schedule, paper).map_err(|e| e.to_string())?;
            let words =
                paper.warnings.iter().fold(format!(": {} pages", paper.pages), |w, more| format!("{w}; {more}"));
            Ok((paper.pdf, words))
        }
    }
}

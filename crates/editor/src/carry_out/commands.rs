//! What each command in the list does.

use crate::by_ear::EarRequest;
use crate::commands::Command;
use crate::document::Document;
use crate::editor::Editor;
use crate::jobs::{ExportKind, FilePurpose, Leaving};
use crate::rehearsal::RehearsalRequest;
use crate::request::UiRequest;
use crate::screens::Screen;
use crate::screens::windows::{Batch, BatchVerb, CueTableWindow};
use crate::widgets::theme::Theme;
use letfall_core::edit::{self, By, Pick, Selection};
use letfall_core::show::Kind;
use letfall_core::time::{SongSpan, SongTime, TickSpan};

/// How far one zoom step goes.
const ZOOM: f64 = 1.5;

impl Editor {
    /// Carries out a command.
    pub fn command(&mut self, command: Command) {
        match command {
            Command::New => self.leave(Leaving::New),
            Command::Open => self.leave(Leaving::Open),
            Command::Save => self.save(),
            Command::SaveAs => self.ask_for_file(FilePurpose::SaveAs),
            Command::ExportMidi => self.ask_for_file(FilePurpose::Export(ExportKind::Midi)),
            Command::ExportReleases => self.ask_for_file(FilePurpose::Export(ExportKind::MidiWithReleases)),
            Command::ExportPaper => self.ask_for_file(FilePurpose::Export(ExportKind::Paper)),
            Command::ExportBundle => self.ask_for_file(FilePurpose::Export(ExportKind::Bundle)),
            Command::ExportTable => self.ask_for_file(FilePurpose::Export(ExportKind::Table)),
            Command::ExportClick => self.ask_for_file(FilePurpose::Export(ExportKind::Click)),
            Command::ExportTimecode => self.ask_for_file(FilePurpose::Export(ExportKind::Timecode)),
            Command::TakeGrid => self.leave(Leaving::Grid),
            Command::ChooseGuide => self.ask_for_file(FilePurpose::Guide),
            Command::OpenFilm => self.ask_for_file(FilePurpose::Film),
            Command::FindBars => self.carry_out(UiRequest::Ear(EarRequest::Find)),
            Command::Play | Command::Run | Command::StopAll => self.run_command(command),
            Command::HalfSpeed | Command::RoundSection | Command::HearClick => self.playing_command(command),
            Command::Tap => self.playback.tap(&mut self.document),
            Command::NewLighting => self.new_cue(Kind::Lighting),
            Command::NewMedia => self.new_cue(Kind::Media),
            Command::NewRelease => self.new_cue(Kind::Release),
            Command::NewOutput => self.new_cue(Kind::Output),
            Command::NewHere => self.new_cue_here(),
            Command::TakeTable => self.screens.table = Some(CueTableWindow::new(String::new())),
            Command::Copy => self.copy(),
            Command::Cut => self.cut(),
            Command::Paste => self.document.paste(false),
            Command::Undo => self.document.undo(),
            Command::Redo => self.document.redo(),
            Command::SelectAll => self.select(&Pick::All),
            Command::SelectNone => {
                self.document.selection = Selection::none();
                self.screens.batch = None;
            }
            Command::SelectLabels => self.screens.batch = Some(Batch::new(BatchVerb::Select)),
            Command::SelectKind => self.select_kinds(),
            Command::SelectSection => self.select_section(),
            Command::Repeat => self.ask_batch(BatchVerb::Repeat),
            Command::Offset => self.ask_batch(BatchVerb::Offset),
            Command::Stretch => self.ask_batch(BatchVerb::Stretch),
            Command::FitSelection => self.screens.score.fit_selection(&self.document),
            Command::FitSection => self.screens.score.fit_section(&self.document),
            Command::FitSong => self.screens.score.fit_song(&self.document),
            Command::Closer => self.screens.score.zoom(ZOOM),
            Command::Wider => self.screens.score.zoom(1.0 / ZOOM),
            Command::PreviousCue => self.step(false),
            Command::NextCue => self.step(true),
            Command::GoToBar => self.screens.batch = Some(Batch::new(BatchVerb::GoToBar)),
            Command::SongStart | Command::SongEnd | Command::PreviousSection | Command::NextSection => self.go(command),
            Command::ShowScore => self.screen = Screen::Score,
            Command::ShowServices => self.screen = Screen::Services,
            Command::ShowRig => self.screen = Screen::Rig,
            Command::ShowRoom => self.screen = Screen::Room,
            Command::ShowFilm => self.screen = Screen::Film,
            Command::ShowRehearse => self.screen = Screen::Rehearse,
            Command::ShowPaper => self.screen = Screen::Paper,
            Command::SwitchTheme => {
                self.theme = if self.theme == Theme::Dark { Theme::Paper } else { Theme::Dark };
                self.restyle = true;
            }
            Command::Larger => self.letters = (self.letters + 0.1).min(2.0),
            Command::Smaller => self.letters = (self.letters - 0.1).max(0.7),
            Command::FullScreen => self.full_screen = true,
            Command::Find => self.screens.find.toggle(),
            Command::Help => self.wants_help = true,
            Command::Tour => self.leave(Leaving::Tour),
            Command::Duplicate
            | Command::Delete
            | Command::PasteSamePlace
            | Command::NudgeEarlier
            | Command::NudgeLater
            | Command::BarEarlier
            | Command::BarLater
            | Command::FineEarlier
            | Command::FineLater
            | Command::Quantize
            | Command::Rest => edit_cues(&mut self.document, command),
        }
    }

    /// Commands that start and stop things.
    fn run_command(&mut self, command: Command) {
        match command {
            Command::StopAll => self.rehearsal_request(RehearsalRequest::StopAll),
            Command::Run => {
                self.screen = Screen::Rehearse;
                self.rehearsal_request(RehearsalRequest::Toggle);
            }
            // An accidental press of the space bar must not end a performance.
            _ if self.rehearsal.performs() => {
                self.document.say("A performance is running: Esc locks every release, twice stops all");
            }
            _ if self.screen == Screen::Rehearse => self.rehearsal_request(RehearsalRequest::Toggle),
            _ => {
                let wake = self.wake();
                self.playback.toggle(&mut self.document, wake);
            }
        }
    }

    /// Changes how the guide is played; if it is playing, it continues in the new way.
    fn playing_command(&mut self, command: Command) {
        let choice = match command {
            Command::HalfSpeed => &mut self.playback.half,
            Command::RoundSection => &mut self.playback.looped,
            _ => &mut self.playback.click,
        };
        *choice = !*choice;
        let wake = self.wake();
        self.playback.again(&mut self.document, wake);
    }

    /// Opens the window for the values of an action on the selected cues.
    fn ask_batch(&mut self, verb: BatchVerb) {
        if self.document.selection.labels.is_empty() {
            self.document.say("Select cues first");
        } else {
            self.screens.batch = Some(Batch::new(verb));
        }
    }

    /// Selects what `pick` chooses in the service on screen.
    pub(super) fn select(&mut self, pick: &Pick) {
        if let Some(service) = self.document.current() {
            self.document.selection = pick.of(service).into_iter().collect();
            let words = self.document.selection_words();
            self.document.say(format!("Selected {words}"));
        }
    }

    fn select_kinds(&mut self) {
        let document = &mut self.document;
        let Some(service) = document.current() else { return };
        let chosen = |kind: &Kind| document.selection.labels.iter().any(|l| l.kind == *kind);
        let kinds: Vec<Kind> = Kind::ALL.into_iter().filter(chosen).collect();
        document.selection = kinds.iter().flat_map(|k| Pick::Kind(*k).of(service)).collect();
    }

    fn select_section(&mut self) {
        let document = &mut self.document;
        let bar = document.plan().map(|plan| plan.grid().place_of(document.playhead_tick()).bar);
        let name = bar.ok().and_then(|bar| document.current()?.song.section_at(bar).map(|s| s.name.clone()));
        match name {
            Some(name) => self.select(&Pick::Section(name)),
            None => document.say("The playhead is in no section"),
        }
    }

    /// Moves the playhead to an end of the song, or from section to section, and into view.
    fn go(&mut self, command: Command) {
        let (Ok(plan), Some(service)) = (self.document.plan(), self.document.current()) else { return };
        let (grid, now) = (plan.grid(), self.document.playhead);
        let (first, end) = (grid.bar_time(1), grid.bar_time(service.song.end_bar()));
        let sections = || service.song.sections.iter().map(|section| grid.bar_time(section.bar));
        let to = match command {
            Command::SongStart => first,
            Command::SongEnd => end,
            Command::PreviousSection => sections().filter(|at| *at < now).max().unwrap_or(first),
            _ => sections().filter(|at| *at > now).min().unwrap_or(end),
        };
        self.document.playhead = to;
        self.screens.score.reveal(to);
    }

    /// Moves the playhead to the next or previous landing, and selects the cues that land there.
    fn step(&mut self, forward: bool) {
        let document = &mut self.document;
        let Ok(plan) = document.plan() else { return };
        let (rows, now) = (&plan.schedule().rows, document.playhead);
        let lands = rows.iter().map(|r| r.land);
        let to: Option<SongTime> =
            if forward { lands.filter(|t| *t > now).min() } else { lands.filter(|t| *t < now).max() };
        if let Some(to) = to {
            document.playhead = to;
            document.selection = rows.iter().filter(|r| r.land == to).map(|r| r.label).collect();
        }
    }
}

/// Commands that edit the selected cues.
fn edit_cues(document: &mut Document, command: Command) {
    let shift = |document: &mut Document, by: By| {
        let name = format!("Shift {{}} by {by}");
        document.with_selected(&name, |show, service, labels| edit::shift(show, service, labels, by));
    };
    match command {
        Command::Duplicate => document.repeat(1, 1),
        Command::Delete => {
            document.with_selected("Delete {}", edit::delete);
        }
        Command::PasteSamePlace => document.paste(true),
        Command::NudgeEarlier => shift(document, By::Beats(-1)),
        Command::NudgeLater => shift(document, By::Beats(1)),
        Command::BarEarlier => shift(document, By::Bars(-1)),
        Command::BarLater => shift(document, By::Bars(1)),
        Command::FineEarlier => shift(document, By::Time(SongSpan::from_millis(-10))),
        Command::FineLater => shift(document, By::Time(SongSpan::from_millis(10))),
        Command::Quantize => {
            document.with_selected("Quantize {}", |show, service, labels| {
                edit::quantize(show, service, labels, TickSpan::new(960))
            });
        }
        Command::Rest => {
            let wake = document.selected_cues().iter().any(|c| c.resting);
            let name = if wake { "Wake {}" } else { "Rest {}" };
            document.with_selected(name, |show, service, labels| {
                edit::change(show, service, labels, |cue| cue.resting = !wake)
            });
        }
        // All other commands are carried out above.
        _ => {}
    }
}

//! The editor: a thin shell over the core. Screens draw a [`document::Document`] and hand back edits.

mod asking;
mod batch;
mod by_ear;
pub mod commands;
pub mod dialogs;
pub mod document;
mod fields;
mod files;
mod guide;
mod handover;
mod inspector;
mod known_bar;
mod listen;
mod paper;
pub mod rehearse;
mod rig;
mod score;
mod services;
mod song;
mod stage_picture;
pub mod theme;
mod work;

use crate::scripts::SystemFont;
use asking::{Asking, Leaving, Made};
use commands::Command;
use dialogs::Dialogs;
use document::Document;
use egui::{Key, RichText, Ui};
use files::Keeper;
use letfall_core::check::Severity;
use letfall_core::show::Show;
use std::collections::BTreeSet;
use std::path::PathBuf;
use std::sync::Arc;
use theme::{Theme, bold};
use work::Work;

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
    const ALL: [(Screen, &'static str); 5] = [
        (Screen::Score, "Score"),
        (Screen::Services, "Services"),
        (Screen::Rig, "Rig"),
        (Screen::Rehearse, "Rehearse"),
        (Screen::Paper, "Paper"),
    ];
}

/// The list of all commands.
#[derive(Default)]
pub struct CommandList {
    open: bool,
    text: String,
}

/// The whole editor.
pub struct Editor {
    /// The open show and what is worked out from it.
    pub document: Document,
    /// Which screen is up.
    pub screen: Screen,
    /// Dark or paper.
    pub theme: Theme,
    restyle: bool,
    letters: f32,
    score: score::Score,
    services: services::Services,
    rig: rig::Rig,
    paper: paper::PaperScreen,
    guides: guide::Guides,
    /// What is heard.
    pub listen: listen::Listen,
    /// Bars heard in the guide.
    pub by_ear: by_ear::ByEar,
    /// The schedule, sent.
    pub rehearse: rehearse::Rehearse,
    inspector: inspector::Inspector,
    list: CommandList,
    batch: Option<batch::Batch>,
    /// Where file dialogs come from.
    pub dialogs: Box<dyn Dialogs>,
    asking: Option<(Asking, String)>,
    leaving: Option<Leaving>,
    after_saving: Option<Leaving>,
    close: bool,
    /// The window goes over to full screen, or back, with the next frame.
    full: bool,
    work: Option<Work<Result<Made, String>>>,
    /// Characters that fonts have been looked for, and the search that goes on.
    fonts_for: BTreeSet<char>,
    fonts_coming: Option<Work<(Vec<SystemFont>, BTreeSet<char>)>>,
    recovery: PathBuf,
    recovered: Option<Box<Show>>,
    keeper: Keeper,
    kept: (u64, f64),
    titled: String,
}

impl Editor {
    /// An editor on a show; offers back what an earlier one left unsaved.
    pub fn new(show: Show, path: Option<PathBuf>) -> Editor {
        let mut editor = Editor::with_recovery(show, path, files::recovery_folder());
        editor.dialogs = Box::new(dialogs::Native);
        editor
    }

    /// As [`Editor::new`], with unsaved work kept in a folder of one's choice, and paths typed.
    pub fn with_recovery(show: Show, path: Option<PathBuf>, recovery: PathBuf) -> Editor {
        let recovered = files::recovered(&recovery, path.as_deref()).filter(|r| *r != show).map(Box::new);
        Editor::with_document(Document::new(show, path), recovered, recovery)
    }

    fn with_document(mut document: Document, recovered: Option<Box<Show>>, recovery: PathBuf) -> Editor {
        if let Some(path) = &document.path
            && !files::take(&recovery, path)
        {
            let words = format!("{} is open in another editor too; whoever saves last wins", path.display());
            document.fail(words);
        }
        Editor {
            document,
            screen: Screen::Score,
            theme: Theme::default(),
            restyle: true,
            letters: 1.0,
            score: score::Score::default(),
            services: services::Services::default(),
            rig: rig::Rig::default(),
            paper: paper::PaperScreen::default(),
            guides: guide::Guides::default(),
            listen: listen::Listen::default(),
            by_ear: by_ear::ByEar::default(),
            rehearse: rehearse::Rehearse::new(recovery.clone()),
            inspector: inspector::Inspector::default(),
            list: CommandList::default(),
            batch: None,
            dialogs: Box::new(dialogs::Typed),
            asking: None,
            leaving: None,
            after_saving: None,
            close: false,
            full: false,
            work: None,
            fonts_for: BTreeSet::new(),
            fonts_coming: None,
            recovery,
            recovered,
            keeper: Keeper::start(),
            kept: (0, 0.0),
            titled: String::new(),
        }
    }

    /// Puts another show in the place of this one.
    fn replace(&mut self, document: Document, recovered: Option<Box<Show>>) {
        files::forget(&self.recovery, self.document.path.as_deref());
        files::leave(&self.recovery, self.document.path.as_deref());
        let (theme, letters, recovery) = (self.theme, self.letters, self.recovery.clone());
        let dialogs = std::mem::replace(&mut self.dialogs, Box::new(dialogs::Typed));
        *self = Editor::with_document(document, recovered, recovery);
        (self.theme, self.letters, self.dialogs) = (theme, letters, dialogs);
    }

    fn ask_batch(&mut self, verb: batch::Verb) {
        if self.document.selection.labels.is_empty() {
            self.document.say("Select cues first");
        } else {
            self.batch = Some(batch::Batch::new(verb));
        }
    }

    /// One frame.
    pub fn frame(&mut self, ui: &mut Ui) {
        self.draw(ui, false);
    }

    /// One frame; `cleared` where the window has the ground's colour already. Panels have no fill of their own: on a
    /// machine without a graphics card every layer over the whole window costs as much as the rest of the frame.
    fn draw(&mut self, ui: &mut Ui, cleared: bool) {
        let ctx = ui.ctx().clone();
        if self.restyle {
            self.restyle = false;
            self.theme.apply(&ctx);
            // The style of this frame has been read already: the next one is right.
            ctx.request_repaint();
        }
        if (ctx.zoom_factor() - self.letters).abs() > 1e-3 {
            ctx.set_zoom_factor(self.letters);
        }
        if !cleared {
            let ground = self.theme.palette().panel;
            ctx.layer_painter(egui::LayerId::background()).rect_filled(ctx.content_rect(), 0.0, ground);
        }
        if self.document.waker.is_none() {
            let ctx = ctx.clone();
            self.document.waker = Some(Arc::new(move || ctx.request_repaint()));
        }
        self.document.poll();
        self.listen.follow(&ctx, &mut self.document);
        self.by_ear.poll(&mut self.document);
        self.rehearse.gather();
        self.rehearse.follow(&ctx, &mut self.document, &mut self.listen);
        self.rehearse.watch();
        self.scripts(&ctx);
        self.finish();
        self.keys(&ctx);
        self.keep(&ctx);
        egui::Panel::top("head").frame(bare(ui)).show(ui, |ui| self.head(ui));
        egui::Panel::bottom("said").frame(bare(ui)).show(ui, |ui| self.said(ui));
        match self.screen {
            Screen::Score => self.score_screen(ui),
            Screen::Services => {
                egui::CentralPanel::default()
                    .frame(egui::Frame::central_panel(ui.style()).fill(egui::Color32::TRANSPARENT))
                    .show(ui, |ui| self.services.show(ui, &mut self.document, self.theme));
            }
            Screen::Rig => {
                egui::CentralPanel::default()
                    .frame(egui::Frame::central_panel(ui.style()).fill(egui::Color32::TRANSPARENT))
                    .show(ui, |ui| self.rig.show(ui, &mut self.document));
            }
            Screen::Rehearse => {
                let wake = self.wake();
                self.rehearse.show(ui, &mut self.document, &mut self.listen, self.theme, &wake);
            }
            Screen::Paper => {
                let wish = egui::CentralPanel::default()
                    .frame(egui::Frame::central_panel(ui.style()).fill(egui::Color32::TRANSPARENT))
                    .show(ui, |ui| self.paper.show(ui, &self.document))
                    .inner;
                match wish {
                    Some(paper::Wish::Export) => self.ask(Asking::Export(asking::Export::Paper)),
                    Some(paper::Wish::Compare) => self.ask(Asking::Previous),
                    None => {}
                }
            }
        }
        self.windows(&ctx);
    }

    /// Brings fonts for scripts that a show uses and our typeface lacks, looked for beside the screen.
    fn scripts(&mut self, ctx: &egui::Context) {
        if let Some(work) = &mut self.fonts_coming
            && let Some(found) = work.poll()
        {
            self.fonts_coming = None;
            if let Ok((fonts, missing)) = found {
                if !fonts.is_empty() {
                    self.paper.set_fonts(fonts.iter().map(|f| f.data.clone()).collect());
                    ctx.set_fonts(theme::fonts_with(&fonts));
                }
                if !missing.is_empty() {
                    let some: String = missing.iter().take(10).collect();
                    self.document.say(format!(
                        "No font on this machine has {} of the characters used ({some}); they show and print as boxes",
                        missing.len()
                    ));
                }
            }
        }
        let Ok(derived) = self.document.derived() else { return };
        if self.fonts_coming.is_some() || derived.unusual.is_subset(&self.fonts_for) {
            return;
        }
        self.fonts_for.extend(&derived.unusual);
        let wanted = self.fonts_for.clone();
        let looked = Work::start("Fonts", 1, self.wake(), move |_| crate::scripts::from_system(&wanted));
        self.fonts_coming = looked.ok();
    }

    fn score_screen(&mut self, ui: &mut Ui) {
        let wake = self.wake();
        let peaks = self.guides.of(&mut self.document, wake);
        egui::Panel::right("inspector").frame(bare(ui)).exact_size(330.0).show(ui, |ui| {
            let scroll = egui::ScrollArea::vertical().auto_shrink(false);
            let pads = self.listen.has_pads();
            let mut ear = song::Ear { heard: &mut self.by_ear, taps: &self.listen.taps, pads };
            match scroll.show(ui, |ui| self.inspector.show(ui, &mut self.document, &mut ear)).inner {
                Some(song::Wish::Grid) => Command::TakeGrid.run(self),
                Some(song::Wish::Guide) => Command::ChooseGuide.run(self),
                Some(song::Wish::Ear(by_ear::Deed::Pads)) => {
                    let (wake, mut ports) = (self.wake(), (self.rehearse.ports)());
                    let wanted = self.rehearse.input().to_owned();
                    self.listen.set_pads(&mut self.document, &mut *ports, &wanted, wake);
                }
                Some(song::Wish::Ear(deed)) => {
                    let wake = self.wake();
                    let bars = |document: &Document| document.current().map(|s| s.song.bars);
                    let before = bars(&self.document);
                    self.by_ear.run(deed, &mut self.document, &mut self.listen.taps, wake);
                    if bars(&self.document) != before {
                        self.score.refit();
                    }
                }
                None => {}
            }
        });
        if self.document.derived().is_ok_and(|d| d.problems.is_empty()) {
            egui::Panel::bottom("no problems").frame(bare(ui)).exact_size(34.0).show(ui, |ui| self.problems(ui));
        } else {
            egui::Panel::bottom("problems")
                .frame(bare(ui))
                .default_size(112.0)
                .resizable(true)
                .show(ui, |ui| self.problems(ui));
        }
        egui::Panel::top("stage")
            .frame(bare(ui))
            .exact_size((ui.available_height() * 0.34).clamp(190.0, 420.0))
            .show(ui, |ui| self.stage(ui));
        egui::CentralPanel::no_frame().show(ui, |ui| {
            let (found, known) = (self.by_ear.found(), self.by_ear.known());
            let guide = peaks.as_deref().map(|peaks| score::GuideStrip { peaks, found, known });
            self.score.show(ui, &mut self.document, self.theme, guide);
        });
    }

    fn head(&mut self, ui: &mut Ui) {
        ui.horizontal(|ui| {
            for (screen, name) in Screen::ALL {
                let chosen = self.screen == screen;
                if ui.selectable_label(chosen, RichText::new(name).font(egui::FontId::new(16.0, bold()))).clicked() {
                    self.screen = screen;
                }
            }
            ui.separator();
            let names: Vec<String> = self.document.show.services.iter().map(|s| s.name.clone()).collect();
            let shown = names.get(self.document.service).cloned().unwrap_or_else(|| "no service".to_owned());
            let mut to = self.document.service;
            let combo = egui::ComboBox::from_id_salt("service").selected_text(shown).width(150.0).show_ui(ui, |ui| {
                for (at, name) in names.iter().enumerate() {
                    ui.selectable_value(&mut to, at, name);
                }
            });
            combo
                .response
                .widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::ComboBox, true, "Service on screen"));
            if to != self.document.service {
                self.document.service = to;
                self.document.selection.labels.clear();
                self.document.derive();
                self.score.refit();
            }
            ui.separator();
            for command in [Command::Undo, Command::Redo, Command::Save] {
                let possible = match command {
                    Command::Undo => self.document.history.undo_name().is_some(),
                    Command::Redo => self.document.history.redo_name().is_some(),
                    _ => self.document.history.is_changed(),
                };
                if ui.add_enabled(possible, egui::Button::new(command.words())).clicked() {
                    command.run(self);
                }
            }
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                if ui.button(Command::CommandList.words()).clicked() {
                    Command::CommandList.run(self);
                }
                if ui.button(Command::SwitchTheme.words()).clicked() {
                    Command::SwitchTheme.run(self);
                }
                let mark = if self.document.history.is_changed() { " (changed)" } else { "" };
                ui.label(
                    RichText::new(format!("{}{mark}", self.document.show.title)).font(egui::FontId::new(15.0, bold())),
                );
            });
        });
    }

    fn stage(&mut self, ui: &mut Ui) {
        let Ok(derived) = self.document.derived() else { return };
        let p = self.theme.palette();
        let size = egui::vec2((ui.available_width() - 230.0).max(200.0), ui.available_height().max(60.0));
        ui.horizontal_top(|ui| {
            let (rect, response) = ui.allocate_exact_size(size, egui::Sense::hover());
            let said = stage_picture::draw(ui, rect, &derived, self.document.playhead, &p);
            response.widget_info(|| {
                egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, format!("Stage: {said}"))
            });
            ui.vertical(|ui| self.clock(ui, &derived));
        });
    }

    /// Where the playhead is, and what positions snap to.
    fn clock(&mut self, ui: &mut Ui, derived: &document::Derived) {
        let grid = &derived.schedule.grid;
        let place = grid.place_of(self.document.playhead_tick());
        ui.label(RichText::new(format!("{}|{}", place.bar, place.beat)).font(egui::FontId::monospace(34.0)));
        ui.horizontal(|ui| {
            ui.label(RichText::new(format!("{:.1}", self.document.playhead)).font(egui::FontId::monospace(20.0)));
            if let Some(wall) = self.document.current().and_then(|s| s.wall(self.document.playhead)) {
                ui.label(RichText::new(wall.to_string()).font(egui::FontId::monospace(16.0)));
            }
        });
        let next = derived.schedule.rows.iter().filter(|r| r.land > self.document.playhead).min_by_key(|r| r.land);
        if let Some(next) = next {
            ui.label(format!("{} lands in {:.1} s", next.label, (next.land - self.document.playhead).secs_f64()));
        }
        ui.add_space(2.0);
        ui.horizontal(|ui| {
            let label = ui.label("Snap to");
            let words = score::Snap::ALL.iter().find(|s| s.0 == self.score.snap).map_or("", |s| s.1);
            let combo = egui::ComboBox::from_id_salt("snap").width(120.0).selected_text(words).show_ui(ui, |ui| {
                for (snap, words) in score::Snap::ALL {
                    ui.selectable_value(&mut self.score.snap, snap, words);
                }
            });
            combo.response.labelled_by(label.id);
        });
        if let Some(command) = self.listen.show(ui) {
            command.run(self);
        }
    }

    fn problems(&mut self, ui: &mut Ui) {
        let Ok(derived) = self.document.derived() else { return };
        let count = derived.problems.len();
        let empty = self.document.current().is_some_and(|s| s.cues.is_empty());
        let words = if count == 0 && empty {
            "No cues yet: there is nothing to check".to_owned()
        } else if count == 0 {
            "No problems found".to_owned()
        } else {
            format!("{count} problem{}", if count == 1 { "" } else { "s" })
        };
        ui.label(RichText::new(words).font(egui::FontId::new(14.5, bold())));
        if count == 0 {
            return;
        }
        let mut go = None;
        egui::ScrollArea::vertical().auto_shrink(false).show_rows(ui, 24.0, count, |ui, range| {
            for problem in &derived.problems[range] {
                let sign = match problem.severity() {
                    Severity::Stop => "STOP",
                    Severity::Fix => "FIX",
                    Severity::Note => "NOTE",
                };
                let text = RichText::new(format!("{sign}  {problem}"));
                let text = if problem.severity() == Severity::Stop {
                    text.color(ui.visuals().error_fg_color).strong()
                } else {
                    text
                };
                if ui.add(egui::Button::new(text).frame(false).truncate()).clicked() {
                    go = Some(problem.cues.clone());
                }
            }
        });
        if let Some(cues) = go.filter(|c| !c.is_empty()) {
            if let Some(row) = derived.row(cues[0]) {
                self.document.playhead = row.land;
                self.score.reveal(row.land);
            }
            self.document.selection = cues.into_iter().collect();
        }
    }

    fn windows(&mut self, ctx: &egui::Context) {
        if let Some(mut batch) = self.batch.take()
            && batch.show(ctx, &mut self.document)
        {
            self.batch = Some(batch);
        }
        self.command_list(ctx);
        self.path_window(ctx);
        self.leave_window(ctx);
        if let Some(show) = self.recovered.take() {
            let (mut take, mut leave) = (false, false);
            egui::Window::new("Unsaved work")
                .collapsible(false)
                .resizable(false)
                .anchor(egui::Align2::CENTER_CENTER, egui::Vec2::ZERO)
                .show(ctx, |ui| {
                    ui.label("An earlier editor ended before this show was saved. Its work was put by.");
                    ui.horizontal(|ui| {
                        take = ui.button("Take it back").clicked();
                        leave = ui.button("Leave it").clicked();
                    });
                });
            if take {
                let path = self.document.path.clone();
                let waker = self.document.waker.clone();
                self.document = Document::new(*show, path);
                self.document.waker = waker;
                // It is not what is on disk.
                self.document.history = letfall_core::edit::History::default();
                self.document.say("Taken back; save to keep it");
                self.score.refit();
            } else if leave {
                files::forget(&self.recovery, self.document.path.as_deref());
            } else {
                self.recovered = Some(show);
            }
        }
    }

    fn command_list(&mut self, ctx: &egui::Context) {
        if !self.list.open {
            return;
        }
        let mut run = None;
        let mut open = true;
        let window = egui::Window::new("All commands").collapsible(false).open(&mut open).default_size([420.0, 440.0]);
        window.anchor(egui::Align2::CENTER_TOP, egui::vec2(0.0, 70.0)).show(ctx, |ui| {
            let label = ui.label("Type to search");
            let edit = egui::TextEdit::singleline(&mut self.list.text).desired_width(372.0);
            let response = ui.add(edit).labelled_by(label.id);
            response.request_focus();
            let wanted = self.list.text.to_lowercase();
            let found: Vec<Command> =
                Command::ALL.into_iter().filter(|c| c.words().to_lowercase().contains(&wanted)).collect();
            egui::ScrollArea::vertical().max_height(360.0).show(ui, |ui| {
                for command in &found {
                    let keys = command.shortcut().map_or_else(String::new, |s| ctx.format_shortcut(&s));
                    let button =
                        egui::Button::new(command.words()).shortcut_text(keys).min_size(egui::vec2(380.0, 0.0));
                    if ui.add(button).clicked() {
                        run = Some(*command);
                    }
                }
            });
            if ui.input(|i| i.key_pressed(Key::Enter)) {
                run = found.first().copied();
            }
            if ui.input(|i| i.key_pressed(Key::Escape)) {
                self.list.open = false;
            }
        });
        self.list.open &= open;
        if let Some(command) = run {
            self.list.open = false;
            command.run(self);
        }
    }

    /// Shortcuts, and the platform's own copy, cut and paste.
    fn keys(&mut self, ctx: &egui::Context) {
        // Stop-all is one key and always works, whatever has the focus and on every screen while a run goes on.
        if (self.screen == Screen::Rehearse || self.rehearse.runs())
            && ctx.input_mut(|i| i.consume_key(egui::Modifiers::NONE, Key::Escape))
        {
            Command::StopAll.run(self);
        }
        if ctx.egui_wants_keyboard_input() {
            // Somebody is typing: only what no text field uses.
            for command in [Command::Save, Command::CommandList] {
                if command.shortcut().is_some_and(|s| ctx.input_mut(|i| i.consume_shortcut(&s))) {
                    command.run(self);
                }
            }
            return;
        }
        // Longer chords first, so that Ctrl+Z does not swallow Ctrl+Shift+Z.
        let mut commands: Vec<Command> = Command::ALL.to_vec();
        commands.sort_by_key(|c| {
            std::cmp::Reverse(c.shortcut().map_or(0, |s| u8::from(s.modifiers.shift) + u8::from(s.modifiers.alt)))
        });
        // With a control in focus the space bar is that control's.
        let focused = ctx.memory(|m| m.focused().is_some());
        for command in commands.into_iter().filter(|c| *c != Command::Play || !focused) {
            if command.shortcut().is_some_and(|s| ctx.input_mut(|i| i.consume_shortcut(&s))) {
                command.run(self);
            }
        }
        let events: Vec<egui::Event> = ctx.input(|i| i.events.clone());
        for event in events {
            match event {
                egui::Event::Copy => {
                    self.document.copy();
                    ctx.copy_text(self.document.selection_words());
                }
                egui::Event::Cut => {
                    self.document.copy();
                    ctx.copy_text(self.document.selection_words());
                    self.document.with_selected("Cut {}", letfall_core::edit::delete);
                }
                egui::Event::Paste(_) => self.document.paste(false),
                _ => {}
            }
        }
    }

    /// Puts changed work by every few seconds. Only while something has changed is another frame asked for.
    fn keep(&mut self, ctx: &egui::Context) {
        if let Some(why) = self.keeper.failure() {
            self.document.fail(why);
        }
        if !self.document.history.is_changed() || self.kept.0 == self.document.revision {
            return;
        }
        let now = ctx.input(|i| i.time);
        let due = self.kept.1 + files::AUTOSAVE_SECS;
        if now >= due {
            if self.keeper.keep(&self.recovery, self.document.path.as_deref(), &self.document.show) {
                self.kept = (self.document.revision, now);
            }
        } else {
            ctx.request_repaint_after(std::time::Duration::from_secs_f64((due - now).max(0.05)));
        }
    }
}

/// A panel's frame without a fill.
fn bare(ui: &Ui) -> egui::Frame {
    egui::Frame::side_top_panel(ui.style()).fill(egui::Color32::TRANSPARENT)
}

impl eframe::App for Editor {
    fn clear_color(&self, _: &egui::Visuals) -> [f32; 4] {
        self.theme.palette().panel.to_normalized_gamma_f32()
    }

    fn ui(&mut self, ui: &mut Ui, _: &mut eframe::Frame) {
        self.draw(ui, true);
        if std::mem::take(&mut self.full) {
            let is = ui.input(|i| i.viewport().fullscreen.unwrap_or(false));
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::Fullscreen(!is));
        }
        // A command to the window asks for another frame: only when the title is another.
        let title = self.document.title();
        if title != self.titled {
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::Title(title.clone()));
            self.titled = title;
        }
        if ui.input(|i| i.viewport().close_requested()) && !self.close && self.document.history.is_changed() {
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::CancelClose);
            self.leave(Leaving::Close);
        } else if self.close {
            ui.ctx().send_viewport_cmd(egui::ViewportCommand::Close);
        }
    }

    fn on_exit(&mut self) {
        files::leave(&self.recovery, self.document.path.as_deref());
    }
}

/// How its window is opened.
pub fn window() -> eframe::NativeOptions {
    eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_title("Letfall")
            .with_inner_size([1440.0, 900.0])
            .with_min_inner_size([960.0, 600.0]),
        ..eframe::NativeOptions::default()
    }
}

/// Opens the editor in a window.
///
/// # Errors
/// Why no window can be opened, in a sentence.
pub fn open(show: Show, path: Option<PathBuf>) -> Result<(), String> {
    let make: eframe::AppCreator<'_> = Box::new(move |cc| {
        cc.egui_ctx.set_fonts(theme::fonts());
        Ok(Box::new(Editor::new(show, path)))
    });
    eframe::run_native("letfall", window(), make).map_err(|e| {
        format!("no window can be opened here ({e}); every export can be had from the command line, see letfall --help")
    })
}

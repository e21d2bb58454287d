//! One frame: results of background work are taken over, the screens are drawn, and their requests are carried out.

use crate::commands::Command;
use crate::document::Document;
use crate::editor::Editor;
use crate::jobs::{AUTOSAVE_SECS, Job};
use crate::rehearsal::RehearsalRequest;
use crate::request::{Requests, UiRequest};
use crate::screens::rehearse::Rehearsing;
use crate::screens::score::{Ear, FilmStrip, GuideStrip, StageStripState};
use crate::screens::windows::{HelpWindow, TourLook};
use crate::screens::{Screen, head, problems, score, status, windows};
use crate::widgets::theme;
use egui::{Key, Ui};
use std::sync::Arc;
use std::time::Duration;

impl Editor {
    /// Draws one frame.
    pub fn frame(&mut self, ui: &mut Ui) {
        self.draw(ui, false);
    }

    /// Draws one frame; `cleared` means that the window is already filled with the background colour. Panels have no fill of
    /// their own: on a machine without a graphics card, each layer over the whole window costs as much as the rest of the
    /// frame.
    pub(crate) fn draw(&mut self, ui: &mut Ui, cleared: bool) {
        let ctx = ui.ctx().clone();
        self.style(&ctx);
        if !cleared {
            let ground = self.theme.palette().panel;
            ctx.layer_painter(egui::LayerId::background()).rect_filled(ctx.content_rect(), 0.0, ground);
        }
        self.poll(&ctx);
        for file in ctx.input(|i| i.raw.dropped_files.clone()) {
            self.dropped(file.path().to_owned());
        }
        self.keys(&ctx);
        self.put_work_by(&ctx);
        let mut requests = std::mem::take(&mut self.requests);
        if self.screen != Screen::Rehearse && self.rehearsal.is_holding() {
            // Leaving the Rehearse screen lets go of the release.
            requests.push(UiRequest::Rehearsal(RehearsalRequest::Hold(false)));
        }
        egui::Panel::top("head").frame(bare(ui)).show(ui, |ui| {
            head::show(ui, &self.document, self.screen, &mut requests, |screen| self.screen = screen);
        });
        let stop = egui::Panel::bottom("said")
            .frame(bare(ui))
            .show(ui, |ui| status::show(ui, self.job.as_ref(), &self.document, self.theme))
            .inner;
        self.screen(ui, &mut requests);
        self.windows(&ctx, &mut requests);
        if stop {
            self.stop_job();
        }
        if let Some(text) = self.to_clipboard.take() {
            ctx.copy_text(text);
        }
        // The effect of this frame's requests is seen in the next frame.
        if self.carry_out_all(&mut requests) {
            ctx.request_repaint();
        }
    }

    fn style(&mut self, ctx: &egui::Context) {
        if self.restyle {
            self.restyle = false;
            self.theme.apply(ctx);
            // This frame has already read the old style, so draw another one.
            ctx.request_repaint();
        }
        if (ctx.zoom_factor() - self.letters).abs() > 1e-3 {
            ctx.set_zoom_factor(self.letters);
        }
        if self.document.waker.is_none() {
            let ctx = ctx.clone();
            self.document.waker = Some(Arc::new(move || ctx.request_repaint()));
        }
    }

    /// Takes over the results of background work.
    fn poll(&mut self, ctx: &egui::Context) {
        let wake = self.document.waker.clone().unwrap_or_else(|| Arc::new(|| {}));
        self.document.poll();
        let moves = self.playback.poll(&mut self.document);
        self.by_ear.poll(&mut self.document);
        self.film.poll(&mut self.document, &wake);
        self.peaks.poll(&mut self.document, wake.clone());
        let now = ctx.input(|i| i.time);
        self.rehearsal.poll(now, &mut self.document, &mut self.playback, &wake);
        if moves || self.rehearsal.runs() {
            ctx.request_repaint();
        } else if self.rehearsal.is_holding() {
            ctx.request_repaint_after(Duration::from_millis(50));
        } else if self.rehearsal.follows() {
            ctx.request_repaint_after(Duration::from_millis(100));
        }
        self.fonts(ctx);
        self.take_job_results();
        self.take_first_demo();
    }

    /// Loads fonts for scripts in the show that our own typeface lacks; they are looked for in the background.
    fn fonts(&mut self, ctx: &egui::Context) {
        if let Some(job) = &mut self.fonts_coming
            && let Some(found) = job.poll()
        {
            self.fonts_coming = None;
            if let Ok((fonts, missing)) = found {
                if !fonts.is_empty() {
                    self.screens.paper.set_fonts(fonts.iter().map(|f| f.data.clone()).collect());
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
        if self.fonts_coming.is_some() || self.document.unusual.is_subset(&self.fonts_for) {
            return;
        }
        self.fonts_for.extend(&self.document.unusual);
        let wanted = self.fonts_for.clone();
        let wake = self.document.waker.clone().unwrap_or_else(|| Arc::new(|| {}));
        let looked = Job::start("Fonts", 1, wake, move |_| letfall_files::fonts::from_system(&wanted));
        self.fonts_coming = looked.ok();
    }

    /// Draws the current screen.
    fn screen(&mut self, ui: &mut Ui, requests: &mut Requests) {
        let (document, screens, theme) = (&self.document, &mut self.screens, self.theme);
        let whole = egui::Frame::central_panel(ui.style()).fill(egui::Color32::TRANSPARENT);
        let central = egui::CentralPanel::default().frame(whole);
        match self.screen {
            Screen::Score => {
                let peaks = document.guide_path().map(|path| self.peaks.of(&path, document.recording_exists()));
                let ear = Ear { by_ear: &self.by_ear, taps: &self.playback.taps, pads: self.playback.has_pads() };
                egui::Panel::right("inspector").frame(bare(ui)).exact_size(344.0).show(ui, |ui| {
                    // What is wider than the panel scrolls, and never lies under the score.
                    let scroll = egui::ScrollArea::both().auto_shrink(false);
                    scroll.show(ui, |ui| screens.inspector.show(ui, document, ear, requests));
                });
                problems_panel(ui, document, requests);
                egui::Panel::top("stage").frame(bare(ui)).exact_size(stage_height(ui.available_height())).show(
                    ui,
                    |ui| {
                        let mut beside =
                            StageStripState { playback: &self.playback, snap: &mut screens.score.snap, theme };
                        score::stage_strip(ui, document, &mut beside, requests);
                    },
                );
                egui::CentralPanel::no_frame().show(ui, |ui| {
                    let (found, known) = (self.by_ear.found(), self.by_ear.known());
                    let guide = peaks.as_ref().map(|read| GuideStrip {
                        peaks: read.as_deref().map_err(Clone::clone),
                        found,
                        known,
                    });
                    let service = document.current().map_or("", |service| &service.name);
                    let film = FilmStrip::of(&self.film, service, &mut screens.film.textures);
                    screens.score.show(ui, document, theme, guide, film, requests);
                });
            }
            Screen::Services => {
                central.show(ui, |ui| screens.services.show(ui, document, theme, requests));
            }
            Screen::Rig => {
                central.show(ui, |ui| screens.rig.show(ui, document, requests));
            }
            Screen::Room => {
                central.show(ui, |ui| screens.room.show(ui, document, theme, requests));
            }
            Screen::Rehearse => {
                let what = Rehearsing { rehearsal: &self.rehearsal, sound: self.playback.words(), document, theme };
                screens.rehearse.show(ui, &what, requests);
            }
            Screen::Film => {
                central.show(ui, |ui| screens.film.show(ui, &self.film, document, theme, requests));
            }
            Screen::Paper => {
                central.show(ui, |ui| screens.paper.show(ui, document, requests));
            }
        }
    }

    /// Draws the windows over the screen.
    fn windows(&mut self, ctx: &egui::Context, requests: &mut Requests) {
        let screens = &mut self.screens;
        if let Some(mut batch) = screens.batch.take()
            && batch.show(ctx, &self.document, requests)
        {
            screens.batch = Some(batch);
        }
        // The questions and the path that it may ask for stand in front of it.
        if !screens.asks()
            && let Some(mut start) = screens.start.take()
            && start.show(ctx, requests)
        {
            screens.start = Some(start);
        }
        if let Some(mut table) = screens.table.take()
            && table.show(ctx, &self.document, requests)
        {
            screens.table = Some(table);
        }
        if let Some(mut choose) = screens.choose.take()
            && choose.show(ctx, &self.document, requests)
        {
            screens.choose = Some(choose);
        }
        if let Some(mut tour) = screens.tour.take() {
            let selected: Vec<String> = self.document.selected().iter().map(ToString::to_string).collect();
            let look = TourLook {
                screen: self.screen.name(),
                plays: self.playback.is_playing(),
                selected: &selected,
                undo: self.document.history.undo_name(),
                said: self.document.said.as_ref().map_or("", |said| &said.text),
            };
            if tour.show(ctx, &look) {
                screens.tour = Some(tour);
            }
        }
        if std::mem::take(&mut self.wants_help) {
            let about = HelpWindow::of(ctx, self.screen.name());
            screens.help = if screens.help.is_some_and(|shown| shown == about) { None } else { Some(about) };
        }
        if let Some(mut help) = screens.help.take()
            && help.show(ctx)
        {
            screens.help = Some(help);
        }
        screens.find.show(ctx, &self.document, requests);
        if let Some((purpose, text)) = screens.path.take() {
            match windows::path(ctx, purpose, text, self.document.path.as_deref()) {
                windows::PathAnswer::Chosen(path) => self.chosen(purpose, path),
                windows::PathAnswer::Typing(text) => self.screens.path = Some((purpose, text)),
                windows::PathAnswer::Closed => self.after_saving = None,
            }
        }
        if self.screens.performing.is_some() {
            let armed = self.rehearsal.armed();
            if let Some(stop) = windows::performing(ctx, &armed) {
                self.answer_performing(stop);
            }
        }
        if self.screens.leaving.is_some() {
            match windows::leave(ctx) {
                Some(windows::LeaveAnswer::Save) => self.answer_leaving(true),
                Some(windows::LeaveAnswer::Leave) => self.answer_leaving(false),
                Some(windows::LeaveAnswer::Back) => self.screens.leaving = None,
                None => {}
            }
        }
        if let Some(path) = &self.screens.changed_by_others
            && let Some(answer) = windows::changed_by_others(ctx, path)
        {
            self.answer_changed_by_others(answer);
        }
        if let Some(show) = self.screens.recovered.take() {
            match windows::recovered(ctx, &show.words()) {
                Some(true) => self.take_back(show.show),
                Some(false) => crate::jobs::forget(&self.kept_at),
                None => self.screens.recovered = Some(show),
            }
        }
    }

    /// Handles shortcuts, and the platform's own copy, cut and paste.
    fn keys(&mut self, ctx: &egui::Context) {
        // On every screen during a run, and whatever has the focus: people press Esc to leave a full screen, so the first press locks
        // every release and a second one soon after stops all.
        let covered = self.screens.has_window() || egui::Popup::is_any_open(ctx);
        if (self.rehearsal.runs() || self.screen == Screen::Rehearse && !covered)
            && ctx.input_mut(|i| i.consume_key(egui::Modifiers::NONE, Key::Escape))
        {
            let now = ctx.input(|i| i.time);
            self.rehearsal_request(RehearsalRequest::Escape(now));
        }
        // Otherwise Esc closes what is open, innermost first, and does nothing else. An open list or menu closes itself.
        if covered && !egui::Popup::is_any_open(ctx) && ctx.input(|i| i.key_pressed(Key::Escape)) {
            // What was typed on the start panel or into a table is not thrown away by the first press: that leaves the field.
            if self.screens.keeps_typed() && ctx.egui_wants_keyboard_input() {
                ctx.input_mut(|i| i.consume_key(egui::Modifiers::NONE, Key::Escape));
                ctx.memory_mut(egui::Memory::stop_text_input);
                return;
            }
            if self.screens.close_innermost() {
                self.after_saving = None;
            }
            ctx.input_mut(|i| i.consume_key(egui::Modifiers::NONE, Key::Escape));
            ctx.memory_mut(egui::Memory::stop_text_input);
        }
        if ctx.egui_wants_keyboard_input() {
            // The user is typing, so use only shortcuts that no text field needs.
            for command in [Command::Save, Command::Find, Command::Help] {
                if command.shortcut().is_some_and(|s| ctx.input_mut(|i| i.consume_shortcut(&s))) {
                    self.command(command);
                }
            }
            return;
        }
        // Check shortcuts with more modifiers first, so that Ctrl+Z does not catch Ctrl+Shift+Z.
        let mut commands: Vec<Command> = Command::ALL.to_vec();
        commands.sort_by_key(|c| {
            std::cmp::Reverse(c.shortcut().map_or(0, |s| u8::from(s.modifiers.shift) + u8::from(s.modifiers.alt)))
        });
        // Plain keys act only where the score is in front of the user, and not while a control has the focus, a list is open or a window
        // stands over it: those take the keys themselves. The space bar belongs to whatever has the focus, be it a cue.
        let focused = ctx.memory(|m| m.focused().is_some());
        let on_cue = ctx.data(|d| d.get_temp(score::cue_has_focus())).unwrap_or(false);
        let score = self.screen == Screen::Score && !covered && (!focused || on_cue);
        let acts = |c: &Command| (score || !c.is_of_the_score()) && (*c != Command::Play || !focused);
        for command in commands.into_iter().filter(acts) {
            if command.shortcut().is_some_and(|s| ctx.input_mut(|i| i.consume_shortcut(&s))) {
                self.command(command);
            }
        }
        if self.screen != Screen::Score || covered {
            return;
        }
        let events: Vec<egui::Event> = ctx.input(|i| i.events.clone());
        for event in events {
            match event {
                egui::Event::Copy => self.copy(),
                egui::Event::Cut => self.cut(),
                egui::Event::Paste(text) => self.paste_text(text),
                _ => {}
            }
        }
    }

    /// Copies the selected cues: as they are for this editor, and as rows for a spreadsheet.
    pub(crate) fn copy(&mut self) {
        self.document.copy();
        if let Ok(plan) = self.document.newest_plan() {
            let rows = letfall_export::cue_table::write(&plan, &self.document.selected());
            self.copied.clone_from(&rows);
            self.to_clipboard = Some(rows);
        }
    }

    /// Copies the selected cues and takes them out.
    pub(crate) fn cut(&mut self) {
        self.copy();
        self.document.with_selected("Cut {}", letfall_core::edit::delete);
    }

    /// Pastes what this editor has copied, or looks over a table from elsewhere.
    fn paste_text(&mut self, text: String) {
        let own = text.trim().is_empty() || text.lines().eq(self.copied.lines());
        if !own && letfall_export::cue_table::is_likely(&text) {
            self.screens.table = Some(windows::CueTableWindow::new(text));
        } else {
            self.document.paste(false);
        }
    }

    /// Saves changed work for recovery every few seconds. Asks for another frame only if something has changed.
    fn put_work_by(&mut self, ctx: &egui::Context) {
        if let Some(why) = self.autosaver.failure() {
            self.document.fail(why);
        }
        if !self.document.history.is_changed() || self.put_by.0 == self.document.revision {
            return;
        }
        let now = ctx.input(|i| i.time);
        let due = self.put_by.1 + AUTOSAVE_SECS;
        if now >= due {
            let steps = self.document.history.unsaved_steps();
            if self.autosaver.keep(&self.kept_at, &self.document.show, steps) {
                self.put_by = (self.document.revision, now);
            }
        } else {
            ctx.request_repaint_after(Duration::from_secs_f64((due - now).max(0.05)));
        }
    }
}

/// How high the stage strip is: a third of the room, but high enough for its controls if that leaves more than half to the score.
fn stage_height(room: f32) -> f32 {
    (room * 0.34).max(208.0_f32.min(room * 0.45)).min(420.0)
}

fn problems_panel(ui: &mut Ui, document: &Document, requests: &mut Requests) {
    // In a low window only the count stands there; the score needs the room.
    let low = ui.available_height() < 340.0;
    let none = low || document.plan().is_ok_and(|plan| plan.problem_count() == 0);
    let panel = if none {
        egui::Panel::bottom("no problems").exact_size(34.0)
    } else {
        egui::Panel::bottom("problems")
            .default_size(if ui.available_height() < 460.0 { 62.0 } else { 112.0 })
            .resizable(true)
    };
    panel.frame(bare(ui)).show(ui, |ui| problems::show(ui, document, low, requests));
}

/// A panel's frame with a transparent fill.
fn bare(ui: &Ui) -> egui::Frame {
    egui::Frame::side_top_panel(ui.style()).fill(egui::Color32::TRANSPARENT)
}

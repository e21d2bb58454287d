//! The Film screen itself.

use super::about::{self, AboutForm};
use super::cues::{self, Chosen};
use super::falls::{self, FallForm};
use super::regions::{self, RegionForm};
use super::take::{self, TakeForm};
use super::{close_up, empty, picture, strip};
use crate::commands::Command;
use crate::document::Document;
use crate::film::{FilmRequest, FilmStudy, Opened};
use crate::request::{Requests, UiRequest};
use crate::widgets::film_marks::Textures;
use crate::widgets::theme::{Palette, Theme, bold};
use egui::{FontId, Key, Modifiers, RichText, Ui};
use letfall_core::time::{SongTime, round};
use letfall_film::page::{clock, how_words};

/// Width of the panel beside the picture, points: less in a narrow window.
const PANEL: std::ops::RangeInclusive<f32> = 400.0..=470.0;
/// The buttons and the place under the picture take so much, points; with less width, two lines of it.
const ONE_LINE: f32 = 720.0;
const LINE: f32 = 36.0;

/// The screen's state.
#[derive(Default)]
pub struct FilmScreen {
    /// The film's pictures as they were drawn.
    pub textures: Textures,
    regions: RegionForm,
    about: AboutForm,
    falls: FallForm,
    take: TakeForm,
    cue: Chosen,
    /// What all of this belongs to.
    generation: u64,
}

impl FilmScreen {
    /// Shows the screen.
    pub fn show(&mut self, ui: &mut Ui, film: &FilmStudy, document: &Document, theme: Theme, requests: &mut Requests) {
        let p = theme.palette();
        if self.generation != film.generation() {
            *self = FilmScreen { generation: film.generation(), ..FilmScreen::default() };
        }
        let Some(opened) = film.opened() else {
            if film.going_on().is_some() {
                ui.add_space(40.0);
                ui.vertical_centered(|ui| going_on(ui, film, requests));
            } else {
                empty::show(ui, requests);
            }
            return;
        };
        let frame = egui::Frame::side_top_panel(ui.style()).fill(egui::Color32::TRANSPARENT);
        let panel = (ui.available_width() * 0.4).clamp(*PANEL.start(), *PANEL.end());
        egui::Panel::right("what the film shows").frame(frame).exact_size(panel).show(ui, |ui| {
            // What is wider than the panel scrolls, and never lies under the picture.
            egui::ScrollArea::both().auto_shrink(false).show(ui, |ui| {
                ui.set_max_width(panel - 28.0);
                self.beside(ui, film, opened, document, &p, requests);
            });
        });
        FilmScreen::keys(ui, requests);
        let lines = if ui.available_width() < ONE_LINE { 2.0 } else { 1.0 };
        let below = strip::HEIGHT + close_up::HEIGHT + lines * LINE + 22.0;
        let height = (ui.available_height() - below).max(120.0);
        picture::show(ui, height, film, opened, &mut self.textures, &mut self.regions, &p, requests);
        FilmScreen::bar(ui, film, document, requests);
        close_up::show(ui, film, opened, &p, requests);
        ui.add_space(2.0);
        strip::show(ui, film, opened, &mut self.textures, &p, requests);
    }

    /// The arrows go from picture to picture, with Shift by ten.
    fn keys(ui: &Ui, requests: &mut Requests) {
        if ui.ctx().memory(|m| m.focused().is_some()) {
            return;
        }
        for (modifiers, key, steps) in [
            (Modifiers::SHIFT, Key::ArrowLeft, -10),
            (Modifiers::SHIFT, Key::ArrowRight, 10),
            (Modifiers::NONE, Key::ArrowLeft, -1),
            (Modifiers::NONE, Key::ArrowRight, 1),
        ] {
            if ui.input_mut(|i| i.consume_key(modifiers, key)) {
                requests.push(UiRequest::Film(FilmRequest::Step(steps)));
            }
        }
    }

    /// Where the picture is, and buttons to go on.
    fn bar(ui: &mut Ui, film: &FilmStudy, document: &Document, requests: &mut Requests) {
        ui.horizontal_wrapped(|ui| {
            for (words, steps) in
                [("« 10 pictures", -10), ("‹ Picture before", -1), ("Next picture ›", 1), ("10 pictures »", 10)]
            {
                if ui.button(words).clicked() {
                    requests.push(UiRequest::Film(FilmRequest::Step(steps)));
                }
            }
            ui.label(RichText::new(clock(film.at())).font(FontId::new(18.0, bold())));
            let song = film.song_at(film.at()).zip(document.plan().ok());
            ui.label(song.map_or_else(
                || "lies nowhere in the song yet".to_owned(),
                |(secs, plan)| {
                    let grid = plan.grid();
                    let at = SongTime::saturating(round::nearest(secs * 1e6));
                    let mut place = grid.place_of(grid.tick_at(at));
                    place.tick = 0;
                    let after = (at - grid.time_at(grid.tick_of(place))).secs_f64();
                    format!("bar {place}, {:.0} ms after", after * 1e3)
                },
            ));
            if film.close_up().is_coming() {
                ui.spinner();
            }
        });
    }

    /// What stands beside the picture, in the order in which it is worked through.
    fn beside(
        &mut self,
        ui: &mut Ui,
        film: &FilmStudy,
        opened: &Opened,
        document: &Document,
        p: &Palette,
        requests: &mut Requests,
    ) {
        ui.horizontal(|ui| {
            let name = RichText::new(&opened.name).font(FontId::new(18.0, bold()));
            ui.add(egui::Label::new(name).truncate());
        });
        ui.horizontal_wrapped(|ui| {
            ui.label(format!("a film of {}", film.service()));
            if ui.button("Another film…").clicked() {
                requests.command(Command::OpenFilm);
            }
            if ui.button("Put it away").clicked() {
                requests.push(UiRequest::Film(FilmRequest::Close));
            }
        });
        going_on(ui, film, requests);
        if document.current().is_none_or(|service| service.name != film.service()) {
            let words = format!("Another service is on screen. The film is of {}.", film.service());
            ui.colored_label(ui.visuals().warn_fg_color, words);
            return;
        }
        heading(ui, "1  Where it lies");
        about::place(ui, film, opened, document, &mut self.about, requests);
        heading(ui, "2  How it was filmed");
        let how = how_words(film.filming(), opened.placed.runs(), document.show.settings.units, film.clap().is_some());
        ui.label(how.join(" "));
        egui::CollapsingHeader::new("Say how it was filmed")
            .show(ui, |ui| about::filmed(ui, film, opened, document, p, requests));
        if !opened.has_pictures() {
            return;
        }
        heading(ui, "3  What is seen where");
        regions::show(ui, film, document, &mut self.regions, requests);
        heading(ui, "4  What changed when");
        let idle = film.going_on().is_none();
        let words = if film.is_measured(document) { "Look again" } else { "Look for what changed" };
        let can = idle && !opened.placed.runs().is_empty();
        if ui.add_enabled(can, egui::Button::new(words)).clicked() {
            requests.push(UiRequest::Film(FilmRequest::Measure));
        }
        cues::show(ui, film, &mut self.cue, p, requests);
        if film.results().is_none() {
            return;
        }
        heading(ui, "5  Falls");
        ui.label("Sent is not fallen. What is found is a proposal: go through the pictures, and confirm it yourself.");
        falls::show(ui, film, &mut self.falls, p, requests);
        heading(ui, "6  Receivers");
        take::receivers(ui, film, p);
        heading(ui, "7  Into the show");
        take::show(ui, film, document, &mut self.take, requests);
    }
}

/// Work in the background: how far it is, and a button to stop it.
fn going_on(ui: &mut Ui, film: &FilmStudy, requests: &mut Requests) {
    let Some((words, share, step)) = film.going_on() else { return };
    ui.label(format!("{words}: {step}"));
    ui.horizontal(|ui| {
        if ui.button("Stop").clicked() {
            requests.push(UiRequest::Film(FilmRequest::Stop));
        }
        let bar = ui.add(egui::ProgressBar::new(share).desired_width(260.0));
        bar.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::ProgressIndicator, true, "How far"));
    });
}

fn heading(ui: &mut Ui, words: &str) {
    ui.add_space(10.0);
    ui.label(RichText::new(words).font(FontId::new(16.5, bold())));
}

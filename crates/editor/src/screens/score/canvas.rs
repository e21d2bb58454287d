//! The score's canvas: time from left to right, one row per track, every cue with flag, lead and body.

use super::bodies::{self, Drawn};
use super::courses;
use super::film_strip::{self, FilmStrip};
use super::geometry::View;
use super::gesture::Gesture;
use super::guide_strip::GuideStrip;
use super::layout::{RowPlace, layout};
use super::ruler;
use super::snap::Snap;
use crate::document::Document;
use crate::request::{Requests, UiRequest};
use crate::widgets::theme::Theme;
use egui::{Align2, FontId, Pos2, Rect, Sense, Stroke, Ui, vec2};
use letfall_core::prepared::Prepared;
use letfall_core::time::{SongSpan, SongTime};

/// Height of the guide's waveform, in points.
const STRIP: f32 = 40.0;
/// Width of the column with the track names, in points.
const NAMES: f32 = 104.0;

/// The score's state.
pub struct Score {
    pub(super) view: View,
    pub(super) width: f32,
    /// The canvas width to which the whole song was fitted; `None` once the user has zoomed or scrolled.
    fitted: Option<f32>,
    pub(super) gesture: Option<Gesture>,
    /// Where the menu was opened.
    pub(super) menu_at: Option<Pos2>,
    /// What times snap to.
    pub snap: Snap,
    pub(super) by_ear: bool,
    pub(super) drawn: Vec<Drawn>,
    /// How far the rows are scrolled up if they do not all fit.
    pub(super) down: f32,
    /// Height of the guide's waveform alone; 0 as long as none is there.
    pub(super) waves: f32,
    /// Height of the guide's waveform and of the film under the ruler, in points; 0 without either.
    pub(super) strip: f32,
}

impl Default for Score {
    fn default() -> Score {
        Score {
            view: View { start: 0.0, scale: 100_000.0 },
            width: 800.0,
            fitted: Some(0.0),
            gesture: None,
            menu_at: None,
            snap: Snap::Beat,
            by_ear: false,
            drawn: Vec::new(),
            down: 0.0,
            waves: 0.0,
            strip: 0.0,
        }
    }
}

impl Score {
    /// Makes the next frame show the whole song.
    pub fn refit(&mut self) {
        self.fitted = Some(0.0);
    }

    /// Zooms to the whole song.
    pub fn fit_song(&mut self, document: &Document) {
        let (Ok(plan), Some(service)) = (document.plan(), document.current()) else { return };
        let grid = &plan.grid();
        let count_in = 1 - i32::from(document.show.settings.count_in_bars.min(1));
        self.view = View::fit(grid.bar_time(count_in), grid.bar_time(service.song.end_bar()), self.width);
    }

    /// Zooms to the selection.
    pub fn fit_selection(&mut self, document: &Document) {
        let Ok(plan) = document.plan() else { return };
        let rows = plan.schedule().rows.iter().filter(|r| document.selection.labels.contains(&r.label));
        let (mut from, mut to) = (SongTime::MAX, SongTime::MIN);
        for row in rows {
            from = from.min(row.send);
            to = to.max(row.land + SongSpan::from_millis(2000));
        }
        if from <= to {
            self.fitted = None;
            self.view = View::fit(from, to, self.width);
        }
    }

    /// Zooms to the section under the playhead.
    pub fn fit_section(&mut self, document: &Document) {
        let (Ok(plan), Some(service)) = (document.plan(), document.current()) else { return };
        let grid = &plan.grid();
        let bar = grid.place_of(document.playhead_tick()).bar;
        if let Some(section) = service.song.section_at(bar) {
            let end = section.bar.saturating_add(i32::try_from(section.bars).unwrap_or(1));
            self.fitted = None;
            self.view = View::fit(grid.bar_time(section.bar), grid.bar_time(end), self.width);
        }
    }

    /// Zooms around the middle.
    pub fn zoom(&mut self, factor: f64) {
        self.fitted = None;
        self.view = self.view.zoomed(factor, self.width / 2.0);
    }

    /// Brings a song time into view.
    pub fn reveal(&mut self, at: SongTime) {
        let x = self.view.x_of(at);
        if !(40.0..self.width - 40.0).contains(&x) {
            self.fitted = None;
            self.view = self.view.moved(x - self.width / 3.0);
        }
    }

    /// Draws the score and handles the pointer.
    pub fn show(
        &mut self,
        ui: &mut Ui,
        document: &Document,
        theme: Theme,
        guide: Option<GuideStrip<'_>>,
        mut film: Option<FilmStrip<'_>>,
        requests: &mut Requests,
    ) {
        let p = theme.palette();
        let plan = match document.plan() {
            Ok(plan) => plan,
            Err(why) => {
                ui.vertical_centered(|ui| {
                    ui.add_space(ui.available_height() * 0.35);
                    ui.label(why);
                    if document.show.services.is_empty() && ui.button("Add a service").clicked() {
                        requests.push(UiRequest::AddService);
                    }
                });
                return;
            }
        };
        let whole = ui.available_rect_before_wrap();
        let response = ui.allocate_rect(whole, Sense::click_and_drag());
        response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Canvas, true, "Score canvas"));
        let canvas = Rect::from_min_max(whole.min + vec2(NAMES, 0.0), whole.max);
        self.width = canvas.width();
        // While a bar is being set by ear the playhead must not snap, because the grid's bars may be wrong.
        self.by_ear = guide.as_ref().is_some_and(|guide| guide.known.is_some());
        let pictures = if film.is_some() { film_strip::HEIGHT } else { 0.0 };
        let waves = if guide.is_some() { STRIP } else { 0.0 };
        // Bar lines are dragged along a waveform, and not where there is none to see.
        self.waves = if guide.as_ref().is_some_and(|guide| guide.peaks.is_ok()) { STRIP } else { 0.0 };
        self.strip = waves + pictures;
        if self.fitted.is_some_and(|width| (width - self.width).abs() > 0.5) {
            self.fit_song(document);
            self.fitted = Some(self.width);
        }
        self.wheel(ui, canvas, &response, &plan);
        let rows = self.rows(&plan, canvas);
        let painter = ui.painter_at(whole.with_min_y(canvas.top() + ruler::HEIGHT + self.strip));
        // Paint every point only once: here the area below the rows, then the rows.
        let below = rows.last().map_or(canvas.top() + ruler::HEIGHT + self.strip, |row| row.bottom).min(whole.bottom());
        painter.rect_filled(canvas.with_min_y(below), 0.0, p.ground);
        for (at, row) in rows.iter().enumerate() {
            let band = Rect::from_min_max(Pos2::new(canvas.left(), row.top), Pos2::new(whole.right(), row.bottom));
            painter.rect_filled(band, 0.0, if at % 2 == 0 { p.row } else { p.ground });
        }
        ruler::draw(ui, canvas, &self.view, document, &plan, &p);
        if let Some(guide) = guide {
            let top = canvas.top() + ruler::HEIGHT;
            let strip = Rect::from_min_max(Pos2::new(canvas.left(), top), Pos2::new(canvas.right(), top + STRIP));
            guide.draw(ui, strip, &self.view, &p);
        }
        if let Some(film) = &mut film {
            let bottom = canvas.top() + ruler::HEIGHT + self.strip;
            let strip = canvas.with_min_y(bottom - pictures).with_max_y(bottom);
            film.draw(ui, strip, &self.view, &p);
        }
        self.drawn.clear();
        let inside = ui.painter_at(canvas.with_min_y(canvas.top() + ruler::HEIGHT + self.strip));
        let ground = bodies::Ground { view: self.view, left: canvas.left(), width: canvas.width(), theme, p };
        for (row, track) in rows.iter().zip(plan.tracks()) {
            bodies::draw_track(&inside, &ground, document, &plan, track, (row.top, row.bottom), &mut self.drawn);
        }
        let places: Vec<(f32, f32)> = rows.iter().map(|row| (row.top, row.bottom)).collect();
        courses::draw(&inside, &ground, &plan, &places, &self.drawn);
        if let Some(film) = &film {
            film.marks(ui, canvas.with_min_y(canvas.top() + ruler::HEIGHT + self.strip), &self.view, &self.drawn, &p);
        }
        if plan.schedule().rows.is_empty() {
            let words = "No cues yet. Double-click on a track, press L, M, O or R, or paste rows from a spreadsheet.";
            inside.text(canvas.center(), Align2::CENTER_CENTER, words, FontId::proportional(15.0), p.quiet);
        }
        self.names(ui, whole, &rows, (document, &plan), theme, requests);
        self.speak(ui, document, requests);
        self.pointer(ui, &response, canvas, (document, &plan), requests);
        self.menu(&response, canvas, (document, &plan), requests);
        self.overlay(ui, canvas, document, &plan, &p);
    }

    /// The current positions of the rows.
    pub(super) fn rows(&self, plan: &Prepared, canvas: Rect) -> Vec<RowPlace> {
        layout(plan, canvas.top() + ruler::HEIGHT + self.strip, canvas.bottom(), self.down)
    }

    /// The wheel scrolls the song; over the names it scrolls the rows if they do not all fit.
    fn wheel(&mut self, ui: &Ui, canvas: Rect, response: &egui::Response, plan: &Prepared) {
        let all = layout(plan, canvas.top() + ruler::HEIGHT + self.strip, canvas.bottom(), 0.0);
        let hidden = all.last().map_or(0.0, |row| row.bottom - canvas.bottom()).max(0.0);
        self.down = self.down.min(hidden);
        let Some(pointer) = response.hover_pos() else { return };
        let (zoom, scroll) = ui.input(|i| (i.zoom_delta(), i.smooth_scroll_delta()));
        if pointer.x < canvas.left() {
            self.down = (self.down - scroll.y).clamp(0.0, hidden);
            return;
        }
        if zoom != 1.0 || scroll != egui::Vec2::ZERO {
            self.fitted = None;
        }
        if zoom != 1.0 {
            self.view = self.view.zoomed(f64::from(zoom), pointer.x - canvas.left());
        } else if scroll != egui::Vec2::ZERO {
            self.view = self.view.moved(-(scroll.x + scroll.y));
        }
    }

    /// The names of the tracks. With the keyboard's focus on one, Enter lays a cue on it at the playhead.
    fn names(
        &self,
        ui: &Ui,
        whole: Rect,
        rows: &[RowPlace],
        (document, plan): (&Document, &Prepared),
        theme: Theme,
        requests: &mut Requests,
    ) {
        let p = theme.palette();
        let column = Rect::from_min_max(whole.min, Pos2::new(whole.left() + NAMES, whole.bottom()));
        let painter = ui.painter_at(column.with_min_y(column.top() + ruler::HEIGHT));
        for (row, track) in rows.iter().zip(plan.tracks()) {
            let place = Rect::from_min_max(Pos2::new(column.left(), row.top), Pos2::new(column.right(), row.bottom));
            let id = ui.scope_id().with(("track", track.key.as_str()));
            let response = ui.interact(place.intersect(column), id, Sense::focusable_noninteractive());
            let name = format!("Track {}", track.name);
            response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Row, true, &name));
            if response.has_focus() {
                painter.rect_stroke(place.shrink(2.0), 2.0, Stroke::new(2.0, p.chosen), egui::StrokeKind::Inside);
                if ui.input_mut(|i| i.consume_key(egui::Modifiers::NONE, egui::Key::Enter)) {
                    let at = self.snapped(document.playhead, plan, egui::Modifiers::NONE).0;
                    requests.push(UiRequest::ChooseCue { track: track.key.clone(), at: plan.grid().tick_at(at) });
                }
            }
            let middle = f32::midpoint(row.top, row.bottom);
            bodies::form(&painter, Pos2::new(column.left() + 16.0, middle), track.kind, theme);
            let at = Pos2::new(column.left() + 32.0, middle);
            let galley = painter.layout_no_wrap(track.name.clone(), FontId::proportional(13.5), p.text);
            painter.galley(at - vec2(0.0, galley.size().y / 2.0), galley, p.text);
            let line = Stroke::new(1.0, p.hair);
            painter.line_segment([Pos2::new(column.left(), row.bottom), Pos2::new(column.right(), row.bottom)], line);
        }
        ui.painter_at(whole).line_segment([column.right_top(), column.right_bottom()], Stroke::new(1.0, p.line));
    }

    /// Names the visible cues for screen readers, the keyboard and tests, unless there are too many.
    fn speak(&self, ui: &Ui, document: &Document, requests: &mut Requests) {
        let mut focused = false;
        if self.drawn.len() > 300 {
            ui.data_mut(|d| d.insert_temp(cue_has_focus(), false));
            return;
        }
        for drawn in &self.drawn {
            let id = ui.scope_id().with(("cue", drawn.label));
            let response = ui.interact(drawn.rect, id, Sense::focusable_noninteractive());
            let chosen = document.selection.labels.contains(&drawn.label);
            let name = format!("Cue {}", drawn.label);
            response.widget_info(|| egui::WidgetInfo::selected(egui::accesskit::Role::ListItem, true, chosen, &name));
            focused |= response.has_focus();
            if response.has_focus() && ui.input(|i| i.key_pressed(egui::Key::Space)) {
                requests.push(UiRequest::Select(document.toggled(drawn.label)));
            }
        }
        ui.data_mut(|d| d.insert_temp(cue_has_focus(), focused));
    }
}

/// Where it is kept whether a cue of the score has the keyboard's focus: then plain keys act on the score as if nothing had it.
pub fn cue_has_focus() -> egui::Id {
    egui::Id::unique("a cue of the score has the focus")
}

//! The score: time left to right, a row a track, every cue as flag, lead and body.

mod bodies;
mod geometry;
mod guide_strip;
mod ruler;

pub use geometry::View;
pub use guide_strip::GuideStrip;

use super::document::{Derived, Document, TrackRows};
use super::theme::{Palette, Theme};
use bodies::Drawn;
use egui::{Align2, CursorIcon, FontId, Modifiers, Pos2, Rect, Sense, Stroke, Ui, vec2};
use letfall_core::edit::{self, By};
use letfall_core::show::{Kind, Label, Length, TrackKey};
use letfall_core::time::{SongSpan, SongTime, Tick, TickSpan};

/// Height of the guide's waveform.
const STRIP: f32 = 40.0;
/// Width of the column with the tracks' names.
pub(super) const NAMES: f32 = 104.0;

/// What positions snap to while dragging.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Snap {
    /// Bar lines.
    Bar,
    /// Counted beats.
    #[default]
    Beat,
    /// Quarters of a beat.
    Division,
    /// Nothing.
    Off,
}

impl Snap {
    /// All, with their words.
    pub const ALL: [(Snap, &'static str); 4] =
        [(Snap::Bar, "bars"), (Snap::Beat, "beats"), (Snap::Division, "quarter beats"), (Snap::Off, "nothing")];
}

/// What the pointer is doing.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Gesture {
    /// Moving the selection by the cue that landed at `from`; `to` is where it would land.
    Move { from: SongTime, grabbed: SongTime, to: SongTime, snapped: bool },
    /// Dragging the end of a media cue to `to`.
    Lengthen { label: Label, to: SongTime, snapped: bool },
    /// Drawing a box round cues.
    Marquee { from: Pos2 },
    /// Moving the playhead.
    Scrub,
    /// Pulling a bar line of the guide to where it is heard.
    Pin { bar: i32, to: SongTime },
}

/// The score's own state.
pub struct Score {
    view: View,
    width: f32,
    /// The width the whole song was fitted to, until somebody zooms or moves.
    fitted: Option<f32>,
    gesture: Option<Gesture>,
    /// What positions snap to.
    pub snap: Snap,
    by_ear: bool,
    drawn: Vec<Drawn>,
    /// How far the rows are moved up, where they are more than fit.
    down: f32,
    /// Height of the guide's waveform under the ruler; 0 without a guide.
    strip: f32,
}

impl Default for Score {
    fn default() -> Score {
        Score {
            view: View { start: 0.0, scale: 100_000.0 },
            width: 800.0,
            fitted: Some(0.0),
            gesture: None,
            snap: Snap::Beat,
            by_ear: false,
            drawn: Vec::new(),
            down: 0.0,
            strip: 0.0,
        }
    }
}

impl Score {
    /// Shows the whole song on the next frame.
    pub fn refit(&mut self) {
        self.fitted = Some(0.0);
    }

    /// Shows the whole song.
    pub fn fit_song(&mut self, document: &Document) {
        let (Ok(derived), Some(service)) = (document.derived(), document.current()) else { return };
        let grid = &derived.schedule.grid;
        let count_in = 1 - i32::from(document.show.settings.count_in_bars.min(1));
        self.view = View::fit(grid.bar_time(count_in), grid.bar_time(service.song.end_bar()), self.width);
    }

    /// Shows the selection.
    pub fn fit_selection(&mut self, document: &Document) {
        let Ok(derived) = document.derived() else { return };
        let rows = derived.schedule.rows.iter().filter(|r| document.selection.labels.contains(&r.label));
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

    /// Shows the section under the playhead.
    pub fn fit_section(&mut self, document: &Document) {
        let (Ok(derived), Some(service)) = (document.derived(), document.current()) else { return };
        let grid = &derived.schedule.grid;
        let bar = grid.place_of(document.playhead_tick()).bar;
        if let Some(section) = service.song.section_at(bar) {
            let end = section.bar.saturating_add(i32::try_from(section.bars).unwrap_or(1));
            self.fitted = None;
            self.view = View::fit(grid.bar_time(section.bar), grid.bar_time(end), self.width);
        }
    }

    /// Zooms about the middle.
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

    /// Draws the score and takes what the pointer does.
    pub fn show(&mut self, ui: &mut Ui, document: &mut Document, theme: Theme, guide: Option<GuideStrip<'_>>) {
        let p = theme.palette();
        let derived = match document.derived() {
            Ok(derived) => derived,
            Err(why) => {
                ui.vertical_centered(|ui| {
                    ui.add_space(ui.available_height() * 0.35);
                    ui.label(why);
                    if document.show.services.is_empty() && ui.button("Add a service").clicked() {
                        crate::editor::services::add_service(document);
                        self.refit();
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
        // A bar that is set by ear is not where the grid has it.
        self.by_ear = guide.as_ref().is_some_and(|guide| guide.known.is_some());
        self.strip = if guide.is_some() { STRIP } else { 0.0 };
        if self.fitted.is_some_and(|width| (width - self.width).abs() > 0.5) {
            self.fit_song(document);
            self.fitted = Some(self.width);
        }
        self.wheel(ui, canvas, &response, &derived);
        let rows = self.rows(&derived, canvas);
        let painter = ui.painter_at(whole.with_min_y(canvas.top() + ruler::HEIGHT + self.strip));
        // Every point once: rows, and what is left below them.
        let below = rows.last().map_or(canvas.top() + ruler::HEIGHT + self.strip, |row| row.bottom).min(whole.bottom());
        painter.rect_filled(canvas.with_min_y(below), 0.0, p.ground);
        for (at, row) in rows.iter().enumerate() {
            let band = Rect::from_min_max(Pos2::new(canvas.left(), row.top), Pos2::new(whole.right(), row.bottom));
            painter.rect_filled(band, 0.0, if at % 2 == 0 { p.row } else { p.ground });
        }
        ruler::draw(ui, canvas, &self.view, document, &derived, &p);
        if let Some(guide) = guide {
            let top = canvas.top() + ruler::HEIGHT;
            let strip = Rect::from_min_max(Pos2::new(canvas.left(), top), Pos2::new(canvas.right(), top + STRIP));
            guide.draw(ui, strip, &self.view, &p);
        }
        self.drawn.clear();
        let inside = ui.painter_at(canvas.with_min_y(canvas.top() + ruler::HEIGHT + self.strip));
        let ground = bodies::Ground { view: self.view, left: canvas.left(), width: canvas.width(), theme, p };
        for (row, track) in rows.iter().zip(&derived.tracks) {
            bodies::draw_track(&inside, &ground, document, &derived, track, (row.top, row.bottom), &mut self.drawn);
        }
        if derived.schedule.rows.is_empty() {
            let words = "No cues yet. Use “New cue” beside, or paste some here.";
            inside.text(canvas.center(), Align2::CENTER_CENTER, words, FontId::proportional(15.0), p.quiet);
        }
        Self::names(ui, whole, &rows, &derived, theme);
        self.speak(ui, document);
        self.pointer(ui, &response, canvas, document, &derived);
        self.overlay(ui, canvas, document, &derived, &p);
    }

    /// Where the rows are now.
    fn rows(&self, derived: &Derived, canvas: Rect) -> Vec<RowPlace> {
        layout(derived, canvas.top() + ruler::HEIGHT + self.strip, canvas.bottom(), self.down)
    }

    /// The wheel moves the song; over the names it moves the rows, where they are more than fit.
    fn wheel(&mut self, ui: &Ui, canvas: Rect, response: &egui::Response, derived: &Derived) {
        let all = layout(derived, canvas.top() + ruler::HEIGHT + self.strip, canvas.bottom(), 0.0);
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

    fn names(ui: &Ui, whole: Rect, rows: &[RowPlace], derived: &Derived, theme: Theme) {
        let p = theme.palette();
        let column = Rect::from_min_max(whole.min, Pos2::new(whole.left() + NAMES, whole.bottom()));
        let painter = ui.painter_at(column.with_min_y(column.top() + ruler::HEIGHT));
        for (row, track) in rows.iter().zip(&derived.tracks) {
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

    /// What is on screen as named things for screen readers, keys and tests, where there are not too many.
    fn speak(&self, ui: &Ui, document: &mut Document) {
        if self.drawn.len() > 300 {
            return;
        }
        for drawn in &self.drawn {
            let id = ui.scope_id().with(("cue", drawn.label));
            let response = ui.interact(drawn.rect, id, Sense::focusable_noninteractive());
            let chosen = document.selection.labels.contains(&drawn.label);
            let name = format!("Cue {}", drawn.label);
            response.widget_info(|| egui::WidgetInfo::selected(egui::accesskit::Role::ListItem, true, chosen, &name));
            if response.has_focus() && ui.input(|i| i.key_pressed(egui::Key::Space)) {
                toggle(document, drawn.label);
            }
        }
    }

    fn hit(&self, at: Pos2) -> Option<&Drawn> {
        // The smallest wins: a short cue over a long one is the one that was meant.
        let under = self.drawn.iter().filter(|d| d.rect.expand2(vec2(3.0, 0.0)).contains(at));
        under.min_by(|a, b| a.rect.width().total_cmp(&b.rect.width()))
    }

    /// The media cue whose end is under the pointer: what it plays for can be dragged there.
    fn end_at(&self, at: Pos2) -> Option<Label> {
        let drawn = self.hit(at).filter(|d| d.label.kind == Kind::Media)?;
        let near = at.x > drawn.rect.right() - 6.0 && drawn.rect.width() > 18.0;
        near.then_some(drawn.label)
    }

    fn pointer(
        &mut self,
        ui: &Ui,
        response: &egui::Response,
        canvas: Rect,
        document: &mut Document,
        derived: &Derived,
    ) {
        let modifiers = ui.input(|i| i.modifiers);
        let on_ruler = |at: Pos2| at.y < canvas.top() + ruler::HEIGHT && at.x > canvas.left();
        if response.drag_started()
            && let Some(at) = ui.input(|i| i.pointer.press_origin())
        {
            self.gesture = Some(self.begin(at, canvas, on_ruler(at), document, derived, modifiers));
        }
        if let Some(at) = response.interact_pointer_pos() {
            match self.gesture {
                Some(Gesture::Scrub) => document.playhead = self.view.time(at.x - canvas.left()),
                Some(Gesture::Pin { bar, .. }) => {
                    self.gesture = Some(Gesture::Pin { bar, to: self.view.time(at.x - canvas.left()) });
                    ui.ctx().set_cursor_icon(CursorIcon::ResizeHorizontal);
                }
                Some(Gesture::Move { from, grabbed, .. }) => {
                    let to = from + (self.view.time(at.x - canvas.left()) - grabbed);
                    let (to, snapped) = self.snapped(to, derived, modifiers);
                    self.gesture = Some(Gesture::Move { from, grabbed, to, snapped });
                    ui.ctx().set_cursor_icon(CursorIcon::Grabbing);
                }
                Some(Gesture::Lengthen { label, .. }) => {
                    let (to, snapped) = self.snapped(self.view.time(at.x - canvas.left()), derived, modifiers);
                    self.gesture = Some(Gesture::Lengthen { label, to, snapped });
                    ui.ctx().set_cursor_icon(CursorIcon::ResizeHorizontal);
                }
                _ => {}
            }
            if response.clicked() {
                self.click(at, canvas, on_ruler(at), document, derived, modifiers);
            }
        }
        if response.drag_stopped() {
            self.end(ui, canvas, document, derived, modifiers);
        }
        if let Some(at) = response.hover_pos()
            && self.gesture.is_none()
            && self.on_strip(at, canvas)
            && guide_strip::line_at(&self.view, document, derived, at.x - canvas.left()).is_some()
        {
            ui.ctx().set_cursor_icon(CursorIcon::ResizeHorizontal);
        }
        if let Some(at) = response.hover_pos()
            && self.gesture.is_none()
            && self.hit(at).is_some()
        {
            let icon = if self.end_at(at).is_some() { CursorIcon::ResizeHorizontal } else { CursorIcon::Grab };
            ui.ctx().set_cursor_icon(icon);
        }
    }

    /// Whether a place is on the guide's waveform.
    fn on_strip(&self, at: Pos2, canvas: Rect) -> bool {
        let top = canvas.top() + ruler::HEIGHT;
        at.x > canvas.left() && (top..top + self.strip).contains(&at.y)
    }

    fn begin(
        &self,
        at: Pos2,
        canvas: Rect,
        on_ruler: bool,
        document: &mut Document,
        derived: &Derived,
        modifiers: Modifiers,
    ) -> Gesture {
        if on_ruler {
            return Gesture::Scrub;
        }
        if self.on_strip(at, canvas) {
            let line = guide_strip::line_at(&self.view, document, derived, at.x - canvas.left());
            return line.map_or(Gesture::Scrub, |bar| Gesture::Pin { bar, to: self.view.time(at.x - canvas.left()) });
        }
        let Some(label) = self.hit(at).map(|d| d.label) else { return Gesture::Marquee { from: at } };
        if !document.selection.labels.contains(&label) {
            if !modifiers.shift {
                document.selection.labels.clear();
            }
            document.selection.labels.insert(label);
        }
        if let Some(label) = self.end_at(at) {
            return Gesture::Lengthen { label, to: self.view.time(at.x - canvas.left()), snapped: false };
        }
        let from = derived.row(label).map_or(SongTime::ZERO, |r| r.land);
        Gesture::Move { from, grabbed: self.view.time(at.x - canvas.left()), to: from, snapped: false }
    }

    /// Where a cue lands when it is dragged to `to`: on the grid, unless Alt is held.
    fn snapped(&self, to: SongTime, derived: &Derived, modifiers: Modifiers) -> (SongTime, bool) {
        let grid = &derived.schedule.grid;
        let tick = grid.ticks_at(to.micros() as f64);
        let place = grid.place_of(Tick::new(letfall_core::time::round::nearest(tick)));
        let step = match self.snap {
            _ if modifiers.alt => return (to, false),
            Snap::Off => return (to, false),
            Snap::Bar => grid.bar_length(place.bar),
            Snap::Beat => grid.beat_length(place),
            Snap::Division => TickSpan::new(grid.beat_length(place).get() / 4),
        };
        (grid.time_at(edit::snap(grid, tick, step)), true)
    }

    /// A click sets the playhead on the grid, so that what is pasted there stands on it; dragging in the ruler is free.
    fn click(
        &mut self,
        at: Pos2,
        canvas: Rect,
        on_ruler: bool,
        document: &mut Document,
        derived: &Derived,
        modifiers: Modifiers,
    ) {
        let there = self.view.time(at.x - canvas.left());
        let playhead = if self.by_ear { there } else { self.snapped(there, derived, modifiers).0 };
        if on_ruler {
            document.playhead = playhead;
            return;
        }
        match self.hit(at).map(|d| d.label) {
            Some(label) if modifiers.shift || modifiers.command => toggle(document, label),
            Some(label) => document.selection = [label].into_iter().collect(),
            None => {
                document.selection.labels.clear();
                document.playhead = playhead;
            }
        }
    }

    fn end(&mut self, ui: &Ui, canvas: Rect, document: &mut Document, derived: &Derived, modifiers: Modifiers) {
        match self.gesture.take() {
            Some(Gesture::Lengthen { label, to, snapped }) => lengthen(document, derived, label, to, snapped),
            Some(Gesture::Pin { bar, to }) => guide_strip::pin(document, derived, bar, to),
            Some(Gesture::Move { from, to, snapped, .. }) => {
                let track = ui.input(|i| i.pointer.latest_pos()).and_then(|at| {
                    let rows = self.rows(derived, canvas);
                    let row = rows.iter().position(|r| r.top <= at.y && at.y < r.bottom)?;
                    other_track(document, &derived.tracks[row])
                });
                if from == to && track.is_none() {
                    return;
                }
                let grid = &derived.schedule.grid;
                let (a, b) = (grid.tick_at(from), grid.tick_at(to));
                let words = format!("Move {{}} to {}", grid.place_text(b));
                document.with_selected(&words, |show, service, labels| {
                    let moved = if snapped {
                        edit::slide(show, service, labels, a, b - a)?
                    } else {
                        edit::shift(show, service, labels, By::Time(to - from))?
                    };
                    let Some(track) = track else { return Ok(moved) };
                    let mut after = show.clone();
                    moved.apply(&mut after)?;
                    let put = edit::to_track(&after, service, labels, &track)?;
                    Ok(edit::Edit::All(vec![moved, put]))
                });
            }
            Some(Gesture::Marquee { from }) => {
                let to = ui.input(|i| i.pointer.latest_pos()).unwrap_or(from);
                let boxed = Rect::from_two_pos(from, to);
                let (early, late) =
                    (self.view.time(boxed.left() - canvas.left()), self.view.time(boxed.right() - canvas.left()));
                if !modifiers.shift {
                    document.selection.labels.clear();
                }
                let rows = self.rows(derived, canvas);
                for (row, track) in rows.iter().zip(&derived.tracks) {
                    if row.bottom < boxed.top() || boxed.bottom() < row.top {
                        continue;
                    }
                    let schedule = &derived.schedule.rows;
                    let first = track.rows.partition_point(|at| schedule[*at as usize].land < early);
                    let inside = track.rows[first..].iter().take_while(|at| schedule[**at as usize].land <= late);
                    document.selection.labels.extend(inside.map(|at| schedule[*at as usize].label));
                }
                let words = document.selection_words();
                document.say(format!("Selected {words}"));
            }
            _ => {}
        }
    }

    /// Playhead, ghost of what is being dragged, box: over everything.
    fn overlay(&self, ui: &Ui, canvas: Rect, document: &Document, derived: &Derived, p: &Palette) {
        let painter = ui.painter_at(canvas);
        let x = canvas.left() + self.view.x_of(document.playhead);
        painter.line_segment([Pos2::new(x, canvas.top()), Pos2::new(x, canvas.bottom())], Stroke::new(1.5, p.playhead));
        painter.circle_filled(Pos2::new(x, canvas.top() + ruler::HEIGHT), 4.0, p.playhead);
        match self.gesture {
            Some(Gesture::Marquee { from }) => {
                if let Some(to) = ui.input(|i| i.pointer.latest_pos()) {
                    let boxed = Rect::from_two_pos(from, to);
                    painter.rect(
                        boxed,
                        0.0,
                        p.chosen.gamma_multiply(0.12),
                        Stroke::new(1.0, p.chosen),
                        egui::StrokeKind::Inside,
                    );
                }
            }
            Some(Gesture::Lengthen { to, .. }) => {
                let x = canvas.left() + self.view.x_of(to);
                let grid = &derived.schedule.grid;
                let line = [Pos2::new(x, canvas.top() + ruler::HEIGHT), Pos2::new(x, canvas.bottom())];
                painter.line_segment(line, Stroke::new(1.5, p.chosen));
                let words = format!("until {}   ({to})", grid.place_text(grid.tick_at(to)));
                tag(&painter, Pos2::new(x + 8.0, canvas.top() + ruler::HEIGHT + 4.0), canvas, words, p);
            }
            Some(Gesture::Pin { bar, to }) => {
                let x = canvas.left() + self.view.x_of(to);
                let line = [Pos2::new(x, canvas.top() + ruler::HEIGHT), Pos2::new(x, canvas.bottom())];
                painter.line_segment(line, Stroke::new(1.5, p.chosen));
                let was = derived.schedule.grid.bar_time(bar);
                let words = format!("bar {bar} to {to}   (from {was})");
                tag(&painter, Pos2::new(x + 8.0, canvas.top() + ruler::HEIGHT + self.strip + 4.0), canvas, words, p);
            }
            Some(Gesture::Move { from, to, .. }) => {
                let by = self.view.x_of(to) - self.view.x_of(from);
                for drawn in self.drawn.iter().filter(|d| document.selection.labels.contains(&d.label)) {
                    let ghost = drawn.rect.translate(vec2(by, 0.0));
                    painter.rect_stroke(ghost, 2.0, Stroke::new(1.5, p.chosen), egui::StrokeKind::Inside);
                }
                let grid = &derived.schedule.grid;
                let place = |t| grid.place_text(grid.tick_at(t));
                let words = format!("{} to {}   ({from} to {to})", place(from), place(to));
                let at = Pos2::new(canvas.left() + self.view.x_of(to) + 8.0, canvas.top() + ruler::HEIGHT + 4.0);
                tag(&painter, at, canvas, words, p);
            }
            _ => {}
        }
    }
}

/// A read-out that stays within the canvas.
fn tag(painter: &egui::Painter, at: Pos2, canvas: Rect, words: String, p: &Palette) {
    let galley = painter.layout_no_wrap(words, FontId::monospace(14.0), p.on_chosen);
    let at = Pos2::new(at.x.min(canvas.right() - galley.size().x - 12.0), at.y);
    painter.rect_filled(Rect::from_min_size(at, galley.size()).expand(4.0), 3.0, p.chosen);
    painter.galley(at, galley, p.on_chosen);
}

/// The track that cues are dropped on, if it is of their kind and not theirs already.
fn other_track(document: &Document, track: &TrackRows) -> Option<TrackKey> {
    let cues = document.selected_cues();
    let fits = cues.iter().all(|c| c.label.kind == track.kind);
    let elsewhere = cues.iter().any(|c| c.track != track.key);
    // Only where all came from one row: a wide selection keeps its rows.
    let together = cues.windows(2).all(|pair| pair[0].track == pair[1].track);
    (fits && elsewhere && together).then(|| track.key.clone())
}

/// Lets a media cue play until `to`.
fn lengthen(document: &mut Document, derived: &Derived, label: Label, to: SongTime, snapped: bool) {
    let Some(row) = derived.row(label) else { return };
    if to <= row.land {
        return document.fail(format!("{label} cannot end before it lands"));
    }
    let grid = &derived.schedule.grid;
    let length =
        if snapped { Length::Ticks(grid.tick_at(to) - grid.tick_at(row.land)) } else { Length::Time(to - row.land) };
    document.selection = [label].into_iter().collect();
    document.with_selected("Length of {}", |show, service, labels| {
        edit::change(show, service, labels, |cue| cue.length = Some(length))
    });
}

fn toggle(document: &mut Document, label: Label) {
    if !document.selection.labels.remove(&label) {
        document.selection.labels.insert(label);
    }
}

/// A track's place on screen.
struct RowPlace {
    top: f32,
    bottom: f32,
}

/// Shares the height out: a release row, which draws a fall, gets more than a plain one.
fn layout(derived: &Derived, top: f32, bottom: f32, down: f32) -> Vec<RowPlace> {
    // Outputs stand one above another in their row, each high enough for its words.
    let lanes = f32::from(u8::try_from(derived.show.outputs.len()).unwrap_or(u8::MAX));
    let weight = |kind| match kind {
        Kind::Release => 1.7,
        Kind::Output => (0.6 * lanes).max(1.0),
        _ => 1.0,
    };
    let total: f32 = derived.tracks.iter().map(|t| weight(t.kind)).sum();
    let unit = ((bottom - top) / total.max(1.0)).clamp(34.0, 72.0);
    let mut y = top - down;
    derived
        .tracks
        .iter()
        .map(|track| {
            let place = RowPlace { top: y, bottom: y + unit * weight(track.kind) };
            y = place.bottom;
            place
        })
        .collect()
}

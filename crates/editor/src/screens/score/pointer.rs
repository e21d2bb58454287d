//! Pointer input on the score: clicks, drags, selection boxes.

use super::bodies::Drawn;
use super::canvas::Score;
use super::gesture::Gesture;
use super::snap::Snap;
use super::{guide_strip, ruler};
use crate::document::Document;
use crate::request::{Requests, UiRequest};
use egui::{CursorIcon, Modifiers, Pos2, Rect, Ui, vec2};
use letfall_core::edit::{self, By, Selection};
use letfall_core::prepared::{Prepared, TrackRows};
use letfall_core::show::{Kind, Label, Length, TrackKey};
use letfall_core::time::{SongTime, Tick, TickSpan};

/// How far the beginning of a cue reaches, in points.
const HEAD: f32 = 16.0;

impl Score {
    pub(super) fn hit(&self, at: Pos2) -> Option<&Drawn> {
        // The narrowest cue wins: a short one on top of a long one is the one that is meant.
        let under = self.drawn.iter().filter(|d| d.rect.expand2(vec2(3.0, 0.0)).contains(at));
        under.min_by(|a, b| a.rect.width().total_cmp(&b.rect.width()))
    }

    /// The media cue whose end is under the pointer, where its length can be dragged.
    fn end_at(&self, at: Pos2) -> Option<Label> {
        let drawn = self.hit(at).filter(|d| d.label.kind == Kind::Media)?;
        let near = at.x > drawn.rect.right() - 6.0 && drawn.rect.width() > 18.0;
        near.then_some(drawn.label)
    }

    pub(super) fn pointer(
        &mut self,
        ui: &Ui,
        response: &egui::Response,
        canvas: Rect,
        (document, plan): (&Document, &Prepared),
        requests: &mut Requests,
    ) {
        let modifiers = ui.input(|i| i.modifiers);
        let on_ruler = |at: Pos2| at.y < canvas.top() + ruler::HEIGHT && at.x > canvas.left();
        if response.drag_started()
            && let Some(at) = ui.input(|i| i.pointer.press_origin())
        {
            self.gesture = Some(self.begin(at, canvas, on_ruler(at), (document, plan), requests, modifiers));
        }
        if let Some(at) = response.interact_pointer_pos() {
            match self.gesture {
                Some(Gesture::Scrub) => requests.playhead(self.view.time(at.x - canvas.left())),
                Some(Gesture::Pin { bar, .. }) => {
                    self.gesture = Some(Gesture::Pin { bar, to: self.view.time(at.x - canvas.left()) });
                    ui.ctx().set_cursor_icon(CursorIcon::ResizeHorizontal);
                }
                Some(Gesture::Move { from, grabbed, .. }) => {
                    let to = from + (self.view.time(at.x - canvas.left()) - grabbed);
                    let (to, snapped) = self.snapped(to, plan, modifiers);
                    self.gesture = Some(Gesture::Move { from, grabbed, to, snapped });
                    ui.ctx().set_cursor_icon(CursorIcon::Grabbing);
                }
                Some(Gesture::Lengthen { label, .. }) => {
                    let (to, snapped) = self.snapped(self.view.time(at.x - canvas.left()), plan, modifiers);
                    self.gesture = Some(Gesture::Lengthen { label, to, snapped });
                    ui.ctx().set_cursor_icon(CursorIcon::ResizeHorizontal);
                }
                _ => {}
            }
            if response.double_clicked() {
                self.double_click(at, canvas, plan, requests);
            } else if response.clicked() {
                self.click(at, canvas, on_ruler(at), (document, plan), requests, modifiers);
            }
        }
        if response.drag_stopped() {
            self.end(ui, canvas, (document, plan), requests);
        }
        if let Some(at) = response.hover_pos()
            && self.gesture.is_none()
            && self.on_strip(at, canvas)
            && guide_strip::line_at(&self.view, document, plan, at.x - canvas.left()).is_some()
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

    /// Whether a point is on the guide's waveform.
    fn on_strip(&self, at: Pos2, canvas: Rect) -> bool {
        let top = canvas.top() + ruler::HEIGHT;
        at.x > canvas.left() && (top..top + self.waves).contains(&at.y)
    }

    fn begin(
        &self,
        at: Pos2,
        canvas: Rect,
        on_ruler: bool,
        (document, plan): (&Document, &Prepared),
        requests: &mut Requests,
        modifiers: Modifiers,
    ) -> Gesture {
        if on_ruler {
            return Gesture::Scrub;
        }
        if self.on_strip(at, canvas) {
            let line = guide_strip::line_at(&self.view, document, plan, at.x - canvas.left());
            return line.map_or(Gesture::Scrub, |bar| Gesture::Pin { bar, to: self.view.time(at.x - canvas.left()) });
        }
        if at.y < canvas.top() + ruler::HEIGHT + self.strip {
            // On the film.
            return Gesture::Scrub;
        }
        let Some(label) = self.hit(at).map(|d| d.label) else { return Gesture::Marquee { from: at } };
        if !document.selection.labels.contains(&label) {
            let mut selection = if modifiers.shift { document.selection.clone() } else { Selection::none() };
            selection.labels.insert(label);
            requests.push(UiRequest::Select(selection));
        }
        if let Some(label) = self.end_at(at) {
            return Gesture::Lengthen { label, to: self.view.time(at.x - canvas.left()), snapped: false };
        }
        let from = plan.row(label).map_or(SongTime::ZERO, |r| r.land);
        Gesture::Move { from, grabbed: self.view.time(at.x - canvas.left()), to: from, snapped: false }
    }

    /// Where a cue lands when it is dragged to `to`: snapped to the grid, unless Alt is held.
    pub(super) fn snapped(&self, to: SongTime, plan: &Prepared, modifiers: Modifiers) -> (SongTime, bool) {
        let grid = &plan.grid();
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

    /// A click moves the playhead to the grid, so that pasted cues land on it. Dragging in the ruler does not snap.
    fn click(
        &mut self,
        at: Pos2,
        canvas: Rect,
        on_ruler: bool,
        (document, plan): (&Document, &Prepared),
        requests: &mut Requests,
        modifiers: Modifiers,
    ) {
        let there = self.view.time(at.x - canvas.left());
        let playhead = if self.by_ear { there } else { self.snapped(there, plan, modifiers).0 };
        if on_ruler {
            requests.playhead(playhead);
            return;
        }
        match self.hit(at).map(|d| d.label) {
            Some(label) if modifiers.shift || modifiers.command => {
                requests.push(UiRequest::Select(document.toggled(label)));
            }
            Some(label) => requests.select([label]),
            None => {
                requests.select([]);
                requests.playhead(playhead);
            }
        }
    }

    /// Whether a point is at the beginning of a cue, where the cue itself is meant. Farther on in a state that holds until the next cue, the
    /// track is meant as well.
    fn is_on_head(&self, at: Pos2) -> bool {
        self.hit(at).is_some_and(|drawn| at.x < drawn.rect.left() + HEAD)
    }

    /// A double click on a track makes a cue there, but not at the beginning of another one.
    fn double_click(&self, at: Pos2, canvas: Rect, plan: &Prepared, requests: &mut Requests) {
        if !self.is_on_head(at)
            && let Some((track, tick)) = self.track_at(at, canvas, plan)
        {
            requests.push(UiRequest::ChooseCue { track, at: tick });
        }
    }

    /// The track under a point, and the place there, snapped as set, or else to the tick.
    pub(super) fn track_at(&self, at: Pos2, canvas: Rect, plan: &Prepared) -> Option<(TrackKey, Tick)> {
        let row = self.rows(plan, canvas).iter().position(|r| r.top <= at.y && at.y < r.bottom)?;
        let time = self.snapped(self.view.time(at.x - canvas.left()), plan, Modifiers::NONE).0;
        Some((plan.tracks()[row].key.clone(), plan.grid().tick_at(time)))
    }

    fn end(&mut self, ui: &Ui, canvas: Rect, (document, plan): (&Document, &Prepared), requests: &mut Requests) {
        match self.gesture.take() {
            Some(Gesture::Lengthen { label, to, snapped }) => {
                lengthen((document, plan), label, (to, snapped), requests);
            }
            Some(Gesture::Pin { bar, to }) => {
                let edit = guide_strip::pin(document, plan, bar, to);
                if let Some(edit) = edit {
                    requests.commit(format!("Pin bar {bar}"), Ok(edit));
                }
            }
            Some(Gesture::Move { from, to, snapped, .. }) => {
                let track = ui.input(|i| i.pointer.latest_pos()).and_then(|at| {
                    let rows = self.rows(plan, canvas);
                    let row = rows.iter().position(|r| r.top <= at.y && at.y < r.bottom)?;
                    other_track(document, &plan.tracks()[row])
                });
                if from == to && track.is_none() {
                    return;
                }
                let grid = &plan.grid();
                let (a, b) = (grid.tick_at(from), grid.tick_at(to));
                let words = format!("Move {{}} to {}", grid.place_text(b));
                requests.with_selected(document, &words, |show, service, labels| {
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
                let keep = ui.input(|i| i.modifiers.shift);
                let mut selection = if keep { document.selection.clone() } else { Selection::none() };
                let rows = self.rows(plan, canvas);
                for (row, track) in rows.iter().zip(plan.tracks()) {
                    if row.bottom < boxed.top() || boxed.bottom() < row.top {
                        continue;
                    }
                    let schedule = &plan.schedule().rows;
                    let first = track.rows.partition_point(|at| schedule[*at as usize].land < early);
                    let inside = track.rows[first..].iter().take_while(|at| schedule[**at as usize].land <= late);
                    selection.labels.extend(inside.map(|at| schedule[*at as usize].label));
                }
                requests.push(UiRequest::SelectAndSay(selection));
            }
            _ => {}
        }
    }
}

/// The track that the selected cues are dropped on, if it has their kind and they are not all on it already.
fn other_track(document: &Document, track: &TrackRows) -> Option<TrackKey> {
    let cues = document.selected_cues();
    let fits = cues.iter().all(|c| c.label.kind == track.kind);
    let elsewhere = cues.iter().any(|c| c.track != track.key);
    // Only if they all come from one row; a selection over several rows stays in them.
    let together = cues.windows(2).all(|pair| pair[0].track == pair[1].track);
    (fits && elsewhere && together).then(|| track.key.clone())
}

/// Makes a media cue play until the given time.
fn lengthen(
    (document, plan): (&Document, &Prepared),
    label: Label,
    (to, snapped): (SongTime, bool),
    requests: &mut Requests,
) {
    let (Some(row), Some(service)) = (plan.row(label), document.current()) else { return };
    if to <= row.land {
        return requests.fail(format!("{label} cannot end before it lands"));
    }
    let grid = &plan.grid();
    let length =
        if snapped { Length::Ticks(grid.tick_at(to) - grid.tick_at(row.land)) } else { Length::Time(to - row.land) };
    let edit = edit::change(&document.show, &service.name, &[label], |cue| cue.length = Some(length));
    requests.select([label]);
    requests.commit(format!("Length of {label}"), edit);
}

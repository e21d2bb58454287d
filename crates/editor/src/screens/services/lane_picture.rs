//! Draws a service as a lane: its sections and cues, aligned as they would be carried.

use super::lane::Lane;
use crate::widgets::theme::{Palette, Theme, bold};
use egui::{Align2, FontId, Pos2, Rect, Stroke, vec2};
use letfall_core::edit::{Match, Selection};
use letfall_core::show::{Kind, Label, Service};
use letfall_core::time::SongTime;
use std::collections::BTreeMap;

/// What is needed to draw a lane.
pub struct LanePicture<'a> {
    /// What counts as the same position in two songs.
    pub matching: Match,
    /// The service on screen, to which the others are aligned.
    pub here: Option<&'a Service>,
    /// The end of that service's song.
    pub end: SongTime,
    /// The theme.
    pub theme: Theme,
    /// The selected cues, in the lane of the service on screen.
    pub selection: Option<&'a Selection>,
}

impl LanePicture<'_> {
    /// Draws one service: its sections and cues, aligned as they would be carried. Returns the areas of the cues.
    pub fn draw(&self, painter: &egui::Painter, canvas: Rect, service: &Service, lane: &Lane) -> Vec<(Label, Rect)> {
        let (theme, p, here, selection) = (self.theme, self.theme.palette(), self.here, self.selection);
        let mut marks = Vec::with_capacity(lane.cues.len());
        let longest = here.map_or(service.song.bars, |h| h.song.bars.max(service.song.bars));
        let end = self.end.max(lane.grid.bar_time(service.song.end_bar()));
        #[allow(clippy::cast_possible_truncation)] // points on a screen
        let x = |time: SongTime| {
            let share = if self.matching == Match::Clock {
                time.secs_f64() / end.secs_f64().max(1.0)
            } else {
                let place = lane.grid.place_of(lane.grid.tick_at(time));
                let into = (lane.grid.tick_at(time) - lane.grid.bar_tick(place.bar)).get() as f64;
                let bar = f64::from(place.bar) + into / lane.grid.bar_length(place.bar).get() as f64;
                (self.aligned(bar, service, here) - 1.0) / f64::from(longest.max(1))
            };
            canvas.left() + (share as f32) * canvas.width()
        };
        for (at, section) in service.song.sections.iter().enumerate() {
            let last = section.bar + i32::try_from(section.bars).unwrap_or(0);
            // End a section just before its last bar line, so that the end is aligned with the section and not with what
            // follows it.
            let from = x(lane.grid.bar_time(section.bar));
            let width = x(lane.grid.bar_time(last) - letfall_core::time::SongSpan::from_millis(1)) - from;
            let rect = Rect::from_min_size(Pos2::new(from, canvas.top()), vec2(width, canvas.height()));
            painter.rect(
                rect,
                0.0,
                if at % 2 == 0 { p.panel } else { p.row },
                Stroke::new(1.0, p.hair),
                egui::StrokeKind::Inside,
            );
            let inside = painter.with_clip_rect(rect.intersect(painter.clip_rect()).shrink2(vec2(3.0, 0.0)));
            inside.text(
                rect.left_top() + vec2(5.0, 9.0),
                Align2::LEFT_CENTER,
                &section.name,
                FontId::proportional(13.0),
                p.quiet,
            );
        }
        let mut taken: BTreeMap<(Kind, i32), f32> = BTreeMap::new();
        for (label, time) in &lane.cues {
            let at = x(*time);
            // Cues of the same kind at the same time are drawn side by side, so that none hides another.
            #[allow(clippy::cast_possible_truncation)] // points on a screen
            let seat = taken.entry((label.kind, at as i32)).or_insert(at);
            let at = *seat;
            *seat += 8.0;
            // Each kind has its own row, so that cues at the same time do not hide each other.
            let room = canvas.height() - 20.0;
            let lane_of = [Kind::Media, Kind::Lighting, Kind::Release, Kind::Output];
            let place = lane_of.iter().position(|k| *k == label.kind).unwrap_or(0);
            let each = room / 4.0;
            let top = canvas.top() + 18.0 + each * f32::from(u8::try_from(place).unwrap_or(0));
            let mark = Rect::from_min_max(Pos2::new(at, top), Pos2::new(at + 6.0, top + each - 1.0));
            painter.rect_filled(mark, 1.0, theme.kind(label.kind));
            if theme == Theme::Paper {
                painter.rect_stroke(mark, 1.0, Stroke::new(1.0, p.text), egui::StrokeKind::Inside);
            }
            if selection.is_some_and(|s| s.labels.contains(label)) {
                painter.rect_stroke(mark.expand(2.0), 1.0, Stroke::new(2.5, p.chosen), egui::StrokeKind::Outside);
            }
            marks.push((*label, mark));
            if lane.differs.contains(label) {
                painter.rect_stroke(mark.expand(1.5), 1.0, Stroke::new(1.5, p.text), egui::StrokeKind::Outside);
                // Do not rely on the outline alone: add a "not equal" sign above it.
                painter.text(
                    mark.center_top() - vec2(0.0, 1.0),
                    Align2::CENTER_BOTTOM,
                    "≠",
                    FontId::new(14.0, bold()),
                    p.text,
                );
            }
        }
        names(painter, canvas, &marks, &p);
        marks
    }

    /// The bar of the service on screen that a bar of another service is aligned to.
    fn aligned(&self, bar: f64, service: &Service, here: Option<&Service>) -> f64 {
        let Some(here) = here.filter(|h| h.name != service.name && self.matching == Match::Sections) else {
            return bar;
        };
        #[allow(clippy::cast_possible_truncation)] // bars
        let whole = libm::floor(bar) as i32;
        let section = service.song.section_at(whole);
        let other = section.and_then(|s| here.song.sections.iter().find(|o| o.name == s.name));
        match (section, other) {
            (Some(section), Some(other)) => bar - f64::from(section.bar) + f64::from(other.bar),
            _ => bar,
        }
    }
}

/// Labels beside their marks, if there is room.
fn names(painter: &egui::Painter, canvas: Rect, marks: &[(Label, Rect)], p: &Palette) {
    if marks.len() > 400 || marks.first().is_none_or(|m| m.1.height() < 14.0) {
        return;
    }
    let mut in_order: Vec<&(Label, Rect)> = marks.iter().collect();
    in_order.sort_by(|a, b| a.1.left().total_cmp(&b.1.left()));
    for (at, (label, mark)) in in_order.iter().map(|m| (m.0, m.1)).enumerate() {
        let next = in_order[at + 1..].iter().find(|n| n.0.kind == label.kind).map_or(canvas.right(), |n| n.1.left());
        if next - mark.right() > 30.0 {
            let at = mark.right_center() + vec2(4.0, 0.0);
            painter.text(at, Align2::LEFT_CENTER, label, FontId::new(13.0, bold()), p.text);
        }
    }
}

/// The cues chosen by a click or a box, and whether to add them to the selection.
pub fn pick(
    response: &egui::Response,
    boxed: &mut Option<Pos2>,
    marks: &[(Label, Rect)],
    painter: &egui::Painter,
    p: &Palette,
) -> Option<(Vec<Label>, bool)> {
    let at = response.interact_pointer_pos()?;
    let more = response.ctx.input(|i| i.modifiers.shift || i.modifiers.command);
    if response.clicked() {
        let hit: Vec<Label> = marks.iter().filter(|m| m.1.expand(3.0).contains(at)).map(|m| m.0).collect();
        return Some((hit, more));
    }
    if response.drag_started() {
        *boxed = response.ctx.input(|i| i.pointer.press_origin());
    }
    let area = Rect::from_two_pos((*boxed)?, at);
    let (fill, line) = (p.chosen.gamma_multiply(0.12), Stroke::new(1.0, p.chosen));
    painter.rect(area, 0.0, fill, line, egui::StrokeKind::Inside);
    response.drag_stopped().then(|| {
        *boxed = None;
        (marks.iter().filter(|m| m.1.intersects(area)).map(|m| m.0).collect(), more)
    })
}

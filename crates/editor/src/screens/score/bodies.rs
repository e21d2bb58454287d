//! Drawing cues: a flag where the message leaves, a line for the lead, and a body from where it lands.
//!
//! Each track is walked once from left to right. Where many cues are less than a point apart, only the first is drawn, so that
//! the cost of a frame depends on what is visible and not on the size of the show.

use super::View;
use crate::document::Document;
use crate::widgets::theme::{Palette, Theme, bold};
use egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Shape, Stroke, StrokeKind, vec2};
use letfall_core::prepared::{Prepared, TrackRows};
use letfall_core::reveal::fallen;
use letfall_core::room::sight::Reveal;
use letfall_core::schedule::Row;
use letfall_core::show::{Action, Cue, Kind, Label, Show};
use letfall_core::time::{SongSpan, SongTime};

/// A cue that is on screen.
#[derive(Debug, Clone, Copy)]
pub struct Drawn {
    /// Its label.
    pub label: Label,
    /// The area of its body.
    pub rect: Rect,
}

/// The area that cues are drawn on.
pub struct Ground {
    /// The stretch of time it shows.
    pub view: View,
    /// Its left edge on screen.
    pub left: f32,
    /// Its width.
    pub width: f32,
    /// The theme.
    pub theme: Theme,
    /// The theme's colours.
    pub p: Palette,
}

impl Ground {
    pub fn x(&self, time: SongTime) -> f32 {
        self.left + self.view.x_of(time)
    }
}

/// How many cues before the left edge are checked for bodies that reach into view.
const REACH: usize = 48;

/// Draws a track's cues.
pub fn draw_track(
    painter: &Painter,
    ground: &Ground,
    document: &Document,
    plan: &Prepared,
    track: &TrackRows,
    (top, bottom): (f32, f32),
    drawn: &mut Vec<Drawn>,
) {
    let rows = &plan.schedule().rows;
    let row = |at: usize| &rows[track.rows[at] as usize];
    let from = ground.view.time(0.0);
    let first = track.rows.partition_point(|at| rows[*at as usize].land < from);
    let until = ground.view.time(ground.width);
    // Unless the track is crowded, cues at the same point are all drawn: one may be longer than another, or lie in another
    // lane.
    let crowded = track.rows.partition_point(|at| rows[*at as usize].land < until) - first > 400;
    let mut at = first.saturating_sub(REACH);
    // A selected cue is always drawn, even in a crowd. With a very large selection, the first cue at a point stands for all
    // there.
    let few = document.selection.labels.len() <= 1000;
    let chosen_lands = if crowded && few { lands_of(document, plan, track) } else { Vec::new() };
    let mut last_x = f32::NEG_INFINITY;
    while at < track.rows.len() {
        let this = row(at);
        let x = ground.x(this.land);
        if ground.x(this.send) > ground.left + ground.width {
            break;
        }
        let chosen = document.selection.labels.contains(&this.label);
        if crowded && x - last_x < 1.0 && at > first && !(chosen && few) {
            // Less than a point from the last one: skip to the next point, or to a selected cue before it.
            let past = ground.view.time(x - ground.left + 1.0);
            let next = track.rows.partition_point(|n| rows[*n as usize].land < past).max(at + 1);
            let stop = chosen_lands[chosen_lands.partition_point(|n| *n <= at)..].first();
            at = stop.map_or(next, |n| next.min(*n));
            continue;
        }
        last_x = x;
        let cue = plan.cue(this);
        let end = plan.ends()[track.rows[at] as usize];
        let levels = plan.levels()[track.rows[at] as usize];
        let body = Body { ground, row: this, cue, end, levels, top: top + 5.0, bottom: bottom - 4.0, chosen };
        if ground.x(end).max(x + 12.0) >= ground.left {
            let rect = body.draw(painter, plan);
            drawn.push(Drawn { label: this.label, rect });
        }
        at += 1;
    }
}

/// The positions of the selected cues in a track's rows, in order.
fn lands_of(document: &Document, plan: &Prepared, track: &TrackRows) -> Vec<usize> {
    let all = &plan.schedule().rows;
    let place = |label: &Label| {
        let row = plan.row(*label)?;
        let key = (row.land, row.label);
        let at = track.rows.partition_point(|n| (all[*n as usize].land, all[*n as usize].label) < key);
        track.rows.get(at).is_some_and(|n| all[*n as usize].label == *label).then_some(at)
    };
    let mut places: Vec<usize> = document.selection.labels.iter().filter_map(place).collect();
    places.sort_unstable();
    places
}

struct Body<'a> {
    ground: &'a Ground,
    row: &'a Row,
    cue: &'a Cue,
    end: SongTime,
    levels: [f32; 2],
    top: f32,
    bottom: f32,
    chosen: bool,
}

/// Height of a line of words above the levels of a lighting track, in points.
const WORDS: f32 = 20.0;

impl Body<'_> {
    fn draw(&self, painter: &Painter, plan: &Prepared) -> Rect {
        let g = self.ground;
        let show = plan.show();
        let kind = self.row.label.kind;
        let fill = g.theme.kind(kind);
        let fill = if self.cue.resting { fill.gamma_multiply(0.35) } else { fill };
        let edge = if g.theme == Theme::Paper { Stroke::new(1.0, Color32::BLACK) } else { Stroke::new(1.0, fill) };
        let x = g.x(self.row.land);
        let (mut top, mut bottom) = (self.top, self.bottom);
        if kind == Kind::Output {
            (top, bottom) = self.lane(show);
        }
        self.flag(painter, x, f32::midpoint(top, bottom), edge.color);
        let rect = Rect::from_min_max(Pos2::new(x, top), Pos2::new(g.x(self.end).max(x + 12.0), bottom));
        match kind {
            Kind::Media => {
                painter.rect(rect, 4.0, fill, edge, StrokeKind::Inside);
                self.words(painter, rect, show, g.theme.on_kind(kind));
            }
            Kind::Lighting => self.ramp(painter, rect, fill, show),
            Kind::Output => self.frame(painter, rect, fill, show),
            Kind::Release => return self.fall(painter, rect, fill, plan),
        }
        if self.chosen {
            painter.rect_stroke(rect, 4.0, Stroke::new(2.5, g.p.chosen), StrokeKind::Outside);
        }
        rect
    }

    /// Where the message leaves and how early: a small flag, and a line to the body.
    fn flag(&self, painter: &Painter, x: f32, y: f32, colour: Color32) {
        let send = self.ground.x(self.row.send);
        if (x - send).abs() < 2.0 {
            return;
        }
        let colour = if self.ground.theme == Theme::Paper { self.ground.p.text } else { colour };
        painter.line_segment([Pos2::new(send, y), Pos2::new(x, y)], Stroke::new(1.5, colour));
        let pole = [Pos2::new(send, y - 9.0), Pos2::new(send, y + 5.0)];
        painter.line_segment(pole, Stroke::new(1.5, colour));
        let cloth = vec![pole[0], pole[0] + vec2(7.0, 3.0), pole[0] + vec2(0.0, 6.0)];
        painter.add(Shape::convex_polygon(cloth, colour, Stroke::NONE));
    }

    fn words(&self, painter: &Painter, rect: Rect, show: &Show, ink: Color32) {
        if rect.width() < 22.0 {
            return;
        }
        let inside = painter.with_clip_rect(rect.intersect(painter.clip_rect()).shrink2(vec2(3.0, 0.0)));
        // Keep the words in view when a long body starts left of the screen.
        let left = rect.left().max(self.ground.left) + 6.0;
        let at = Pos2::new(left, rect.center().y);
        let label = inside.layout_no_wrap(self.row.label.to_string(), FontId::new(13.5, bold()), ink);
        let width = label.size().x;
        inside.galley(at - vec2(0.0, label.size().y / 2.0), label, ink);
        if rect.right() - left > width + 30.0 {
            let text = letfall_core::schedule::describe(show, self.cue);
            inside.text(at + vec2(width + 7.0, 0.0), Align2::LEFT_CENTER, text, FontId::proportional(13.0), ink);
        }
    }

    /// Lighting: during its fade it goes from the previous level to its own, then holds until the next.
    fn ramp(&self, painter: &Painter, rect: Rect, fill: Color32, show: &Show) {
        let g = self.ground;
        let (full, start) = match &self.cue.does {
            Action::Lighting { preset, fade, .. } => {
                let fade = fade.or(show.preset(preset).map(|p| p.fade)).unwrap_or(SongSpan::ZERO);
                let start = self.row.land - self.row.lead.action;
                (start + fade, start)
            }
            _ => (self.row.land, self.row.land),
        };
        let (x0, x1) = (g.x(start), g.x(full).min(rect.right()).max(g.x(start)));
        // The height follows the light level, so a fade to dark falls. A small foot remains, so that darkness can be seen and
        // grabbed.
        // The words stand above the levels, so that no ramp goes through them.
        let words = if rect.height() >= 2.0 * WORDS { WORDS } else { 0.0 };
        let y = |level: f32| rect.bottom() - 3.0 - level * (rect.height() - words - 3.0);
        let [before, after] = self.levels;
        let (x2, foot) = (rect.right().max(x1), rect.bottom());
        let fade = vec![Pos2::new(x0, foot), Pos2::new(x0, y(before)), Pos2::new(x1, y(after)), Pos2::new(x1, foot)];
        let body = fill.gamma_multiply(0.30);
        painter.add(Shape::convex_polygon(fade, body, Stroke::NONE));
        painter.rect_filled(Rect::from_min_max(Pos2::new(x1, y(after)), Pos2::new(x2, foot)), 0.0, body);
        let line = if g.theme == Theme::Paper { g.p.text } else { fill };
        let top = vec![Pos2::new(x0, y(before)), Pos2::new(x1, y(after)), Pos2::new(x2, y(after))];
        painter.line(top, Stroke::new(2.0, line));
        painter.line_segment(
            [Pos2::new(rect.left(), rect.top()), Pos2::new(rect.left(), rect.bottom())],
            Stroke::new(2.0, line),
        );
        if words > 0.0 {
            return self.words(painter, rect.with_max_y(rect.top() + words), show, g.p.text);
        }
        // In a low row they stand on the levels, on a ground of their own.
        let plate = rect.shrink2(vec2(3.0, (rect.height() - 17.0).max(0.0) / 2.0));
        painter.rect_filled(plate, 2.0, g.p.ground.gamma_multiply(0.8));
        self.words(painter, rect, show, g.p.text);
    }

    /// An output: a frame that contains what it shows; blank is an empty frame.
    fn frame(&self, painter: &Painter, rect: Rect, fill: Color32, show: &Show) {
        let g = self.ground;
        let blank = match &self.cue.does {
            Action::Output { route } => {
                show.route(route).is_some_and(|r| r.carries == letfall_core::show::Carries::Blank {})
            }
            _ => false,
        };
        let line = if g.theme == Theme::Paper { Color32::BLACK } else { fill };
        if blank {
            painter.rect_stroke(rect, 0.0, Stroke::new(1.5, line), StrokeKind::Inside);
            painter
                .line_segment([rect.left_bottom(), Pos2::new(rect.left() + 10.0, rect.top())], Stroke::new(1.5, line));
            self.words(painter, rect.with_min_x(rect.left() + 8.0), show, g.p.text);
        } else {
            painter.rect(rect, 0.0, fill, Stroke::new(1.5, line), StrokeKind::Inside);
            self.words(painter, rect, show, g.theme.on_kind(Kind::Output));
        }
    }

    /// The fall itself: the edge's height over time, with its range shaded, the sightline as a thin line and the seats' own lines as a band.
    fn fall(&self, painter: &Painter, rect: Rect, fill: Color32, plan: &Prepared) -> Rect {
        let g = self.ground;
        let Some(falling) = plan.stage().falling.iter().find(|f| f.by == self.row.label) else { return rect };
        let Some(hang) = plan.show().hangs.get(falling.hang) else { return rect };
        let span = falling.to_floor.latest.max(0.2);
        let x0 = g.x(falling.let_go);
        let rect =
            Rect::from_min_max(Pos2::new(x0, rect.top()), Pos2::new(g.x(self.end).max(x0 + 14.0), rect.bottom()));
        let height = |metres: f64| {
            #[allow(clippy::cast_possible_truncation)] // points on a screen
            let share = (metres / hang.top_m) as f32;
            rect.top() + share * rect.height()
        };
        let steps = 24u8;
        let points: Vec<(f32, [f64; 3])> = (0..=steps)
            .map(|n| {
                let secs = span * f64::from(n) / f64::from(steps);
                (g.x(falling.let_go + SongSpan::from_secs_f64(secs)), fallen(hang, falling.to_floor, secs))
            })
            .collect();
        for pair in points.windows(2) {
            let (a, b) = (&pair[0], &pair[1]);
            let quad = vec![
                Pos2::new(a.0, height(a.1[2])),
                Pos2::new(b.0, height(b.1[2])),
                Pos2::new(b.0, height(b.1[1])),
                Pos2::new(a.0, height(a.1[1])),
            ];
            painter.add(Shape::convex_polygon(quad, fill.gamma_multiply(0.4), Stroke::NONE));
        }
        // Between which heights the seats' own lines lie, where the room gives them.
        let reveals = plan.prepared_show().room().map_or(&[][..], |room| &room.reveals);
        let lines = reveals.iter().find(|reveal| reveal.hang == hang.key).and_then(Reveal::lines);
        if let Some((low, high)) = lines {
            let band = Rect::from_min_max(
                Pos2::new(x0 - 40.0, height(hang.top_m - high)),
                Pos2::new(rect.right() + 4.0, height(hang.top_m - low)),
            );
            painter.rect_filled(band, 0.0, g.p.quiet.gamma_multiply(0.22));
        }
        let sight = height(hang.top_m - hang.sightline_m);
        painter.line_segment(
            [Pos2::new(x0 - 40.0, sight), Pos2::new(rect.right() + 4.0, sight)],
            Stroke::new(1.0, g.p.quiet),
        );
        let curve: Vec<Pos2> = points.iter().map(|(x, h)| Pos2::new(*x, height(h[0]))).collect();
        painter.line(curve, Stroke::new(2.5, fill));
        let land = g.x(self.row.land);
        painter.line_segment([Pos2::new(land, rect.top()), Pos2::new(land, rect.bottom())], Stroke::new(1.0, g.p.text));
        let at = Pos2::new(x0 - 8.0, rect.top() + 9.0);
        painter.text(at, Align2::RIGHT_CENTER, self.row.label, FontId::new(14.0, bold()), g.p.text);
        if self.chosen {
            painter.rect_stroke(rect, 3.0, Stroke::new(2.5, g.p.chosen), StrokeKind::Outside);
        }
        rect
    }

    /// An output's part of its row: outputs are stacked on top of each other.
    fn lane(&self, show: &Show) -> (f32, f32) {
        let outputs = &show.outputs;
        let place = match &self.cue.does {
            Action::Output { route } => {
                show.route(route).and_then(|r| outputs.iter().position(|o| o.key == r.output)).unwrap_or(0)
            }
            _ => 0,
        };
        let lane = |n: usize| f32::from(u16::try_from(n).unwrap_or(u16::MAX));
        let each = (self.bottom - self.top) / lane(outputs.len().max(1));
        let top = self.top + each * lane(place);
        (top, top + each - 1.5)
    }
}

/// The small symbol of a kind, with its letter.
pub fn form(painter: &Painter, at: Pos2, kind: Kind, theme: Theme) {
    let fill = theme.kind(kind);
    let line = Stroke::new(1.0, if theme == Theme::Paper { Color32::BLACK } else { fill });
    let rect = Rect::from_center_size(at, vec2(20.0, 15.0));
    match kind {
        Kind::Media => {
            painter.rect(rect.expand2(vec2(1.0, 0.5)), 8.0, fill, line, StrokeKind::Inside);
        }
        Kind::Lighting => {
            let shape =
                vec![rect.left_bottom(), rect.left_top() + vec2(10.0, 0.0), rect.right_top(), rect.right_bottom()];
            painter.add(Shape::convex_polygon(shape, fill, line));
        }
        Kind::Output => {
            painter.rect(rect, 0.0, fill, line, StrokeKind::Inside);
        }
        Kind::Release => {
            let shape = vec![
                rect.left_top(),
                rect.left_top() + vec2(9.0, 2.0),
                rect.left_top() + vec2(15.0, 7.0),
                rect.right_bottom(),
                rect.left_bottom(),
            ];
            painter.add(Shape::convex_polygon(shape, fill, line));
        }
    }
    let letter = FontId::new(13.0, bold());
    let at = if kind == Kind::Release || kind == Kind::Lighting { at + vec2(0.0, 1.5) } else { at };
    painter.text(at, Align2::CENTER_CENTER, kind.letter(), letter, theme.on_kind(kind));
}

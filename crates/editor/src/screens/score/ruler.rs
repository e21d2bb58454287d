//! The ruler: sections, bars and beats, song time and wall clock, and the bar lines below.

use super::View;
use crate::document::Document;
use crate::widgets::theme::{Palette, bold};
use egui::{Align2, FontId, Pos2, Rect, Stroke, Ui};
use letfall_core::prepared::Prepared;
use letfall_core::show::{BendMark, SongBend};
use letfall_core::time::{Grid, SongTime, Tick, round};

/// Its height, in points.
pub const HEIGHT: f32 = 64.0;
const SECTIONS: f32 = 20.0;
const BARS: f32 = 22.0;

/// Draws the ruler and the bar lines below it.
pub fn draw(ui: &Ui, canvas: Rect, view: &View, document: &Document, plan: &Prepared, p: &Palette) {
    let painter = ui.painter_at(canvas);
    sections(&painter, canvas, view, document, plan, p);
    bars(&painter, canvas, view, document, plan, p);
    times(&painter, canvas, view, document, p);
    let y = canvas.top() + HEIGHT;
    painter.line_segment([Pos2::new(canvas.left(), y), Pos2::new(canvas.right(), y)], Stroke::new(1.0, p.line));
}

fn sections(painter: &egui::Painter, canvas: Rect, view: &View, document: &Document, plan: &Prepared, p: &Palette) {
    let Some(service) = document.current() else { return };
    let grid = &plan.grid();
    for (at, section) in service.song.sections.iter().enumerate() {
        let end = section.bar.saturating_add(i32::try_from(section.bars).unwrap_or(0));
        let from = canvas.left() + view.x_of(grid.bar_time(section.bar));
        let to = canvas.left() + view.x_of(grid.bar_time(end));
        if to < canvas.left() || canvas.right() < from {
            continue;
        }
        let rect = Rect::from_min_max(Pos2::new(from, canvas.top()), Pos2::new(to, canvas.top() + SECTIONS));
        painter.rect_filled(rect, 0.0, if at % 2 == 0 { p.hair } else { p.panel });
        painter.line_segment([rect.left_top(), Pos2::new(from, canvas.bottom())], Stroke::new(1.5, p.line));
        let inside = painter.with_clip_rect(rect.intersect(canvas).shrink2(egui::vec2(4.0, 0.0)));
        let at = Pos2::new(from.max(canvas.left()) + 6.0, rect.center().y);
        inside.text(at, Align2::LEFT_CENTER, &section.name, FontId::new(13.5, bold()), p.text);
    }
    for mark in &service.song.bends {
        bend(painter, canvas, view, grid, mark, p);
    }
    // Words stand on the lines of all marks.
    for mark in &service.song.bends {
        bend_words(painter, canvas, view, grid, mark, p);
    }
}

/// From where to where a bend reaches across the canvas. `None` if it is not in view.
fn stretch(canvas: Rect, view: &View, grid: &Grid, mark: &BendMark) -> Option<(f32, f32)> {
    let x = |bar: i32| canvas.left() + view.x_of(grid.bar_time(bar));
    let (from, to) = (x(mark.bar), x(mark.end_bar()).max(x(mark.bar) + 4.0));
    (to >= canvas.left() && canvas.right() >= from).then_some((from, to))
}

/// Where the song may bend: a bar across its stretch at the foot of the sections.
fn bend(painter: &egui::Painter, canvas: Rect, view: &View, grid: &Grid, mark: &BendMark, p: &Palette) {
    let Some((from, to)) = stretch(canvas, view, grid, mark) else { return };
    let foot = canvas.top() + SECTIONS;
    let rect = Rect::from_min_max(Pos2::new(from, foot - 4.0), Pos2::new(to, foot));
    painter.rect_filled(rect.intersect(canvas), 0.0, p.text);
    painter.line_segment([Pos2::new(from, canvas.top()), Pos2::new(from, foot)], Stroke::new(3.0, p.text));
}

/// What a bend is, in a word.
fn bend_words(painter: &egui::Painter, canvas: Rect, view: &View, grid: &Grid, mark: &BendMark, p: &Palette) {
    let Some((from, to)) = stretch(canvas, view, grid, mark) else { return };
    let foot = canvas.top() + SECTIONS;
    let words = match mark.does {
        SongBend::Wait {} => "wait".to_owned(),
        SongBend::Vamp { .. } => "vamp".to_owned(),
        SongBend::Free { .. } => "free".to_owned(),
        SongBend::Cut { to } => format!("cut to {to}"),
    };
    let galley = painter.layout_no_wrap(words, FontId::new(13.0, bold()), p.text);
    // Only where there is room beside the section's own name.
    let (wait, size) = (matches!(mark.does, SongBend::Wait {}), galley.size());
    if wait || to - from > size.x + 90.0 {
        let left = if wait { from + 6.0 } else { to - size.x - 6.0 };
        let at = Pos2::new(left, foot - 4.0 - size.y);
        painter.rect_filled(Rect::from_min_size(at, size).expand2(egui::vec2(3.0, 0.0)), 0.0, p.hair);
        painter.galley(at, galley, p.text);
    }
}

fn bars(painter: &egui::Painter, canvas: Rect, view: &View, document: &Document, plan: &Prepared, p: &Palette) {
    let grid = &plan.grid();
    let last = document.current().map_or(1, |s| s.song.end_bar());
    let bar_at = |x: f32| grid.place_of(Tick::new(round::nearest(grid.ticks_at(view.time(x).micros() as f64)))).bar;
    let count_in = document.show.settings.first_bar();
    let (from, to) = (bar_at(0.0).max(count_in), bar_at(canvas.width()).min(last));
    // How many bars there are between numbers, so that these are at least 44 points apart.
    let shown = (to - from).max(1);
    let apart = (view.x_of(grid.bar_time(to)) - view.x_of(grid.bar_time(from)))
        / f32::from(i16::try_from(shown).unwrap_or(i16::MAX));
    let step = [1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 1024, 4096, 16_384]
        .into_iter()
        .find(|n| apart * f32::from(i16::try_from(*n).unwrap_or(i16::MAX)) >= 44.0)
        .unwrap_or(65_536);
    let lines = if apart >= 5.0 { 1 } else { step };
    let mut bar = from - (from - 1).rem_euclid(lines);
    let y = canvas.top() + SECTIONS + BARS / 2.0;
    while bar <= to {
        let x = canvas.left() + view.x_of(grid.bar_time(bar));
        let numbered = (bar - 1).rem_euclid(step) == 0;
        let stroke = Stroke::new(1.0, if numbered { p.line } else { p.hair });
        let top = if numbered { canvas.top() + SECTIONS } else { canvas.top() + HEIGHT };
        painter.line_segment([Pos2::new(x, top), Pos2::new(x, canvas.bottom())], stroke);
        if numbered {
            painter.text(Pos2::new(x + 4.0, y), Align2::LEFT_CENTER, bar, FontId::monospace(14.0), p.text);
        }
        if apart >= 110.0 && bar < last {
            for beat in 2..=grid.beats_in(bar) {
                let tick = grid.bar_tick(bar) + letfall_core::time::TickSpan::new(grid.metre_at(bar).beat_offset(beat));
                let x = canvas.left() + view.x_of(grid.time_at(tick));
                painter.line_segment(
                    [Pos2::new(x, canvas.top() + HEIGHT - 8.0), Pos2::new(x, canvas.bottom())],
                    Stroke::new(1.0, p.hair),
                );
                if apart >= 180.0 {
                    painter.text(
                        Pos2::new(x + 3.0, y),
                        Align2::LEFT_CENTER,
                        format!("|{beat}"),
                        FontId::monospace(13.0),
                        p.quiet,
                    );
                }
            }
        }
        bar += lines;
    }
}

fn times(painter: &egui::Painter, canvas: Rect, view: &View, document: &Document, p: &Palette) {
    let wall = document.current().is_some_and(|s| s.starts.is_some());
    let room = if wall { 170.0 } else { 90.0 };
    let step = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0, 3600.0]
        .into_iter()
        .find(|s| s * 1e6 / view.scale >= room)
        .unwrap_or(7200.0)
        * 1e6;
    let mut at = (view.start / step).ceil() * step;
    let y = canvas.top() + SECTIONS + BARS + (HEIGHT - SECTIONS - BARS) / 2.0;
    while view.x(at) < canvas.width() {
        let x = canvas.left() + view.x(at);
        let time = SongTime::saturating(round::nearest(at));
        let mut words = format!("{time:.1}");
        if let Some(wall) = document.current().and_then(|s| s.wall(time)) {
            words = format!("{words}  {wall}");
        }
        painter.line_segment([Pos2::new(x, y - 7.0), Pos2::new(x, y + 9.0)], Stroke::new(1.0, p.line));
        painter.text(Pos2::new(x + 4.0, y), Align2::LEFT_CENTER, words, FontId::monospace(13.0), p.quiet);
        at += step;
    }
}

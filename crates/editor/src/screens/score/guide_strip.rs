//! The strip under the ruler: the guide's waveform, the bars found in it, and bar lines that can be dragged.

use super::View;
use crate::document::Document;
use crate::widgets::theme::Palette;
use crate::widgets::waveform::waveform;
use egui::{Align2, FontId, Pos2, Rect, Sense, Stroke, Ui};
use letfall_core::edit::Edit;
use letfall_core::prepared::Prepared;
use letfall_core::time::{Pin, SongTime, round};
use letfall_sound::Peaks;
use letfall_sound::bars::{Found, GivenBar};

/// What the strip shows.
pub struct GuideStrip<'a> {
    /// The guide's waveform, or why there is none yet. The strip is there either way: cues must not move under a hand when the
    /// recording has been read.
    pub peaks: Result<&'a Peaks, String>,
    /// The bars on offer.
    pub found: Option<&'a Found>,
    /// The bar that the user knows.
    pub known: Option<GivenBar>,
}

impl GuideStrip<'_> {
    /// Draws it.
    pub fn draw(&self, ui: &Ui, strip: Rect, view: &View, p: &Palette) {
        match &self.peaks {
            Ok(peaks) => guide(ui, strip, view, peaks, p),
            Err(why) => instead(ui, strip, why, p),
        }
        let below = [strip.left_bottom(), strip.right_bottom()];
        ui.painter_at(strip).line_segment(below, Stroke::new(1.0, p.line));
        if let Some(bar) = &self.known {
            known(ui, strip, view, bar, p);
        }
        if let Some(bars) = self.found {
            found(ui, strip, view, bars, p);
        }
    }
}

/// The guide's waveform.
fn guide(ui: &Ui, strip: Rect, view: &View, peaks: &Peaks, p: &Palette) {
    let response = ui.interact(strip, ui.scope_id().with("guide"), Sense::hover());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, "Guide waveform"));
    let painter = ui.painter_at(strip);
    waveform(&painter, strip, 2.0, p, |from, to| {
        let (from, to) = (view.time(from - strip.left()).secs_f64(), view.time(to - strip.left()).secs_f64());
        peaks.range(from, to.max(from + 1e-4))
    });
}

/// A sentence where the waveform would be.
fn instead(ui: &Ui, strip: Rect, why: &str, p: &Palette) {
    let response = ui.interact(strip, ui.scope_id().with("guide"), Sense::hover());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, why));
    let at = strip.left_center() + egui::vec2(8.0, 0.0);
    ui.painter_at(strip).text(at, Align2::LEFT_CENTER, why, FontId::proportional(14.0), p.quiet);
}

fn x_of(strip: Rect, view: &View, at: f64) -> f32 {
    strip.left() + view.x_of(SongTime::saturating(round::nearest(at * 1e6)))
}

/// The bar that the user knows: a frame from its downbeat to the next, with a tick on each of its beats.
fn known(ui: &Ui, strip: Rect, view: &View, bar: &GivenBar, p: &Palette) {
    let painter = ui.painter_at(strip);
    let (left, right) = (x_of(strip, view, bar.from), x_of(strip, view, bar.to));
    let frame = Rect::from_x_y_ranges(left..=right.max(left + 2.0), strip.y_range().shrink(1.0));
    painter.rect(frame, 0.0, p.text.gamma_multiply(0.14), Stroke::new(2.0, p.text), egui::StrokeKind::Inside);
    for beat in 1..bar.beats.unwrap_or(1) {
        let x = left + (right - left) * f32::from(beat) / f32::from(bar.beats.unwrap_or(1));
        let tick = [Pos2::new(x, frame.top()), Pos2::new(x, frame.top() + frame.height() * 0.3)];
        painter.line_segment(tick, Stroke::new(2.0, p.text));
    }
}

/// The bars on offer: a line for each, its height showing how sure it is, with a number where there is room. Stretches of weak
/// bars get a band with a question mark.
fn found(ui: &Ui, strip: Rect, view: &View, found: &Found, p: &Palette) {
    let painter = ui.painter_at(strip);
    let warn = ui.visuals().warn_fg_color;
    let x_of = |at: f64| x_of(strip, view, at);
    for (from, to) in found.weak_spots() {
        let line = |bar: i32| usize::try_from(bar - 1).ok().and_then(|at| found.confidence.get(at));
        let Some(begin) = line(from).map(|b| x_of(b.at)) else { continue };
        let end = line(to + 1).or(found.confidence.last()).map_or(begin, |b| x_of(b.at)).max(begin + 6.0);
        let band = Rect::from_min_max(Pos2::new(begin, strip.top()), Pos2::new(end, strip.bottom()));
        painter.rect_filled(band, 0.0, warn.gamma_multiply(0.18));
        let at = Pos2::new(begin.max(strip.left()) + 2.0, strip.top());
        painter.text(at, Align2::LEFT_TOP, "?", FontId::monospace(14.0), warn);
    }
    let (mut last, mut told) = (f32::NEG_INFINITY, f32::NEG_INFINITY);
    for (bar, heard) in (1..).zip(&found.confidence) {
        let x = x_of(heard.at);
        if x < strip.left() || strip.right() < x || x - last < 3.0 {
            continue;
        }
        last = x;
        let height = strip.height() * heard.confidence.clamp(0.2, 1.0);
        let line = [Pos2::new(x, strip.bottom()), Pos2::new(x, strip.bottom() - height)];
        painter.line_segment(line, Stroke::new(2.0, p.chosen));
        if x - told >= 44.0 {
            told = x;
            let galley = painter.layout_no_wrap(bar.to_string(), FontId::monospace(13.0), p.on_chosen);
            let at = Pos2::new(x, strip.bottom() - galley.size().y);
            painter.rect_filled(Rect::from_min_size(at, galley.size()).expand2(egui::vec2(2.0, 0.0)), 0.0, p.chosen);
            painter.galley(at, galley, p.on_chosen);
        }
    }
}

/// The bar whose line is near this point of the strip.
pub fn line_at(view: &View, document: &Document, plan: &Prepared, x: f32) -> Option<i32> {
    let grid = &plan.grid();
    let tick = letfall_core::time::Tick::new(round::nearest(grid.ticks_at(view.time(x).micros() as f64)));
    let here = grid.place_of(tick).bar;
    let last = document.current().map_or(1, |s| s.song.end_bar());
    let off = |bar: &i32| (view.x_of(grid.bar_time(*bar)) - x).abs();
    let near = [here, here + 1].into_iter().filter(|bar| (1..=last).contains(bar));
    near.min_by(|a, b| off(a).total_cmp(&off(b))).filter(|bar| off(bar) < 6.0)
}

/// The edit that pins a bar line where it was dragged to; the other bars follow.
pub fn pin(document: &Document, plan: &Prepared, bar: i32, to: SongTime) -> Option<Edit> {
    document.edit_of_song(|song| {
        let pins = &mut song.grid.pins;
        if pins.is_empty() && bar > 1 {
            // Keep the start of the song in place, so that only the bars in between change and not the whole song.
            pins.push(Pin { bar: 1, at: plan.grid().bar_time(1) });
        }
        pins.retain(|p| p.bar != bar);
        pins.push(Pin { bar, at: to });
        pins.sort_by_key(|p| p.bar);
    })
}

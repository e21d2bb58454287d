//! A line of the board: a heading, words as large as fit, and the time left.

use crate::widgets::theme::{Palette, bold};
use egui::{Align2, Color32, FontId, Pos2, Rect, Stroke, Ui, Vec2, vec2};
use letfall_core::time::{Grid, SongTime, Tick, round};

/// Font size of what is read at half the board's distance, in points.
pub const MIDDLE: f32 = 40.0;

/// The distance between two song times in bars and beats, such as 8 bars and 2 beats, counted from the beats they fall in.
pub fn distance(grid: &Grid, from: SongTime, to: SongTime) -> (i32, i32) {
    let tick = |t: SongTime| Tick::new(round::nearest(grid.ticks_at(t.micros() as f64)));
    let (here, there) = (grid.place_of(tick(from)), grid.place_of(tick(to)));
    let beats = i32::from(there.beat) - i32::from(here.beat);
    let bars = there.bar - here.bar;
    if beats < 0 && bars > 0 { (bars - 1, beats + i32::from(grid.beats_in(here.bar))) } else { (bars, beats) }
}

/// A length in whole bars, or in beats if it is less than a bar: "8 bars", "3 beats". The seconds beside it tell the rest.
fn length(bars: i32, beats: i32) -> String {
    let of = |count: i32, thing: &str| format!("{count} {thing}{}", if count == 1 { "" } else { "s" });
    if bars == 0 { of(beats, "beat") } else { of(bars, "bar") }
}

/// A countdown in bars, beats and seconds.
pub fn countdown(grid: &Grid, from: SongTime, to: SongTime) -> String {
    let secs = (to - from).secs_f64();
    let (bars, beats) = distance(grid, from, to);
    if secs < 0.0 {
        return format!("{:.1} s ago", -secs);
    }
    format!("{}  {secs:.1} s", length(bars, beats))
}

/// How large the board's letters are beside their usual size, by the room that there is: in a small window they must still fit, on a large
/// screen they can be read from farther away.
pub fn size_for(room: Vec2) -> f32 {
    (room.x / 940.0).min(room.y / 640.0).clamp(0.42, 2.4)
}

/// A line with a heading, words and the time left; `size` is how large its letters are beside the usual ones.
pub fn line(
    ui: &mut Ui,
    (head, words): (&str, &str),
    until: Option<String>,
    (p, colour): (&Palette, Color32),
    size: f32,
) {
    let width = ui.available_width();
    let (rect, response) = ui.allocate_exact_size(vec2(width, 86.0 * size), egui::Sense::hover());
    let painter = ui.painter_at(rect);
    painter.text(
        rect.left_top() + vec2(0.0, 2.0),
        Align2::LEFT_TOP,
        head,
        FontId::proportional((17.0 * size).max(12.0)),
        p.quiet,
    );
    let said = until.clone().unwrap_or_default();
    let mut room = rect.width();
    if let Some(until) = until {
        let galley = painter.layout_no_wrap(until, FontId::monospace(52.0 * size), colour);
        let at = Pos2::new(rect.right() - galley.size().x, rect.bottom() - galley.size().y - 2.0);
        room = at.x - rect.left() - 16.0;
        painter.galley(at, galley, colour);
    }
    // The largest font in which the words fit.
    let fits = [52.0, 44.0, 36.0, 30.0, 26.0, 22.0]
        .into_iter()
        .map(|font| font * size)
        .find(|font| painter.layout_no_wrap(words.to_owned(), FontId::new(*font, bold()), colour).size().x <= room);
    let font = FontId::new(fits.unwrap_or(22.0 * size), bold());
    // Words that are still too long wrap to two rows.
    let galley = painter.layout(words.to_owned(), font, colour, room);
    let at = Pos2::new(rect.left(), rect.bottom() - galley.size().y - 4.0);
    painter
        .with_clip_rect(Rect::from_min_max(rect.min, Pos2::new(rect.left() + room, rect.bottom())))
        .galley(at, galley, colour);
    let y = rect.bottom() - 0.5;
    painter.line_segment([Pos2::new(rect.left(), y), Pos2::new(rect.right(), y)], Stroke::new(1.0, p.line));
    response.widget_info(|| {
        egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, format!("{head}: {words} {said}"))
    });
}

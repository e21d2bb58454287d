//! The board: what the stage manager reads from three metres away. Where it is, what is called next, when the reveal is, where
//! the lock stands.
//!
//! Sizes: letters that must be read at 3 m are 15 mm and more of cap height, 17 minutes of arc (general legibility practice,
//! 16 minutes of arc at least; from memory of ISO 9355-2); at 96 points an inch that is a font of 80 points, and 40 for what is
//! read at half that distance.

use super::run::{Run, Seen};
use crate::editor::document::Derived;
use crate::editor::theme::{Palette, bold};
use crate::editor::{stage_picture, theme::Theme};
use egui::{Align2, Color32, FontId, Pos2, Rect, RichText, Stroke, Ui, vec2};
use letfall_core::schedule::{Breath, describe};
use letfall_core::show::Kind;
use letfall_core::time::{Grid, SongTime, Tick, round};
use letfall_live::{HOLD, Mode};

const LARGE: f32 = 80.0;
const MIDDLE: f32 = 40.0;

/// How far it is from one place to another in bars and beats, such as "8|2"; beats that have begun count.
pub fn distance(grid: &Grid, from: SongTime, to: SongTime) -> (i32, i32) {
    let tick = |t: SongTime| Tick::new(round::nearest(grid.ticks_at(t.micros() as f64)));
    let (here, there) = (grid.place_of(tick(from)), grid.place_of(tick(to)));
    let beats = i32::from(there.beat) - i32::from(here.beat);
    let bars = there.bar - here.bar;
    if beats < 0 && bars > 0 { (bars - 1, beats + i32::from(grid.beats_in(here.bar))) } else { (bars, beats) }
}

/// A countdown in words.
pub fn countdown(grid: &Grid, from: SongTime, to: SongTime) -> String {
    let secs = (to - from).secs_f64();
    let (bars, beats) = distance(grid, from, to);
    if secs < 0.0 {
        return format!("{:.1} s ago", -secs);
    }
    // A minus, so that nobody takes what is left for a place.
    format!("-{bars}|{beats}  {secs:.1} s")
}

/// What is shown of one moment.
pub struct Moment<'a> {
    /// What was worked out.
    pub derived: &'a Derived,
    /// What is said, in order.
    pub breaths: &'a [Breath],
    /// The run, where there is one.
    pub run: Option<&'a Run>,
    /// Song time.
    pub at: SongTime,
    /// The look.
    pub theme: Theme,
    /// What is heard.
    pub sound: &'static str,
}

/// Draws the board.
pub fn show(ui: &mut Ui, moment: &Moment<'_>) {
    let p = moment.theme.palette();
    let grid = &moment.derived.schedule.grid;
    place(ui, moment, &p);
    ui.add_space(4.0);
    let call = moment.breaths.iter().find(|b| b.at >= moment.at);
    let words = call.map_or_else(|| "No more calls".to_owned(), |b| b.words.clone());
    line(ui, "Next call", &words, call.map(|b| countdown(grid, moment.at, b.at)), &p, p.text);
    // A release that was not sent is no longer to come.
    let lock = |label| moment.run.and_then(|run| run.locks.get(run.place_of(label)?));
    let kept = |label| matches!(lock(label), Some(Seen::NotSent(_)));
    let rows = moment.derived.schedule.rows.iter();
    let next = rows.filter(|r| r.land > moment.at && !kept(r.label)).min_by_key(|r| r.land);
    let words = next.map_or_else(
        || "No more cues".to_owned(),
        |r| format!("{}  {}", r.label, describe(&moment.derived.show, moment.derived.cue(r))),
    );
    line(ui, "Next cue", &words, next.map(|r| countdown(grid, moment.at, r.land)), &p, p.text);
    reveal(ui, moment, &p);
    let rest = ui.available_rect_before_wrap();
    if rest.height() > 120.0 {
        ui.horizontal_top(|ui| {
            let size = vec2((rest.width() * 0.5).max(240.0), rest.height().min(420.0));
            ui.vertical(|ui| {
                let (rect, response) = ui.allocate_exact_size(size - vec2(0.0, 28.0), egui::Sense::hover());
                let said = stage_picture::draw(ui, rect, moment.derived, moment.at, &p);
                response.widget_info(|| {
                    egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, format!("Stage as planned: {said}"))
                });
                let (words, colour, unsent) = beside_the_plan(moment, &p);
                if let Some(across) = unsent {
                    let painter = ui.painter_at(rect);
                    let galley =
                        painter.layout(across, FontId::new(30.0, bold()), moment.theme.on_alarm(), rect.width() - 60.0);
                    let band = Rect::from_center_size(rect.center(), galley.size() + vec2(28.0, 18.0));
                    painter.rect_filled(band, 3.0, p.alarm);
                    painter.galley(band.min + vec2(14.0, 9.0), galley, moment.theme.on_alarm());
                }
                ui.label(RichText::new(words).font(FontId::new(18.0, bold())).color(colour));
            });
            ui.add_space(12.0);
            ui.vertical(|ui| state(ui, moment, &p));
        });
    }
}

/// What must be said beside a picture of the plan: nobody here sees the stage.
fn beside_the_plan(moment: &Moment<'_>, p: &Palette) -> (String, Color32, Option<String>) {
    let plain = "This is the plan: nobody here sees the stage.".to_owned();
    let Some(run) = moment.run else { return (plain, p.quiet, None) };
    let kept = run.programme.releases.iter().zip(&run.locks).find(|(_, lock)| matches!(lock, Seen::NotSent(_)));
    match kept {
        Some((r, _)) => (plain, p.alarm, Some(format!("{} was NOT sent: treat the fabric as UP", r.label))),
        None if run.mode == Mode::Rehearse => {
            ("This is the plan: a rehearsal lets no fabric go.".to_owned(), p.quiet, None)
        }
        None => (plain, p.quiet, None),
    }
}

/// Where it is.
fn place(ui: &mut Ui, moment: &Moment<'_>, p: &Palette) {
    let grid = &moment.derived.schedule.grid;
    let tick = Tick::new(round::nearest(grid.ticks_at(moment.at.micros() as f64)));
    let place = grid.place_of(tick);
    ui.horizontal(|ui| {
        let text = RichText::new(format!("{}|{}", place.bar, place.beat)).font(FontId::monospace(LARGE * 1.2));
        ui.label(text);
        ui.add_space(18.0);
        ui.vertical(|ui| {
            ui.label(RichText::new(format!("{:.1}", moment.at)).font(FontId::monospace(MIDDLE)));
            let section = moment.derived.service().song.section_at(place.bar).map(|s| s.name.clone());
            ui.label(RichText::new(section.unwrap_or_default()).font(FontId::new(28.0, bold())));
        });
        ui.add_space(18.0);
        let runs = moment.run.is_some_and(Run::runs);
        let perform = moment.run.is_some_and(|r| r.mode == Mode::Perform);
        let (words, colour) = match (runs, perform) {
            (false, _) => ("STANDS", p.quiet),
            (true, false) => ("REHEARSING: stand-ins only", p.text),
            (true, true) => ("PERFORMING", p.alarm),
        };
        ui.label(RichText::new(words).font(FontId::new(28.0, bold())).color(colour));
    });
}

/// A line of what, and how long until then.
fn line(ui: &mut Ui, head: &str, words: &str, until: Option<String>, p: &Palette, colour: Color32) {
    let width = ui.available_width();
    let (rect, response) = ui.allocate_exact_size(vec2(width, 86.0), egui::Sense::hover());
    let painter = ui.painter_at(rect);
    painter.text(rect.left_top() + vec2(0.0, 2.0), Align2::LEFT_TOP, head, FontId::proportional(17.0), p.quiet);
    let said = until.clone().unwrap_or_default();
    let mut room = rect.width();
    if let Some(until) = until {
        let galley = painter.layout_no_wrap(until, FontId::monospace(52.0), colour);
        let at = Pos2::new(rect.right() - galley.size().x, rect.bottom() - galley.size().y - 2.0);
        room = at.x - rect.left() - 16.0;
        painter.galley(at, galley, colour);
    }
    // The largest letters that the words have room in.
    let fits = [52.0, 44.0, 36.0, 30.0, 26.0, 22.0]
        .into_iter()
        .find(|size| painter.layout_no_wrap(words.to_owned(), FontId::new(*size, bold()), colour).size().x <= room);
    let font = FontId::new(fits.unwrap_or(22.0), bold());
    // What is too long even so takes two rows.
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

/// The next release, its lock, and the stretch in which it can be armed.
fn reveal(ui: &mut Ui, moment: &Moment<'_>, p: &Palette) {
    let grid = &moment.derived.schedule.grid;
    let rows = &moment.derived.schedule.rows;
    let next = rows
        .iter()
        .filter(|r| {
            r.label.kind == Kind::Release && r.land + letfall_core::time::SongSpan::from_millis(8000) >= moment.at
        })
        .min_by_key(|r| r.land);
    let Some(row) = next else {
        line(ui, "Reveal", "No release to come", None, p, p.quiet);
        return;
    };
    let at = moment.run.and_then(|run| run.place_of(row.label));
    let lock = moment.run.zip(at).and_then(|(run, at)| run.locks.get(at));
    let rehearses = moment.run.is_none_or(|r| r.mode == Mode::Rehearse);
    let barred = moment.run.zip(at).and_then(|(run, at)| run.barred(at));
    let past = row.land <= moment.at;
    let (words, colour) = match (lock, &barred) {
        _ if rehearses && past => ("rehearsal: it was NOT sent".to_owned(), p.text),
        (_, Some(why)) if rehearses => (format!("rehearsal: locked, only a stand-in; in a performance {why}"), p.alarm),
        _ if rehearses => ("rehearsal: locked, only a stand-in".to_owned(), p.text),
        (Some(Seen::Closed(_)), Some(why)) => (format!("CANNOT BE ARMED: {why}"), p.alarm),
        (None, _) => ("locked".to_owned(), p.text),
        (Some(Seen::Closed(None)), _) => ("LOCKED".to_owned(), p.text),
        (Some(Seen::Closed(Some(why))), _) => (format!("LOCKED: {}", why.words()), p.alarm),
        (Some(Seen::Opening(_)), _) => ("LOCKED, hold on…".to_owned(), p.text),
        (Some(Seen::Armed(by)), _) => (format!("ARMED by {by}"), p.alarm),
        (Some(Seen::Sent(_)), _) => ("message SENT: look at the fabric".to_owned(), p.text),
        (Some(Seen::NotSent(why)), _) => (format!("NOT SENT: {why}"), p.alarm),
    };
    let what = format!("{} {words}", row.label);
    // No time since a planned landing: it would be read as one that was seen.
    let until = (!past && !matches!(lock, Some(Seen::NotSent(_)))).then(|| countdown(grid, moment.at, row.land));
    let head = match (&until, rehearses || barred.is_some()) {
        (Some(_), false) => "Reveal lands in",
        (Some(_), true) => "Reveal is planned to land in",
        (None, _) => "Reveal",
    };
    line(ui, head, &what, until, p, colour);
    // The stretch in which it can be armed: send and land in it, and now.
    let Some((run, at)) = moment.run.zip(at) else { return };
    let release = &run.programme.releases[at];
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 34.0), egui::Sense::hover());
    let painter = ui.painter_at(rect);
    let (from, to) = (release.from.micros() as f64 - 4e6, release.to.micros() as f64 + 2e6);
    #[allow(clippy::cast_possible_truncation)] // points on a screen
    let x = |t: SongTime| rect.left() + ((t.micros() as f64 - from) / (to - from)) as f32 * rect.width();
    let bar =
        Rect::from_min_max(Pos2::new(x(release.from), rect.top() + 6.0), Pos2::new(x(release.to), rect.bottom() - 6.0));
    let armed = matches!(lock, Some(Seen::Armed(_)));
    painter.rect_filled(rect.shrink2(vec2(0.0, 6.0)), 2.0, p.row);
    painter.rect(bar, 2.0, if armed { p.alarm } else { p.hair }, Stroke::new(1.5, p.line), egui::StrokeKind::Inside);
    if let Some(Seen::Opening(since)) = lock {
        let share = ((run.handle.now() - since) as f32 / HOLD as f32).clamp(0.0, 1.0);
        let part = Rect::from_min_size(bar.min, vec2(bar.width() * share, bar.height()));
        painter.rect_filled(part, 2.0, p.chosen.gamma_multiply(0.5));
    }
    let inside = if armed { moment.theme.on_alarm() } else { p.text };
    let text = match (armed, rehearses) {
        (true, _) => "armed: let go to lock",
        _ if matches!(lock, Some(Seen::Sent(_) | Seen::NotSent(_))) => "closed: its time is past",
        _ if barred.is_some() => "cannot be armed",
        (false, true) => "in a performance it can be armed here",
        (false, false) => "can be armed here",
    };
    painter.text(bar.left_center() + vec2(8.0, 0.0), Align2::LEFT_CENTER, text, FontId::new(15.0, bold()), inside);
    for (time, words) in [(release.send, "send"), (release.land, "land")] {
        let x = x(time);
        painter.line_segment([Pos2::new(x, rect.top()), Pos2::new(x, rect.bottom())], Stroke::new(2.0, p.text));
        let align = if words == "send" { Align2::RIGHT_CENTER } else { Align2::LEFT_CENTER };
        let off = if words == "send" { -4.0 } else { 4.0 };
        painter.text(Pos2::new(x + off, rect.center().y), align, words, FontId::proportional(14.0), inside);
    }
    let now = x(moment.at);
    if rect.x_range().contains(now) {
        painter.line_segment([Pos2::new(now, rect.top()), Pos2::new(now, rect.bottom())], Stroke::new(4.0, p.playhead));
    }
    response.widget_info(|| {
        let said = format!("Armed span of {}, from {} to {}", release.label, release.from, release.to);
        egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, said)
    });
}

/// Ports and what was sent last.
fn state(ui: &mut Ui, moment: &Moment<'_>, p: &Palette) {
    let Some(run) = moment.run else {
        ui.label("Nothing is connected yet.");
        return;
    };
    for port in &run.ports {
        let (sign, colour) = if port.there { ("OK", p.text) } else { ("MISSING", p.alarm) };
        let words = format!("{sign}  {}", port.words);
        ui.add(egui::Label::new(RichText::new(words).font(FontId::new(19.0, bold())).color(colour)).wrap());
    }
    if let Some(first) = run.held.first() {
        let others = if run.held.len() > 1 { format!(" and {} more", run.held.len() - 1) } else { String::new() };
        let words = format!("NOT SENT: {first}{others}. By these ports it would let a fabric go.");
        ui.add(egui::Label::new(RichText::new(words).font(FontId::new(19.0, bold())).color(p.alarm)).wrap());
    }
    ui.label(RichText::new(moment.sound).font(FontId::new(19.0, bold())));
    ui.add_space(6.0);
    ui.label(RichText::new("Sent last (sent is not fallen)").color(p.quiet));
    // What became of the release stays in sight, however much comes after it.
    let pinned = run.release_line.as_ref().filter(|line| !run.recent.iter().take(2).any(|r| r == *line));
    for (words, warns) in pinned.into_iter().chain(run.recent.iter().take(6)) {
        ui.label(RichText::new(words).font(FontId::proportional(19.0)).color(if *warns { p.alarm } else { p.text }));
    }
}

//! The board, which the stage manager reads from three metres away: the current position, the next call, the time of the
//! reveal, the state of the lock.
//!
//! Sizes: letters to be read from 3 m have a cap height of at least 15 mm, which is 17 minutes of arc (general legibility
//! practice: at least 16 minutes of arc; from memory of ISO 9355-2). At 96 points an inch this is an 80-point font, or 40
//! points for what is read at half that distance.

use super::board_bends::{comes, stays_too, until};
use super::board_line::{MIDDLE, countdown, line, size_for};
use super::board_state::BoardState;
use super::{reveal, sign};
use crate::rehearsal::{ReleaseStatus, choices};
use crate::widgets::stage_picture;
use crate::widgets::theme::{Palette, bold};
use egui::{Color32, FontId, Label, Rect, RichText, Ui, vec2};
use letfall_core::schedule::describe;
use letfall_core::time::{SongTime, Tick, WallTime, round};
use letfall_live::Mode;

const LARGE: f32 = 80.0;

/// Draws the board.
pub fn show(ui: &mut Ui, state: &BoardState<'_>) {
    let p = state.theme.palette();
    let grid = &state.plan.grid();
    let size = size_for(ui.available_size());
    place(ui, state, &p, size);
    ui.add_space(4.0);
    let call = state.plan.call_groups().iter().find(|b| b.is_said() && b.at >= state.at && comes(state, b.at));
    let words = call.map_or_else(|| "No more calls".to_owned(), |b| b.words.clone());
    let left = |at: SongTime| until(state, at).unwrap_or_else(|| countdown(grid, state.at, at));
    line(ui, ("Next call", &words), call.map(|b| left(b.at)), (&p, p.text), size);
    // A release that was not sent will not come any more.
    let lock = |label| state.run.and_then(|run| run.locks.get(run.place_of(label)?));
    let kept = |label| matches!(lock(label), Some(ReleaseStatus::NotSent(_)));
    let rows = state.plan.schedule().rows.iter();
    let next =
        rows.filter(|r| r.land > state.at && !kept(r.label) && comes(state, r.land) && !stays_too(state, r.label));
    let next = next.min_by_key(|r| r.land);
    let words = next.map_or_else(
        || "No more cues".to_owned(),
        |r| format!("{}  {}", r.label, describe(state.plan.show(), state.plan.cue(r))),
    );
    line(ui, ("Next cue", &words), next.map(|r| left(r.land)), (&p, p.text), size);
    reveal::show(ui, state, &p, size);
    let rest = ui.available_rect_before_wrap();
    if rest.height() > 120.0 {
        ui.horizontal_top(|ui| {
            let size = vec2((rest.width() * 0.5).max(180.0), rest.height().min(420.0 * size.max(1.0)));
            ui.vertical(|ui| {
                let (rect, response) = ui.allocate_exact_size(size - vec2(0.0, 28.0), egui::Sense::hover());
                let said = stage_picture::draw(ui, rect, state.plan, state.at, &p);
                response.widget_info(|| {
                    egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, format!("Stage as planned: {said}"))
                });
                let (words, colour, unsent) = beside_the_plan(state, &p);
                if let Some(across) = unsent {
                    let painter = ui.painter_at(rect);
                    let galley =
                        painter.layout(across, FontId::new(30.0, bold()), state.theme.on_alarm(), rect.width() - 60.0);
                    let band = Rect::from_center_size(rect.center(), galley.size() + vec2(28.0, 18.0));
                    painter.rect_filled(band, 3.0, p.alarm);
                    painter.galley(band.min + vec2(14.0, 9.0), galley, state.theme.on_alarm());
                }
                ui.label(RichText::new(words).font(FontId::new(18.0, bold())).color(colour));
            });
            ui.add_space(12.0);
            ui.vertical(|ui| ports_and_last(ui, state, &p));
        });
    }
}

/// The caution beside the picture of the plan, since the program cannot see the stage.
fn beside_the_plan(state: &BoardState<'_>, p: &Palette) -> (String, Color32, Option<String>) {
    let plain = "This is the plan: nobody here sees the stage.".to_owned();
    let Some(run) = state.run else { return (plain, p.quiet, None) };
    let kept = run.plan.releases.iter().zip(&run.locks).find(|(_, lock)| matches!(lock, ReleaseStatus::NotSent(_)));
    match kept {
        Some((r, _)) => (plain, p.alarm, Some(format!("{} was NOT sent: treat the fabric as UP", r.label))),
        None if run.mode == Mode::Rehearse => {
            ("This is the plan: a rehearsal lets no fabric go.".to_owned(), p.quiet, None)
        }
        None => (plain, p.quiet, None),
    }
}

/// The current position.
fn place(ui: &mut Ui, state: &BoardState<'_>, p: &Palette, size: f32) {
    let grid = &state.plan.grid();
    let tick = Tick::new(round::nearest(grid.ticks_at(state.at.micros() as f64)));
    let place = grid.place_of(tick);
    ui.horizontal(|ui| {
        let text = RichText::new(format!("{} b{}", place.bar, place.beat)).font(FontId::monospace(LARGE * 1.2 * size));
        ui.add(Label::new(text).extend());
        ui.add_space(18.0 * size);
        ui.vertical(|ui| {
            let clock = RichText::new(format!("{:.1}", state.at)).font(FontId::monospace(MIDDLE * size));
            ui.add(Label::new(clock).extend());
            let section = state.plan.service().song.section_at(place.bar).map(|s| s.name.clone());
            let section = RichText::new(section.unwrap_or_default()).font(FontId::new(28.0 * size, bold()));
            ui.add(Label::new(section).extend());
        });
        ui.add_space(18.0);
        ui.vertical(|ui| {
            let (sign, words) = state.run.map_or((choices::Sign::Stopped, "STOPPED".to_owned()), choices::state);
            sign::show(ui, (sign, &words), (p, state.theme), size);
            if let Some(words) = time_of_day(state) {
                ui.add(Label::new(RichText::new(words).font(FontId::new(22.0 * size, bold()))).wrap());
            }
        });
    });
}

/// The time of day of this place and of the end as it will be: everything that was planned, and how late it began.
fn time_of_day(state: &BoardState<'_>) -> Option<String> {
    let service = state.plan.service();
    let late = state.run.filter(|run| run.runs() && run.mode == Mode::Perform).and_then(|run| run.late)?;
    let starts = service.starts?;
    let shifted = WallTime::from_secs((starts.micros() + late).div_euclid(1_000_000));
    let ends = shifted.at(state.plan.end());
    let minutes = late.abs() / 60_000_000;
    let seconds = late.abs() / 1_000_000 % 60;
    let by = if late.abs() < 1_000_000 {
        "on time".to_owned()
    } else {
        format!("{minutes} min {seconds} s {}", if late > 0 { "late" } else { "early" })
    };
    Some(format!("Began {by}; ends about {}", &ends.to_string()[..5]))
}

/// The ports, and what was sent last.
fn ports_and_last(ui: &mut Ui, state: &BoardState<'_>, p: &Palette) {
    let Some(run) = state.run else {
        ui.label("Nothing is connected yet.");
        return;
    };
    for port in &run.ports {
        let (sign, colour) = if port.there { ("OK", p.text) } else { ("MISSING", p.alarm) };
        let words = format!("{sign}  {}", port.words);
        ui.add(Label::new(RichText::new(words).font(FontId::new(19.0, bold())).color(colour)).wrap());
    }
    if let Some(words) = &state.changed {
        ui.add(Label::new(RichText::new(words).font(FontId::new(19.0, bold())).color(p.alarm)).wrap());
    }
    if let Some(first) = run.held.first() {
        let others = if run.held.len() > 1 { format!(" and {} more", run.held.len() - 1) } else { String::new() };
        let words = format!("NOT SENT: {first}{others}. By these ports it might let a fabric go.");
        ui.add(Label::new(RichText::new(words).font(FontId::new(19.0, bold())).color(p.alarm)).wrap());
    }
    ui.label(RichText::new(state.sound).font(FontId::new(19.0, bold())));
    ui.add_space(6.0);
    ui.label(RichText::new("Sent last (sending a cue does not mean that the fabric fell)").color(p.quiet));
    // The outcome of a release stays visible, however many lines follow it.
    let pinned = run.release_line.as_ref().filter(|line| !run.recent.iter().take(6).any(|r| r == *line));
    for (words, warns) in pinned.into_iter().chain(run.recent.iter().take(6)) {
        ui.label(RichText::new(words).font(FontId::proportional(19.0)).color(if *warns { p.alarm } else { p.text }));
    }
}

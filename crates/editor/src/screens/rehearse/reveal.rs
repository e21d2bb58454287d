//! The board's line for the next release: its lock, and the period in which it can be armed.

use super::board_bends::until;
use super::board_line::{countdown, line};
use super::board_state::BoardState;
use crate::rehearsal::ReleaseStatus;
use crate::widgets::theme::{Palette, bold};
use egui::{Align2, FontId, Pos2, Rect, Stroke, Ui, vec2};
use letfall_core::show::Kind;
use letfall_core::time::SongTime;
use letfall_live::{HOLD, Mode};

/// Shows the next release, its lock, and the period in which it can be armed.
pub fn show(ui: &mut Ui, state: &BoardState<'_>, p: &Palette, size: f32) {
    let grid = &state.plan.grid();
    let rows = &state.plan.schedule().rows;
    let next = rows
        .iter()
        .filter(|r| {
            r.label.kind == Kind::Release && r.land + letfall_core::time::SongSpan::from_millis(8000) >= state.at
        })
        .min_by_key(|r| r.land);
    let Some(row) = next else {
        line(ui, ("Reveal", "No release to come"), None, (p, p.quiet), size);
        return;
    };
    let at = state.run.and_then(|run| run.place_of(row.label));
    let lock = state.run.zip(at).and_then(|(run, at)| run.locks.get(at));
    let rehearses = state.run.is_none_or(|r| r.mode == Mode::Rehearse);
    let barred = state.run.zip(at).and_then(|(run, at)| run.barred(at));
    let past = row.land <= state.at;
    let (words, colour) = match (lock, &barred) {
        _ if rehearses && past => ("rehearsal: it was NOT sent".to_owned(), p.text),
        (_, Some(why)) if rehearses => (format!("rehearsal: locked, only a stand-in; in a performance {why}"), p.alarm),
        _ if rehearses => ("rehearsal: locked, only a stand-in".to_owned(), p.text),
        (Some(ReleaseStatus::Closed(_)), Some(why)) => (format!("CANNOT BE ARMED: {why}"), p.alarm),
        (None, _) => ("locked".to_owned(), p.text),
        (Some(ReleaseStatus::Closed(None)), _) => ("LOCKED".to_owned(), p.text),
        (Some(ReleaseStatus::Closed(Some(why))), _) => (format!("LOCKED: {}", why.words()), p.alarm),
        (Some(ReleaseStatus::Opening(_)), _) => ("LOCKED, keep pressing…".to_owned(), p.text),
        (Some(ReleaseStatus::Armed(by)), _) => (format!("ARMED by {by}"), p.alarm),
        (Some(ReleaseStatus::Sent(_)), _) => ("message SENT: look at the fabric".to_owned(), p.text),
        (Some(ReleaseStatus::NotSent(why)), _) => (format!("NOT SENT: {why}"), p.alarm),
    };
    let outcome = format!("{} {words}", row.label);
    // After a planned landing no time is shown, because people would read it as the time since a landing that was seen.
    let until = (!past && !matches!(lock, Some(ReleaseStatus::NotSent(_))))
        .then(|| until(state, row.land).unwrap_or_else(|| countdown(grid, state.at, row.land)));
    // By when the arm must be on: after that, messages that depend on the release are on their way.
    let decision = state.plan.decision(row.label);
    let open = matches!(lock, Some(ReleaseStatus::Closed(_) | ReleaseStatus::Opening(_)));
    let by = decision.filter(|decision| open && state.at < decision.at);
    let by = by.map_or_else(String::new, |decision| format!(", arm on by {}", grid.beat_text(decision.at)));
    let head = match (&until, rehearses || barred.is_some()) {
        (Some(_), false) => format!("Reveal lands in{by}"),
        (Some(_), true) => "Reveal is planned to land in".to_owned(),
        (None, _) => "Reveal".to_owned(),
    };
    line(ui, (&head, &outcome), until, (p, colour), size);
    // The period in which it can be armed, with marks for send, land and now.
    let Some((run, at)) = state.run.zip(at) else { return };
    let release = &run.plan.releases[at];
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 34.0), egui::Sense::hover());
    let painter = ui.painter_at(rect);
    let (from, to) = (release.from.micros() as f64 - 4e6, release.to.micros() as f64 + 2e6);
    #[allow(clippy::cast_possible_truncation)] // points on a screen
    let x = |t: SongTime| rect.left() + ((t.micros() as f64 - from) / (to - from)) as f32 * rect.width();
    let bar =
        Rect::from_min_max(Pos2::new(x(release.from), rect.top() + 6.0), Pos2::new(x(release.to), rect.bottom() - 6.0));
    let armed = matches!(lock, Some(ReleaseStatus::Armed(_)));
    painter.rect_filled(rect.shrink2(vec2(0.0, 6.0)), 2.0, p.row);
    painter.rect(bar, 2.0, if armed { p.alarm } else { p.hair }, Stroke::new(1.5, p.line), egui::StrokeKind::Inside);
    if let Some(ReleaseStatus::Opening(since)) = lock {
        #[allow(clippy::cast_possible_truncation)] // a share of a bar
        let share = ((run.now() - *since).micros() as f64 / HOLD.micros() as f64).clamp(0.0, 1.0) as f32;
        let part = Rect::from_min_size(bar.min, vec2(bar.width() * share, bar.height()));
        painter.rect_filled(part, 2.0, p.chosen.gamma_multiply(0.5));
    }
    let inside = if armed { state.theme.on_alarm() } else { p.text };
    let text = match (armed, rehearses) {
        (true, _) => "armed: let go to lock",
        _ if matches!(lock, Some(ReleaseStatus::Sent(_) | ReleaseStatus::NotSent(_))) => "closed: its time is past",
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
    let now = x(state.at);
    if rect.x_range().contains(now) {
        painter.line_segment([Pos2::new(now, rect.top()), Pos2::new(now, rect.bottom())], Stroke::new(4.0, p.playhead));
    }
    response.widget_info(|| {
        let said = format!("Armed span of {}, from {} to {}", release.label, release.from, release.to);
        egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, said)
    });
}

//! A live band that leads the time: where it is, taps, and a beat more or less.

use super::rehearsing::Rehearsing;
use crate::rehearsal::{RehearsalRequest, choices};
use crate::request::{Requests, UiRequest};
use crate::widgets::theme::bold;
use egui::{FontId, Id, Key, Modifiers, RichText, Ui};

/// On the downbeat of the bar that is shown: the band is here.
const HERE: Key = Key::J;
/// A tap on a beat.
const TAP: Key = Key::T;
/// A bar more or less is meant.
const BARS: [(Key, i32); 2] = [(Key::ArrowDown, -1), (Key::ArrowUp, 1)];
/// The band is a beat further, or less far, than supposed.
const BEATS: [(Key, i32); 2] = [(Key::Comma, -1), (Key::Period, 1)];

/// Shows it, and takes its keys.
pub fn show(ui: &mut Ui, what: &Rehearsing<'_>, requests: &mut Requests) {
    let Some(run) = what.rehearsal.run.as_ref().filter(|run| run.runs() && what.rehearsal.options().band) else {
        return;
    };
    let typing = ui.ctx().egui_wants_keyboard_input();
    let pressed = |ui: &Ui, key| !typing && ui.input_mut(|i| i.consume_key(Modifiers::NONE, key));
    let id = Id::unique("bars off");
    let mut off: i32 = ui.data(|data| data.get_temp(id)).unwrap_or(0);
    for (key, bars) in BARS {
        if pressed(ui, key) {
            off += bars;
        }
    }
    let grid = &run.plan.grid;
    // The nearest downbeat is meant, unless somebody says otherwise.
    let here = run.song();
    let bar = choices::bar_at(grid, here);
    let nearer_next = grid.bar_time(bar + 1) - here < here - grid.bar_time(bar);
    let meant = bar + i32::from(nearer_next) + off;
    let mut ask = |request| requests.push(UiRequest::Rehearsal(request));
    ui.label(RichText::new("The band leads").font(FontId::new(16.0, bold())));
    let words = format!("J   here is bar {meant}");
    let button = egui::Button::new(RichText::new(words).font(FontId::new(20.0, bold())));
    if pressed(ui, HERE) | ui.add_sized([ui.available_width() - 8.0, 40.0], button).clicked() {
        ask(RehearsalRequest::BandAt(meant));
        off = 0;
    }
    ui.label("Up and down: another bar. Press it on the downbeat, then tap each beat with T, a pad or a pedal.");
    if pressed(ui, TAP) {
        ask(RehearsalRequest::BandTap);
    }
    for (key, beats) in BEATS {
        if pressed(ui, key) {
            ask(RehearsalRequest::BandNudge(beats));
        }
    }
    ui.label("Comma and full stop: a beat back or on.");
    ui.data_mut(|data| data.insert_temp(id, off));
}

//! The desk: start, stop, mode, arming, ports, synchronisation, recording.

use super::after::After;
use super::rehearsing::Rehearsing;
use super::{arming, band_panel, choices_panel, others, recorder_panel, start_time};
use crate::rehearsal::{RehearsalOptions, RehearsalRequest};
use crate::request::{Requests, UiRequest};
use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};
use letfall_core::show::cautions;
use letfall_live::Mode;

/// Shows it. Returns whether the button to arm is held down.
pub fn show(
    ui: &mut Ui,
    what: &Rehearsing<'_>,
    (second_window, set_up, after): (bool, &mut bool, &mut Option<After>),
    requests: &mut Requests,
) -> bool {
    let p = what.theme.palette();
    let rehearsal = what.rehearsal;
    let runs = rehearsal.runs();
    let mut ask = |request| requests.push(UiRequest::Rehearsal(request));
    let large = |words: &str| RichText::new(words).font(FontId::new(20.0, bold()));
    let start = if runs { "Stop" } else { "Start from the playhead" };
    let width = ui.available_width() - 8.0;
    if ui.add_sized([width, 44.0], egui::Button::new(large(start))).clicked() {
        ask(RehearsalRequest::Toggle);
    }
    let stop = egui::Button::new(large("Stop all  (Esc, Esc)").color(what.theme.on_alarm())).fill(p.alarm);
    if ui.add_sized([width, 52.0], stop).clicked() {
        ask(RehearsalRequest::StopAll);
    }
    let words = format!("Esc once locks every release, twice stops all. {}", cautions::STOP_ALL);
    ui.add(egui::Label::new(RichText::new(words).small().color(p.quiet)).wrap());
    ui.add_space(6.0);
    let mut wanted = rehearsal.mode();
    ui.add_enabled_ui(!runs, |ui| {
        ui.radio_value(&mut wanted, Mode::Rehearse, "Rehearse: no release is sent, only its stand-in");
        ui.radio_value(&mut wanted, Mode::Perform, "Perform: a release is sent while it is held");
    });
    if wanted != rehearsal.mode() {
        ask(RehearsalRequest::Mode(wanted));
    }
    let held = arming::show(ui, what, requests);
    band_panel::show(ui, what, requests);
    choices_panel::show(ui, what, requests);
    ui.add_space(6.0);
    if !runs {
        start_time::show(ui, what, requests);
    }
    if runs {
        // What is set up once folds away.
        let words = if *set_up { "Fold the set-up away" } else { "Ports, timecode, recording…" };
        *set_up ^= ui.button(words).clicked();
        if !*set_up {
            return held;
        }
    }
    let mut options = rehearsal.options().clone();
    ways(ui, &mut options);
    let mut second = second_window;
    if ui.checkbox(&mut second, "Second window for the stage manager (F11: full screen)").changed() {
        requests.push(UiRequest::SecondWindow(second));
    }
    others::ports(ui, what, requests);
    others::in_time(ui, what, &mut options);
    if options != *rehearsal.options() {
        requests.push(UiRequest::Rehearsal(RehearsalRequest::Options(options)));
    }
    if let Some(options) = recorder_panel::show(ui, &rehearsal.recorder, what.document) {
        requests.push(UiRequest::Rehearsal(RehearsalRequest::Recorder(options)));
    }
    ui.add_space(8.0);
    let open = after.is_some();
    let words = if open { "Back to the board" } else { "After the run: lateness, notes, what was measured" };
    if ui.add_enabled(!runs, egui::Button::new(words).wrap()).clicked() {
        *after = (!open).then(After::default);
    }
    if let Some(log) = rehearsal.run.as_ref().and_then(|r| r.log.as_ref()) {
        ui.add(egui::Label::new(RichText::new(format!("Log: {}", log.display())).color(p.quiet)).wrap());
    }
    held
}

/// The options of a run.
fn ways(ui: &mut Ui, options: &mut RehearsalOptions) {
    ui.checkbox(&mut options.with_guide, "The guide plays along");
    ui.checkbox(&mut options.band, "A live band leads: J says where it is, T taps its beats");
    ui.checkbox(&mut options.chase, "Send first what should be on at that place (never a release)");
    ui.checkbox(&mut options.looped, "Loop the section at the playhead");
}

//! Which of the machine's ports is used for which of the show's; sending clock and timecode to other devices, and following
//! them.

use super::rehearsing::Rehearsing;
use crate::rehearsal::{RehearsalOptions, RehearsalRequest};
use crate::request::{Requests, UiRequest};
use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};
use letfall_core::show::Show;
use letfall_live::{Follow, HAS_OWN_PORTS, OWN_PORT};

/// Which of the machine's ports is used for which of the show's.
pub fn ports(ui: &mut Ui, what: &Rehearsing<'_>, requests: &mut Requests) {
    let rehearsal = what.rehearsal;
    let mut ask = |request| requests.push(UiRequest::Rehearsal(request));
    ui.add_space(8.0);
    ui.label(RichText::new("MIDI ports").font(FontId::new(15.5, bold())));
    if let Some(why) = rehearsal.looked().filter(|why| !why.is_empty()) {
        ui.colored_label(ui.visuals().warn_fg_color, why);
    }
    for port in &what.document.show.ports {
        let label = ui.label(&port.name);
        let chosen = rehearsal.chosen(port);
        let shown = chosen.as_deref().unwrap_or("not connected");
        let combo = egui::ComboBox::from_id_salt(("port", &port.key)).width(280.0).selected_text(shown);
        let response = combo.show_ui(ui, |ui| {
            for name in rehearsal.outputs() {
                if ui.selectable_label(chosen.as_ref() == Some(name), name).clicked() {
                    ask(RehearsalRequest::Connect { show: port.name.clone(), machine: name.clone() });
                }
            }
            if HAS_OWN_PORTS {
                let own = format!("{OWN_PORT}{}", port.name);
                let said = "for programs on this machine; a release never leaves by it";
                if ui.selectable_label(chosen.as_ref() == Some(&own), &own).on_hover_text(said).clicked() {
                    ask(RehearsalRequest::Connect { show: port.name.clone(), machine: own });
                }
            }
        });
        response.response.labelled_by(label.id);
    }
    if ui.button("Look for ports again").clicked() {
        ask(RehearsalRequest::LookForPorts);
    }
}

/// Ports of the show to which no timecode and clock is sent: a release hangs there, and nobody has tried what they do.
fn not_kept_in_time(show: &Show) -> Vec<&str> {
    let hangs = |port: &&letfall_core::show::Port| {
        let on = |release: &letfall_core::show::Release| {
            show.receiver(&release.receiver).is_some_and(|r| r.port == port.key)
        };
        !port.is_sync_confirmed() && show.releases.iter().any(on)
    };
    show.ports.iter().filter(hangs).map(|port| port.name.as_str()).collect()
}

/// Sending clock and timecode to other devices, and following them.
pub fn in_time(ui: &mut Ui, what: &Rehearsing<'_>, options: &mut RehearsalOptions) {
    ui.add_space(8.0);
    ui.label(RichText::new("In time with others").font(FontId::new(15.5, bold())));
    ui.checkbox(&mut options.timecode, "Send MIDI time code to all ports");
    ui.checkbox(&mut options.clock, "Send MIDI clock and song position to all ports");
    let has_timecode = what.document.current().is_some_and(|s| s.timecode.is_some());
    if options.timecode && !has_timecode {
        ui.label("This service has no timecode start: set it on the Services screen.");
    }
    if options.timecode || options.clock {
        for port in not_kept_in_time(&what.document.show) {
            let words = format!(
                "Not to {port}: a release hangs there, and nobody has tried that nothing on it answers to timecode or clock (Rig)."
            );
            ui.add(egui::Label::new(RichText::new(words).color(ui.visuals().warn_fg_color)).wrap());
        }
    }
    for (follow, words) in [
        (Follow::Nothing, "Follow nothing"),
        (Follow::Timecode, "Follow MIDI time code"),
        (Follow::Clock, "Follow MIDI start, song position and clock"),
    ] {
        ui.radio_value(&mut options.follow, follow, words);
    }
    let label = ui.label("Listen to");
    let shown = if options.input.is_empty() { "nothing" } else { &options.input }.to_owned();
    let combo = egui::ComboBox::from_id_salt("listen to").width(280.0).selected_text(shown).show_ui(ui, |ui| {
        ui.selectable_value(&mut options.input, String::new(), "nothing");
        for name in what.rehearsal.inputs() {
            ui.selectable_value(&mut options.input, name.clone(), name);
        }
    });
    combo.response.labelled_by(label.id);
}

//! What the film says of receivers and fabrics, and taking it into the show as one step.

use crate::document::Document;
use crate::film::{FilmRequest, FilmStudy};
use crate::request::{Requests, UiRequest};
use crate::widgets::fields::heads;
use crate::widgets::leads::Leads;
use crate::widgets::theme::Palette;
use egui::Ui;
use letfall_film::measure::{DropSeen, ReceiverSeen, Taken};
use letfall_film::page::receiver_words;

/// What is to be taken.
pub struct TakeForm {
    what: Taken,
    leads: Leads<(Taken, Vec<ReceiverSeen>, Vec<DropSeen>)>,
}

impl Default for TakeForm {
    fn default() -> TakeForm {
        TakeForm { what: Taken { delays: true, drops: true }, leads: Leads::default() }
    }
}

/// Shows receivers.
pub fn receivers(ui: &mut Ui, film: &FilmStudy, p: &Palette) {
    let Some(results) = film.results().filter(|results| !results.receivers.is_empty()) else {
        ui.label("Nothing has been seen of a receiver yet.");
        return;
    };
    let all: Vec<_> = results.receivers.iter().map(receiver_words).collect();
    egui::Grid::new("receivers of the film").num_columns(5).spacing([12.0, 4.0]).striped(true).show(ui, |ui| {
        heads(ui, &["Receiver", "Seen", "Late", "In the show", "As seen"]);
        for seen in &all {
            ui.label(&seen.name);
            ui.label(seen.count.to_string());
            ui.label(&seen.late);
            ui.label(&seen.before);
            ui.label(&seen.after);
            ui.end_row();
        }
    });
    for seen in all.iter().filter(|seen| !seen.remark.is_empty()) {
        ui.colored_label(ui.visuals().warn_fg_color, format!("{}: {}.", seen.name, seen.remark));
    }
    ui.colored_label(
        p.quiet,
        format!(
            "The whole film may be off by {:.0} ms (standard uncertainty), which is in each spread.",
            results.report.common * 1e3
        ),
    );
}

/// Shows what can be taken.
pub fn show(ui: &mut Ui, film: &FilmStudy, document: &Document, form: &mut TakeForm, requests: &mut Requests) {
    let Some(results) = film.results() else { return };
    if results.receivers.is_empty() && results.drops.is_empty() {
        return;
    }
    let drops = film.confirmed_drops();
    let confirmed = drops.len();
    ui.checkbox(&mut form.what.delays, "Delays of receivers");
    ui.checkbox(&mut form.what.drops, format!("Drops that are confirmed ({confirmed} of {})", results.drops.len()));
    let edit = film.edit(form.what, document);
    if ui.add_enabled(edit.is_some(), egui::Button::new("Take this into the show")).clicked() {
        requests.push(UiRequest::Film(FilmRequest::Take(form.what)));
    }
    if ui.button("Print what the film shows…").clicked() {
        requests.push(UiRequest::Film(FilmRequest::Print));
    }
    ui.label("Times only: what is seen late may have been sent late. Nothing here says that a rig is safe.");
    if let Some(edit) = &edit {
        form.leads.show(ui, document, &(form.what, results.receivers.clone(), drops), edit);
    }
}

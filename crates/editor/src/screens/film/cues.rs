//! Every cue that the film covers: when it should be seen, when it was, and marks by hand.

use crate::film::{FilmRequest, FilmStudy, Row};
use crate::request::{Requests, UiRequest};
use crate::widgets::fields::{heads, name_it};
use crate::widgets::theme::Palette;
use egui::accesskit::Role;
use egui::{RichText, Ui};
use letfall_core::filmed::FilmedReason;
use letfall_core::show::{Action, FadeShare, Label};
use letfall_film::measure::{Mark, SeenBy};
use letfall_film::page::{clock, reasons};

/// The cue that is chosen, by run and label.
pub type Chosen = Option<(usize, Label)>;

/// Shows them.
pub fn show(ui: &mut Ui, film: &FilmStudy, chosen: &mut Chosen, p: &Palette, requests: &mut Requests) {
    let Some(results) = film.results() else {
        ui.label("When the film lies against the song, its cues stand here.");
        return;
    };
    if results.rows.is_empty() {
        ui.label("The film covers no cue of this service.");
        return;
    }
    let several = results.rows.iter().any(|row| row.run > 0);
    egui::Grid::new("cues of the film").num_columns(5).spacing([12.0, 3.0]).striped(true).show(ui, |ui| {
        heads(ui, &["Cue", "Should be seen", "Seen", "Late", "Within"]);
        for row in &results.rows {
            let words = if several { format!("{} run {}", row.label, row.run + 1) } else { row.label.to_string() };
            let here = *chosen == Some((row.run, row.label));
            let button = ui.selectable_label(here, RichText::new(words).monospace());
            name_it(&button, Role::Button, &format!("Go to {} in run {}", row.label, row.run + 1));
            if button.clicked() {
                *chosen = Some((row.run, row.label));
                let seen = row.cue.as_ref().and_then(|cue| cue.seen.ok()).map(|seen| seen.at);
                requests.push(UiRequest::Film(FilmRequest::Show(seen.unwrap_or(row.planned))));
            }
            ui.label(clock(row.planned));
            told(ui, row, p);
            ui.end_row();
        }
    });
    for FilmedReason { cues, why } in reasons(results.rows.iter().filter_map(|row| row.cue.as_ref())) {
        ui.colored_label(p.quiet, format!("{cues}: {why}."));
    }
    if let Some(row) = chosen.and_then(|of| results.rows.iter().find(|row| (row.run, row.label) == of)) {
        by_hand(ui, film, row, requests);
    }
}

fn told(ui: &mut Ui, row: &Row, p: &Palette) {
    match row.cue.as_ref().map(|cue| cue.seen) {
        Some(Ok(seen)) => {
            ui.label(clock(seen.at));
            ui.label(format!("{:+.0} ms", seen.late * 1e3));
            let (words, more) = match seen.by {
                SeenBy::Hand => (", by hand", "A person has marked it.".to_owned()),
                SeenBy::Looking => {
                    ("", format!("It explains {:.0} % of what happens in its region.", seen.trust * 100.0))
                }
            };
            ui.colored_label(p.quiet, format!("{:.0} ms{words}", seen.within * 1e3)).on_hover_text(more);
        }
        Some(Err(_)) => {
            ui.label("not told");
            ui.label("");
            ui.label("");
        }
        None => {
            ui.colored_label(p.quiet, "not looked for");
            ui.label("");
            ui.label("");
        }
    }
}

/// Marks for the cue that is chosen.
fn by_hand(ui: &mut Ui, film: &FilmStudy, row: &Row, requests: &mut Requests) {
    let Some(results) = film.results() else { return };
    let Some(does) = results.plan.row(row.label).map(|of| &results.plan.cue(of).does) else { return };
    let stamp = film.close_up().at(film.at()).map(|picture| picture.at);
    let mut mark = |mark: Option<Mark>| requests.push(UiRequest::Film(FilmRequest::Mark(row.run, row.label, mark)));
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(format!("{} by hand:", row.label)).strong());
        if !matches!(does, Action::Release { .. }) {
            let words = match does {
                Action::Lighting { share: FadeShare::Half, .. } => "is half done in this picture",
                Action::Lighting { share: FadeShare::Done, .. } => "is done in this picture",
                _ => "is seen first in this picture",
            };
            if ui.add_enabled(stamp.is_some(), egui::Button::new(words)).clicked()
                && let Some(stamp) = stamp
            {
                mark(Some(Mark::Landed(stamp)));
            }
        }
        if ui.button("leave it out").clicked() {
            mark(Some(Mark::LeftOut));
        }
        if film.is_marked(row.run, row.label) && ui.button("take the mark back").clicked() {
            mark(None);
        }
    });
}

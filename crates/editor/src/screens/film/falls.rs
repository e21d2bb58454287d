//! The falls of fabrics: what the pictures propose, looked at and corrected picture by picture, and confirmed by a person.

use crate::film::{FilmRequest, FilmStudy, Row};
use crate::request::{Requests, UiRequest};
use crate::widgets::theme::{Palette, bold};
use egui::{FontId, RichText, Ui};
use letfall_core::show::{Action, Instant, Label};
use letfall_film::measure::{Mark, stamps_of};
use letfall_film::page::{clock, side_words};
use std::collections::BTreeMap;

/// The moments of a fall that a person has marked, as stamps of pictures: let-go, sightline, floor.
#[derive(Default)]
pub struct FallForm {
    marked: BTreeMap<(usize, Label), [Option<f64>; 3]>,
}

const MOMENTS: [(&str, &str); 3] = [("Let-go", "has moved"), ("Sightline", "is below it"), ("Floor", "is down")];

/// Shows them. Nothing is shown if the film covers no release.
pub fn show(ui: &mut Ui, film: &FilmStudy, form: &mut FallForm, p: &Palette, requests: &mut Requests) {
    let Some(results) = film.results() else { return };
    let is_release = |row: &&Row| {
        let cue = results.plan.row(row.label).map(|of| &results.plan.cue(of).does);
        matches!(cue, Some(Action::Release { .. }))
    };
    for row in results.rows.iter().filter(is_release) {
        one(ui, film, row, form, p, requests);
    }
}

fn one(ui: &mut Ui, film: &FilmStudy, row: &Row, form: &mut FallForm, p: &Palette, requests: &mut Requests) {
    let Some(results) = film.results() else { return };
    let of = (row.run, row.label);
    let fall = row.cue.as_ref().and_then(|cue| cue.seen.ok()).and_then(|seen| seen.fall);
    let stamp = film.close_up().at(film.at()).map(|picture| picture.at);
    ui.add_space(4.0);
    ui.label(RichText::new(format!("{} in run {}", row.label, row.run + 1)).font(FontId::new(15.0, bold())));
    let found = fall.map(|fall| [Some(fall.let_go), fall.sightline, Some(fall.floor)]);
    // Marks that were taken back do not come back.
    let counts = film.is_marked(row.run, row.label) || fall.is_none();
    let by_hand = form.marked.get(&of).copied().filter(|_| counts).unwrap_or_default();
    egui::Grid::new(("fall", row.run, row.label)).num_columns(3).spacing([10.0, 4.0]).show(ui, |ui| {
        for (number, (name, words)) in MOMENTS.into_iter().enumerate() {
            ui.label(name);
            match found.and_then(|found| found[number]).or(by_hand[number]) {
                Some(at) => {
                    let button = ui.button(clock(at)).on_hover_text("Go there");
                    let name = format!("Go to {} of {}", name.to_lowercase(), row.label);
                    button.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, &name));
                    if button.clicked() {
                        requests.push(UiRequest::Film(FilmRequest::Show(at)));
                    }
                }
                None => {
                    ui.colored_label(p.quiet, "not told");
                }
            }
            if ui.add_enabled(stamp.is_some(), egui::Button::new(format!("It {words} in this picture"))).clicked() {
                // What is not marked yet stays as it was found.
                let region = row.cue.as_ref().and_then(|cue| film.regions().regions.get(cue.region?));
                let slow = row.cue.as_ref().and_then(|cue| cue.seen.ok()).map_or(1.0, |seen| seen.slow);
                let filming = film.filming().slowed(slow);
                let stamps = fall.map(|fall| stamps_of(&fall, &filming, region, results.report.step));
                let mut marks = by_hand;
                for (mark, found) in marks.iter_mut().zip(stamps.unwrap_or_default()) {
                    *mark = mark.or(found);
                }
                marks[number] = stamp;
                form.marked.insert(of, marks);
                if let [Some(let_go), sightline, Some(floor)] = marks {
                    let mark = Mark::Fell { let_go, sightline, floor };
                    requests.push(UiRequest::Film(FilmRequest::Mark(row.run, row.label, Some(mark))));
                }
            }
            ui.end_row();
        }
    });
    let drops: Vec<_> = results.drops.iter().filter(|drop| (drop.run, drop.label) == of).collect();
    for drop in &drops {
        let side = match side_words(drop) {
            none if none.is_empty() => none,
            side => format!("; its {side}"),
        };
        ui.label(format!(
            "{}: {:.3} s to {}, within {:.0} ms{side}",
            drop.name,
            drop.seconds,
            if drop.to == Instant::Sightline { "the sightline" } else { "the floor" },
            drop.within * 1e3
        ));
    }
    if let Some(Err(why)) = row.cue.as_ref().map(|cue| cue.seen) {
        ui.colored_label(ui.visuals().warn_fg_color, format!("Not told: {why}."));
    }
    if !drops.is_empty() {
        let mut right = film.is_confirmed(row.run, row.label);
        let words = format!("I have gone through {} picture by picture, and it is right", row.label);
        if ui.checkbox(&mut right, words).clicked() {
            requests.push(UiRequest::Film(FilmRequest::Confirm(row.run, row.label, right)));
        }
    }
    if film.is_marked(row.run, row.label) && ui.button(format!("Take the marks of {} back", row.label)).clicked() {
        form.marked.remove(&of);
        requests.push(UiRequest::Film(FilmRequest::Mark(row.run, row.label, None)));
    }
}

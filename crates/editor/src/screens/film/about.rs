//! What is known of the film: where it lies against the song, and how it was made.

use crate::document::Document;
use crate::film::{ByHand, FilmRequest, FilmStudy, Opened, Placed};
use crate::jobs::FilePurpose;
use crate::request::{Requests, UiRequest};
use crate::widgets::fields::{Fields, name_it};
use crate::widgets::theme::Palette;
use egui::Ui;
use egui::accesskit::Role;
use letfall_core::limits::Limit;
use letfall_core::time::BarBeat;
use letfall_film::page::{clock, run_words};

/// From the loudspeaker to the camera.
const DISTANCE: Limit =
    Limit { field: "Filming.distance_m", what: "the distance", low: 0.0, high: 300.0, unit: "m", step: 0.5 };
/// From the first row of a picture to its last.
const ROLLING: Limit =
    Limit { field: "Filming.rolling", what: "the time from row to row", low: 0.0, high: 100.0, unit: "ms", step: 1.0 };

/// What is typed and not asked for yet.
pub struct AboutForm {
    place: String,
    slow: f64,
    sudden: bool,
}

impl Default for AboutForm {
    fn default() -> AboutForm {
        AboutForm { place: String::new(), slow: 1.0, sudden: false }
    }
}

/// Where it lies.
pub fn place(
    ui: &mut Ui,
    film: &FilmStudy,
    opened: &Opened,
    document: &Document,
    form: &mut AboutForm,
    requests: &mut Requests,
) {
    match &opened.placed {
        Placed::Sound(_) | Placed::Hand(_) => {
            let Ok(plan) = document.plan() else { return };
            for (number, run) in (1..).zip(opened.placed.runs()) {
                ui.label(run_words(&plan, run, number, opened.sound.begins));
            }
        }
        Placed::Nowhere(why) => {
            ui.colored_label(ui.visuals().warn_fg_color, why);
        }
    }
    let by_sound = document.guide_path().is_some() || document.current().is_some_and(|s| s.timecode.is_some());
    let can = !opened.sound.samples.is_empty() && by_sound;
    if !matches!(opened.placed, Placed::Sound(_)) && can && ui.button("Look for its place by its sound").clicked() {
        requests.push(UiRequest::Film(FilmRequest::PlaceBySound));
    }
    egui::CollapsingHeader::new("Place it by hand")
        .default_open(matches!(opened.placed, Placed::Nowhere(_)))
        .show(ui, |ui| by_hand(ui, film, opened, form, requests));
}

fn by_hand(ui: &mut Ui, film: &FilmStudy, opened: &Opened, form: &mut AboutForm, requests: &mut Requests) {
    ui.label("Go to a picture, or click on the sound, and say what of the song is heard there.");
    ui.horizontal(|ui| {
        let label = ui.label("Bar");
        let field = egui::TextEdit::singleline(&mut form.place).desired_width(90.0).hint_text("33 b2");
        ui.add(field).labelled_by(label.id);
        ui.label("plays");
        let combo = egui::ComboBox::from_id_salt("slow").width(150.0).selected_text(slow_words(form.slow));
        let shown = combo.show_ui(ui, |ui| {
            for slow in [1.0, 2.0, 4.0, 8.0] {
                ui.selectable_value(&mut form.slow, slow, slow_words(slow));
            }
        });
        name_it(&shown.response, Role::ComboBox, "How slow the film plays");
    });
    if !opened.sound.samples.is_empty() {
        ui.checkbox(&mut form.sudden, "A clap, a click or a drum is heard there");
    }
    if ui.button(format!("That is heard at {}", clock(film.at()))).clicked() {
        match form.place.trim().parse::<BarBeat>() {
            Ok(place) => requests.push(UiRequest::Film(FilmRequest::PlaceByHand(ByHand {
                place,
                slow: form.slow,
                sudden: form.sudden && !opened.sound.samples.is_empty(),
            }))),
            Err(why) => requests.fail(format!("“{}”: {why}", form.place.trim())),
        }
    }
}

const fn slow_words(slow: f64) -> &'static str {
    match slow {
        2.0 => "2 times slower",
        4.0 => "4 times slower",
        8.0 => "8 times slower",
        _ => "as fast as it was",
    }
}

/// How it was filmed.
pub fn filmed(
    ui: &mut Ui,
    film: &FilmStudy,
    opened: &Opened,
    document: &Document,
    p: &Palette,
    requests: &mut Requests,
) {
    let filming = film.filming();
    let (mut distance, mut rolling) = (filming.distance_m, filming.rolling * 1000.0);
    let mut fields = Fields::default();
    egui::Grid::new("filmed").num_columns(2).spacing([12.0, 6.0]).show(ui, |ui| {
        ui.label("Loudspeaker to phone");
        ui.horizontal(|ui| {
            let units = document.show.settings.units;
            fields.maybe_length(ui, &mut distance, (10.0, &DISTANCE), units, "Loudspeaker to phone");
            if distance.is_none() {
                ui.colored_label(p.quiet, "at the planned seat (assumed)");
            }
        });
        ui.end_row();
        ui.label("First row to last");
        ui.horizontal(|ui| {
            fields.number(ui, &mut rolling, &ROLLING, "First row to last");
            if rolling <= 0.0 {
                ui.colored_label(p.quiet, "all at once (assumed)");
            }
        });
        ui.end_row();
        ui.label("Sound after picture");
        ui.vertical(|ui| {
            let (late, within) = (filming.sound_late * 1e3, filming.sound_late_within * 1e3);
            let how = film.clap().map_or_else(
                || "assumed: a clap in view says more".to_owned(),
                |at| format!("by the clap at {}", clock(at)),
            );
            ui.label(format!("{late:.0} ms, within {within:.0} ms"));
            ui.colored_label(p.quiet, how);
        });
        ui.end_row();
    });
    if fields.done {
        if let Some(why) = fields.refused {
            requests.fail(why);
        }
        if (distance, rolling / 1000.0) != (filming.distance_m, filming.rolling) {
            requests.push(UiRequest::Film(FilmRequest::Filmed(distance, rolling / 1000.0)));
        }
    }
    ui.horizontal_wrapped(|ui| {
        let can = opened.has_pictures() && !opened.sound.samples.is_empty();
        if ui.add_enabled(can, egui::Button::new("Clapping hands meet in this picture")).clicked() {
            requests.push(UiRequest::Film(FilmRequest::Clap(true)));
        }
        if film.clap().is_some() && ui.button("Forget the clap").clicked() {
            requests.push(UiRequest::Film(FilmRequest::Clap(false)));
        }
        if ui.button("Log of the run…").clicked() {
            requests.push(UiRequest::File(FilePurpose::FilmLog));
        }
    });
    if !film.log().is_empty() {
        ui.label(format!("What was sent late by {} does not count as late of a device.", film.log()));
    }
}

//! What is seen where: the regions of the picture, by name, with what of the show is seen in each.

use crate::document::Document;
use crate::film::{FilmRequest, FilmStudy};
use crate::jobs::FilePurpose;
use crate::request::{Requests, UiRequest};
use crate::widgets::fields::{Fields, name_it};
use egui::accesskit::Role;
use egui::{Pos2, Ui, Vec2};
use letfall_core::limits::Limit;
use letfall_core::show::Show;
use letfall_film::picture::{Region, Regions};

/// How much of the region's height is above the sightline.
const SIGHTLINE: Limit =
    Limit { field: "Region.sightline", what: "the sightline", low: 0.0, high: 100.0, unit: "%", step: 1.0 };

/// What the pointer does on the picture.
#[derive(Debug, Clone, Copy)]
pub enum Gesture {
    /// Draws a new region from here.
    Draw(Pos2),
    /// Moves a region; from where the pointer took it to its corner.
    Move(Vec2),
    /// Makes it larger or smaller by its lower right corner.
    Size,
}

/// What is being done to the regions.
#[derive(Default)]
pub struct RegionForm {
    /// The region that is chosen, by its number.
    pub chosen: Option<usize>,
    /// What the pointer does on the picture.
    pub gesture: Option<Gesture>,
    /// A region that is being typed in, with its number.
    draft: Option<(usize, Region)>,
}

/// Names of the show that can be seen: receivers, outputs and fabrics, each once.
fn names(show: &Show) -> Vec<String> {
    let receivers = show.receivers.iter().map(|r| &r.name);
    let all = receivers.chain(show.outputs.iter().map(|o| &o.name)).chain(show.hangs.iter().map(|h| &h.name));
    let mut names: Vec<String> = Vec::new();
    for name in all {
        if !names.contains(name) {
            names.push(name.clone());
        }
    }
    names
}

/// Shows them.
pub fn show(ui: &mut Ui, film: &FilmStudy, document: &Document, form: &mut RegionForm, requests: &mut Requests) {
    let regions = film.regions();
    ui.label("Drag on the picture where something is seen, and say what. Its corner makes it larger or smaller.");
    proposals(ui, film, requests);
    for (number, region) in regions.regions.iter().enumerate() {
        let what = if region.shows.is_empty() { "shows nothing yet".to_owned() } else { region.shows.join(", ") };
        let words = format!("{}: {what}", region.name);
        let row = ui.add(egui::Button::selectable(form.chosen == Some(number), words).truncate());
        if row.clicked() {
            form.chosen = if form.chosen == Some(number) { None } else { Some(number) };
        }
    }
    if let Some(number) = form.chosen
        && let Some(region) = regions.regions.get(number)
    {
        if form.draft.as_ref().is_none_or(|(of, _)| *of != number) {
            form.draft = Some((number, region.clone()));
        }
        one(ui, regions, number, document, form, requests);
    } else {
        form.draft = None;
    }
    ui.horizontal_wrapped(|ui| {
        if ui.button("From a file…").clicked() {
            requests.push(UiRequest::File(FilePurpose::Regions));
        }
        if ui.add_enabled(!regions.regions.is_empty(), egui::Button::new("Keep in a file…")).clicked() {
            requests.push(UiRequest::File(FilePurpose::SaveRegions));
        }
    });
}

/// What is proposed; nothing counts before a person accepts it.
fn proposals(ui: &mut Ui, film: &FilmStudy, requests: &mut Requests) {
    let can = film.going_on().is_none() && film.opened().is_some_and(|opened| !opened.placed.runs().is_empty());
    let button = ui.add_enabled(can, egui::Button::new("Propose from what changes"));
    let button = button.on_hover_text("Looks where in the picture something changes whenever cues should be seen.");
    if button.on_disabled_hover_text("Say first where the film lies.").clicked() {
        requests.push(UiRequest::Film(FilmRequest::Propose));
    }
    for (number, region) in film.proposed().iter().enumerate() {
        ui.horizontal(|ui| {
            for (words, right) in [("Accept", true), ("Not this", false)] {
                let button = ui.button(words);
                name_it(&button, Role::Button, &format!("{words}: {}", region.name));
                if button.clicked() {
                    requests.push(UiRequest::Film(FilmRequest::Accept(number, right)));
                }
            }
            ui.add(egui::Label::new(format!("Proposed: {}", region.shows.join(", "))).truncate());
        });
    }
}

/// The region that is chosen.
fn one(
    ui: &mut Ui,
    regions: &Regions,
    number: usize,
    document: &Document,
    form: &mut RegionForm,
    requests: &mut Requests,
) {
    let Some((_, draft)) = &mut form.draft else { return };
    // Where it is belongs to the pointer.
    let now = &regions.regions[number];
    (draft.x, draft.y, draft.w, draft.h) = (now.x, now.y, now.w, now.h);
    let mut fields = Fields::default();
    let mut gone = false;
    egui::Frame::group(ui.style()).show(ui, |ui| {
        ui.horizontal(|ui| {
            ui.label("Name");
            fields.text(ui, &mut draft.name, 200.0, "Name of the region");
        });
        ui.horizontal_wrapped(|ui| {
            ui.label("In it is seen");
            for name in names(&document.show) {
                let mut there = draft.shows.contains(&name);
                fields.tick(ui, &mut there, &name, &format!("{name} is seen in it"));
                if there && !draft.shows.contains(&name) {
                    draft.shows.push(name);
                } else if !there {
                    draft.shows.retain(|shown| *shown != name);
                }
            }
        });
        if document.show.hangs.iter().any(|hang| draft.shows.contains(&hang.name)) {
            ui.horizontal(|ui| {
                ui.label("Sightline, from its top");
                let mut share = draft.sightline.map(|share| share * 100.0);
                fields.maybe(ui, &mut share, 75.0, &SIGHTLINE, "Sightline of the region");
                draft.sightline = share.map(|share| share / 100.0);
            });
            ui.label("The region of a fabric reaches from its bar to the floor, and no further to the sides.");
        }
        let button = ui.button("Take this region away");
        name_it(&button, Role::Button, "Take this region away");
        gone = button.clicked();
    });
    let mut after = regions.clone();
    if gone {
        after.regions.remove(number);
        form.chosen = None;
    } else if fields.done {
        if let Some(why) = fields.refused {
            requests.fail(why);
        }
        after.regions[number] = draft.clone();
    }
    if after != *regions {
        form.draft = None;
        requests.push(UiRequest::Film(FilmRequest::Regions(after)));
    }
}

//! The picture that is shown, with what is seen where drawn on it. Regions are drawn, moved and made larger with the pointer.

use super::regions::{Gesture, RegionForm};
use crate::film::{FilmRequest, FilmStudy, Opened};
use crate::request::{Requests, UiRequest};
use crate::widgets::fields::{free_name, name_it};
use crate::widgets::film_marks::Textures;
use crate::widgets::theme::Palette;
use egui::accesskit::Role;
use egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Sense, Stroke, Ui, vec2};
use letfall_film::picture::{Region, Regions};

/// How near to a corner the pointer takes it, points.
const NEAR: f32 = 10.0;
/// The least width and height of a region, as shares of the picture.
const LEAST: f64 = 0.03;

/// Shows it.
#[allow(clippy::too_many_arguments)] // each is one thing on the screen
pub fn show(
    ui: &mut Ui,
    height: f32,
    film: &FilmStudy,
    opened: &Opened,
    textures: &mut Textures,
    form: &mut RegionForm,
    p: &Palette,
    requests: &mut Requests,
) {
    let (space, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::click_and_drag());
    name_it(&response, Role::Image, "Picture of the film");
    let painter = ui.painter_at(space);
    painter.rect_filled(space, 0.0, p.hall);
    let words = |words: &str| {
        painter.text(space.center(), Align2::CENTER_CENTER, words, FontId::proportional(15.0), Color32::LIGHT_GRAY);
    };
    if !opened.has_pictures() {
        words("This is sound alone. What changed when is seen in a film.");
        return;
    }
    let shown = film.close_up().at(film.at());
    // Until the very picture is there, the nearest of the strip stands for it, and says so.
    let Some(picture) = shown.map(|picture| &**picture).or_else(|| nearest(opened, film.at())) else {
        words("Reading the pictures…");
        return;
    };
    let place = fitted(space, picture.wide, picture.high);
    let whole = Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0));
    let texture = if shown.is_some() {
        textures.large(ui.ctx(), picture)
    } else {
        let number = opened.strip.iter().position(|one| one.at.to_bits() == picture.at.to_bits()).unwrap_or(0);
        textures.small(ui.ctx(), number, picture)
    };
    painter.image(texture.id(), place, whole, Color32::WHITE);
    if shown.is_none() {
        let words = if film.close_up().is_coming() { "Reading this picture…" } else { "No picture here" };
        let at = place.left_top() + vec2(8.0, 8.0);
        let galley = painter.layout_no_wrap(words.to_owned(), FontId::proportional(14.0), Color32::WHITE);
        painter.rect_filled(Rect::from_min_size(at, galley.size()).expand(4.0), 2.0, Color32::from_black_alpha(200));
        painter.galley(at, galley, Color32::WHITE);
    }
    let mut regions = film.regions().clone();
    let done = drag(&response, place, &mut regions, form);
    film.proposed().iter().for_each(|region| proposal(&painter, place, region));
    for (number, region) in regions.regions.iter().enumerate() {
        outline(&painter, place, region, form.chosen == Some(number));
    }
    if done && regions != *film.regions() {
        requests.push(UiRequest::Film(FilmRequest::Regions(regions)));
    }
}

fn nearest(opened: &Opened, at: f64) -> Option<&letfall_film::open::Picture> {
    let next = opened.strip.partition_point(|picture| picture.at <= at);
    opened.strip.get(next.saturating_sub(1))
}

/// As large as it goes, in its own shape.
#[allow(clippy::cast_precision_loss)] // points of a picture
fn fitted(space: Rect, wide: usize, high: usize) -> Rect {
    let scale = (space.width() / wide as f32).min(space.height() / high as f32);
    Rect::from_center_size(space.center(), vec2(wide as f32 * scale, high as f32 * scale))
}

fn rect_of(place: Rect, region: &Region) -> Rect {
    let at = |x: f64, y: f64| place.min + vec2(points(x) * place.width(), points(y) * place.height());
    Rect::from_min_max(at(region.x, region.y), at(region.x + region.w, region.y + region.h))
}

#[allow(clippy::cast_possible_truncation)] // a share
const fn points(share: f64) -> f32 {
    share as f32
}

/// A place on the picture as shares of it.
fn share(place: Rect, at: Pos2) -> (f64, f64) {
    let x = f64::from((at.x - place.left()) / place.width().max(1.0));
    let y = f64::from((at.y - place.top()) / place.height().max(1.0));
    (x.clamp(0.0, 1.0), y.clamp(0.0, 1.0))
}

fn outline(painter: &Painter, place: Rect, region: &Region, chosen: bool) {
    let rect = rect_of(place, region);
    // Seen on any picture: dark under light.
    painter.rect_stroke(rect, 0.0, Stroke::new(4.0, Color32::from_black_alpha(180)), egui::StrokeKind::Middle);
    let light = if chosen { Color32::from_rgb(0xf0, 0xe4, 0x42) } else { Color32::WHITE };
    painter.rect_stroke(rect, 0.0, Stroke::new(if chosen { 2.5 } else { 1.5 }, light), egui::StrokeKind::Middle);
    label(painter, rect, region.name.clone());
    if let Some(sightline) = region.sightline {
        let y = rect.top() + points(sightline) * rect.height();
        let line = [Pos2::new(rect.left(), y), Pos2::new(rect.right(), y)];
        painter.add(egui::Shape::dashed_line(&line, Stroke::new(2.0, light), 7.0, 5.0));
    }
    if chosen {
        painter.rect_filled(Rect::from_center_size(rect.right_bottom(), vec2(9.0, 9.0)), 0.0, light);
    }
}

/// What is written in the corner of a region.
fn label(painter: &Painter, rect: Rect, words: String) {
    let galley = painter.layout_no_wrap(words, FontId::proportional(13.5), Color32::WHITE);
    let at = rect.left_top() + vec2(4.0, 3.0);
    painter.rect_filled(Rect::from_min_size(at, galley.size()).expand(2.0), 0.0, Color32::from_black_alpha(190));
    painter.galley(at, galley, Color32::WHITE);
}

/// A region that nobody has accepted yet: dashed.
fn proposal(painter: &Painter, place: Rect, region: &Region) {
    let rect = rect_of(place, region);
    let corners = [rect.left_top(), rect.right_top(), rect.right_bottom(), rect.left_bottom(), rect.left_top()];
    painter.rect_stroke(rect, 0.0, Stroke::new(4.0, Color32::from_black_alpha(180)), egui::StrokeKind::Middle);
    painter.extend(egui::Shape::dashed_line(&corners, Stroke::new(2.0, Color32::WHITE), 8.0, 6.0));
    label(painter, rect, format!("{}?", region.name));
}

/// What the pointer does to the regions. Returns whether it is done with it.
fn drag(response: &egui::Response, place: Rect, regions: &mut Regions, form: &mut RegionForm) -> bool {
    let Some(pointer) = response.interact_pointer_pos() else {
        form.gesture = None;
        return false;
    };
    let inside = |at: Pos2| regions.regions.iter().rposition(|region| rect_of(place, region).contains(at));
    if response.clicked() {
        form.chosen = inside(pointer);
        return false;
    }
    if response.drag_started() {
        // Where the button went down, and not where the hand was once it moved.
        let pointer = response.ctx.input(|i| i.pointer.press_origin()).unwrap_or(pointer);
        let corner = form.chosen.and_then(|at| regions.regions.get(at)).map(|region| rect_of(place, region).max);
        form.gesture = Some(if corner.is_some_and(|corner| corner.distance(pointer) < NEAR) {
            Gesture::Size
        } else if let Some(number) = inside(pointer) {
            form.chosen = Some(number);
            Gesture::Move(pointer - rect_of(place, &regions.regions[number]).min)
        } else {
            form.chosen = None;
            Gesture::Draw(pointer)
        });
    }
    let Some(gesture) = form.gesture else { return false };
    match gesture {
        Gesture::Draw(from) => {
            let (one, other) = (share(place, from), share(place, pointer));
            let (x, y) = (one.0.min(other.0), one.1.min(other.1));
            let (w, h) = ((one.0 - other.0).abs(), (one.1 - other.1).abs());
            // A slip of the hand draws nothing.
            if w >= LEAST && h >= LEAST {
                let name = free_name("Region", regions.regions.iter().map(|region| region.name.as_str()));
                regions.regions.push(Region { name, x, y, w, h, shows: Vec::new(), sightline: None });
                if response.drag_stopped() {
                    form.chosen = Some(regions.regions.len() - 1);
                }
            }
        }
        Gesture::Move(held) => {
            if let Some(region) = form.chosen.and_then(|at| regions.regions.get_mut(at)) {
                let (x, y) = share(place, pointer - held);
                (region.x, region.y) = (x.min(1.0 - region.w), y.min(1.0 - region.h));
            }
        }
        Gesture::Size => {
            if let Some(region) = form.chosen.and_then(|at| regions.regions.get_mut(at)) {
                let (x, y) = share(place, pointer);
                (region.w, region.h) = ((x - region.x).max(LEAST), (y - region.y).max(LEAST));
                (region.w, region.h) = (region.w.min(1.0 - region.x), region.h.min(1.0 - region.y));
            }
        }
    }
    response.drag_stopped()
}

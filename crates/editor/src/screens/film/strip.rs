//! The whole film as a strip: some of its pictures, each where it was filmed, its sound beneath them, and every cue.

use super::axis::Axis;
use crate::film::{FilmRequest, FilmStudy, Opened};
use crate::request::{Requests, UiRequest};
use crate::widgets::fields::name_it;
use crate::widgets::film_marks::Textures;
use crate::widgets::theme::Palette;
use crate::widgets::waveform::waveform;
use egui::accesskit::Role;
use egui::{Pos2, Rect, Sense, Stroke, Ui, vec2};

/// Height of the pictures and of the sound, points.
const PICTURES: f32 = 54.0;
const SOUND: f32 = 40.0;
/// Height of the whole strip, points.
pub const HEIGHT: f32 = PICTURES + SOUND + 10.0;

/// Shows it. A click goes there.
pub fn show(
    ui: &mut Ui,
    film: &FilmStudy,
    opened: &Opened,
    textures: &mut Textures,
    p: &Palette,
    requests: &mut Requests,
) {
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::click_and_drag());
    name_it(&response, Role::Slider, "The whole film");
    let axis = Axis { rect, from: 0.0, to: opened.length.max(0.1) };
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, p.ground);
    let pictures = Rect::from_min_size(rect.min, vec2(rect.width(), PICTURES));
    let mut free = rect.left();
    for (number, picture) in opened.strip.iter().enumerate() {
        let x = axis.x(picture.at);
        // A picture stands where it was filmed, or not at all: between them lies what is not shown.
        if x < free - 0.5 {
            continue;
        }
        let texture = textures.small(ui.ctx(), number, picture);
        let width = PICTURES * texture.aspect_ratio();
        let place = Rect::from_min_size(Pos2::new(x, pictures.top()), vec2(width, PICTURES));
        painter.image(texture.id(), place, Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0)), egui::Color32::WHITE);
        free = x + width + 1.0;
    }
    let sound = Rect::from_min_max(Pos2::new(rect.left(), pictures.bottom() + 4.0), rect.right_bottom());
    waveform(&painter, sound, 1.0, p, |from, to| opened.loudness(axis.time(from), axis.time(to)));
    for run in opened.placed.runs() {
        let begins = opened.sound.begins;
        let from = axis.x((run.from + begins).max(0.0)).max(rect.left());
        let to = axis.x((run.to + begins).min(opened.length)).min(rect.right());
        let bar = Rect::from_min_max(Pos2::new(from, sound.top()), Pos2::new(to.max(from + 2.0), sound.top() + 3.0));
        painter.rect_filled(bar, 0.0, p.chosen);
    }
    Axis { rect: sound, ..axis }.marks(&painter, film, false, p);
    axis.here(&painter, film.at(), p);
    painter.rect_stroke(rect, 0.0, Stroke::new(1.0, p.hair), egui::StrokeKind::Inside);
    if let Some(pointer) = response.interact_pointer_pos()
        && (response.clicked() || response.dragged())
    {
        requests.push(UiRequest::Film(FilmRequest::Show(axis.time(pointer.x).max(0.0))));
    }
}

//! The second around the picture that is shown: its sound, every picture as a tick, and where each cue should be seen and was.

use super::axis::Axis;
use crate::film::{FilmRequest, FilmStudy, Opened};
use crate::request::{Requests, UiRequest};
use crate::widgets::fields::name_it;
use crate::widgets::theme::Palette;
use crate::widgets::waveform::waveform;
use egui::accesskit::Role;
use egui::{Pos2, Rect, Sense, Stroke, Ui, vec2};

/// Its height, points.
pub const HEIGHT: f32 = 92.0;
/// How much it shows on each side, seconds.
const SIDE: f64 = 0.7;

/// Shows it. A click goes there.
pub fn show(ui: &mut Ui, film: &FilmStudy, opened: &Opened, p: &Palette, requests: &mut Requests) {
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::click());
    name_it(&response, Role::Slider, "The second around this picture");
    let axis = Axis { rect, from: film.at() - SIDE, to: film.at() + SIDE };
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, p.ground);
    let sound = Rect::from_min_max(rect.min + vec2(0.0, 22.0), rect.max - vec2(0.0, 14.0));
    waveform(&painter, sound, 0.0, p, |from, to| opened.samples_between(axis.time(from), axis.time(to)));
    for at in film.close_up().stamps().filter(|at| axis.has(*at)) {
        let x = axis.x(at);
        painter
            .line_segment([Pos2::new(x, rect.top() + 14.0), Pos2::new(x, rect.top() + 21.0)], Stroke::new(1.0, p.text));
    }
    axis.marks(&painter, film, true, p);
    axis.here(&painter, film.at(), p);
    painter.rect_stroke(rect, 0.0, Stroke::new(1.0, p.hair), egui::StrokeKind::Inside);
    if response.clicked()
        && let Some(pointer) = response.interact_pointer_pos()
    {
        requests.push(UiRequest::Film(FilmRequest::Show(axis.time(pointer.x).max(0.0))));
    }
}

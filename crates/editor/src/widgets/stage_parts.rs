//! What pictures of the stage are drawn with, from the front and from a seat alike: surfaces, light, people.

use super::theme::Palette;
use egui::{Align2, Color32, CornerRadius, FontId, Mesh, Painter, Pos2, Rect, Shape, Stroke, StrokeKind};
use letfall_core::prepared::Prepared;
use letfall_core::show::{Carries, Show};
use letfall_core::stage::is_lit;
use letfall_core::time::SongTime;

/// The colour of words on a lit surface.
pub const SURFACE_INK: Color32 = Color32::BLACK;

/// A surface for pictures.
pub fn surface(painter: &Painter, rect: Rect, lit: bool) {
    let fill = if lit { Color32::from_rgb(0xcf, 0xe3, 0xe6) } else { Color32::from_gray(38) };
    painter.rect(rect, 1.0, fill, Stroke::new(1.0, Color32::from_gray(130)), StrokeKind::Inside);
}

/// Where the picture of a projector falls that is still on after its fabric has dropped: it shines on whoever stands behind, so it is hard
/// to miss.
pub fn spill(painter: &Painter, rect: Rect, p: &Palette) {
    painter.rect_filled(rect, 0.0, Color32::from_rgb(255, 250, 220).gamma_multiply(0.25));
    painter.rect_stroke(rect, 0.0, Stroke::new(2.0, p.alarm), StrokeKind::Outside);
}

/// A light's colour, red, green and blue from 0 to 255.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 to 255
pub fn colour(rgb: [f64; 3]) -> Color32 {
    let [r, g, b] = rgb.map(|part| part.min(255.0) as u8);
    Color32::from_rgb(r, g, b)
}

/// Light from above: nothing along a line at the top, its full colour along one at the foot. Each line is given by its left and right end.
pub fn wash(painter: &Painter, top: [Pos2; 2], foot: [Pos2; 2], colour: Color32) {
    let mut mesh = Mesh::default();
    for (at, colour) in
        [(top[0], Color32::TRANSPARENT), (top[1], Color32::TRANSPARENT), (foot[1], colour), (foot[0], colour)]
    {
        mesh.colored_vertex(at, colour);
    }
    mesh.add_triangle(0, 1, 2);
    mesh.add_triangle(0, 2, 3);
    painter.add(Shape::mesh(mesh));
}

/// Half the width of a body, where there is so much room for one person, in points or metres.
pub const fn half_body(room: f64) -> f64 {
    room * 0.42
}

/// Somebody: a head, and a body with round shoulders and a straight hem.
pub fn person(painter: &Painter, head: Pos2, radius: f32, body: Rect, fill: Color32, line: Stroke) {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // at most 60
    let round = (body.width() * 0.4).clamp(0.0, 60.0) as u8;
    let round = CornerRadius { nw: round, ne: round, sw: 0, se: 0 };
    painter.rect(body, round, fill, line, StrokeKind::Inside);
    painter.circle(head, radius, fill, line);
}

/// Says that the picture is the plan's, ending at a place.
pub fn as_planned(painter: &Painter, right: Pos2) {
    let (font, ink) = (FontId::proportional(13.0), Color32::from_gray(190));
    painter.text(right, Align2::RIGHT_CENTER, "as planned, at the playhead", font, ink);
}

/// What an output shows at an instant, in words; `None` if it is blank.
pub fn picture_on(plan: &Prepared, at: SongTime, output: usize) -> Option<String> {
    let route = plan.stage().showing_at(output, at).and_then(|showing| showing.route);
    is_lit(plan.show(), route).then(|| picture_words(plan.show(), plan, at, route))
}

/// What an output's route shows at a given time.
fn picture_words(show: &Show, plan: &Prepared, at: SongTime, route: Option<usize>) -> String {
    let Some(route) = route.map(|r| &show.routes[r]) else { return "a route that is not there".to_owned() };
    match &route.carries {
        Carries::Blank {} => String::new(),
        Carries::Still {} => route.name.clone(),
        Carries::Layer(layer) => {
            let playing = plan
                .stage()
                .playing
                .iter()
                .rev()
                .find(|m| show.media[m.item].layer == *layer && m.from <= at && at < m.until);
            playing.map_or_else(|| format!("nothing plays on layer {layer}"), |m| show.media[m.item].name.clone())
        }
    }
}

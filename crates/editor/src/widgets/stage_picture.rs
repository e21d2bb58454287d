//! The stage at the playhead, seen from the audience: fabric up, falling or down, what each output shows, the light.

use super::points::points;
use super::stage_parts::{SURFACE_INK, as_planned, colour, picture_on, spill, surface, wash};
use super::stage_shadows;
use super::theme::{Palette, bold};
use egui::{Align2, Color32, FontId, Pos2, Rect, Shape, Stroke, vec2};
use letfall_core::prepared::Prepared;
use letfall_core::reveal::fallen;
use letfall_core::show::{Hang, Output, OutputKey, Show, Surface};
use letfall_core::stage::{Falling, Light};
use letfall_core::time::{SongSpan, SongTime};

/// Heights in points: the line of words at the top of the picture, and the name above each surface.
const PLANNED_LINE: f32 = 18.0;
const NAME_LINE: f32 = 27.0;

/// Draws the picture into `rect`, and returns in words what it shows.
pub fn draw(ui: &mut egui::Ui, rect: Rect, plan: &Prepared, at: SongTime, p: &Palette) -> String {
    let show = plan.show();
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 2.0, p.hall);
    let mut said = Vec::new();
    let floor = rect.bottom() - 27.0;
    let lights = plan.stage().lights_at(show, at);
    let taken = light(&painter, rect, floor, show, &lights, &mut said);
    painter.line_segment(
        [Pos2::new(rect.left(), floor), Pos2::new(rect.right(), floor)],
        Stroke::new(1.5, Color32::from_gray(110)),
    );
    let count = show.outputs.len().max(1);
    let tallest = show.outputs.iter().map(|o| extent(show, o).top).fold(4.0, f64::max);
    let metre = (floor - rect.top() - PLANNED_LINE - NAME_LINE).max(10.0) / points(tallest);
    let slot = rect.width() / points(count as f64);
    for output in 0..show.outputs.len() {
        let middle = rect.left() + slot * (points(output as f64) + 0.5);
        let place = Place { middle, floor, metre, width: slot * 0.8 };
        said.push(draw_output(&painter, &place, plan, at, &lights, output, p));
    }
    as_planned(&painter, rect.right_top() + vec2(-8.0, 2.0 + PLANNED_LINE / 2.0));
    said.extend(handovers(&painter, rect, taken, plan, at, p));
    said.retain(|s| !s.is_empty());
    said.join("; ")
}

/// A handover close to the playhead: from which output to which, and how far away it is. Close means two seconds either side,
/// our own figure.
fn handovers(
    painter: &egui::Painter,
    rect: Rect,
    taken: f32,
    plan: &Prepared,
    at: SongTime,
    p: &Palette,
) -> Option<String> {
    let near = SongSpan::from_millis(2000);
    let words = plan.service().handovers.iter().find_map(|handover| {
        let lands: Vec<SongTime> = handover.cues.iter().filter_map(|l| Some(plan.row(*l)?.land)).collect();
        let (first, last) = (*lands.iter().min()?, *lands.iter().max()?);
        if at < first - near || last + near < at {
            return None;
        }
        let name = |key: &OutputKey| plan.show().output(key).map_or_else(|| key.to_string(), |o| o.name.clone());
        let [leaves, arrives] = [lands.first()?, lands.get(1)?].map(|land| {
            let by = (*land - at).secs_f64();
            if by > 0.0 { format!("in {by:.1} s") } else { "done".to_owned() }
        });
        Some(format!("handover: leaves {} {leaves}, arrives on {} {arrives}", name(&handover.from), name(&handover.to)))
    })?;
    let galley = painter.layout_no_wrap(words.clone(), FontId::new(14.0, bold()), Color32::WHITE);
    // Beside the words about the light if both fit, otherwise above them on a background of its own.
    let beside = galley.size().x + 28.0 < rect.right() - taken;
    let bottom = rect.right_bottom() - vec2(10.0, if beside { 4.0 } else { 32.0 });
    let place = Rect::from_min_max(bottom - galley.size(), bottom);
    if !beside {
        painter.rect_filled(place.expand2(vec2(6.0, 2.0)), 2.0, Color32::BLACK);
    }
    painter.galley(place.min, galley, Color32::WHITE);
    painter.rect_stroke(rect.shrink(1.0), 2.0, Stroke::new(2.0, p.chosen), egui::StrokeKind::Inside);
    Some(words)
}

struct Place {
    middle: f32,
    floor: f32,
    metre: f32,
    width: f32,
}

/// Draws the light of each track as a wash of its colour, as strong as its level, and names each below the floor. Returns where the
/// names end.
fn light(
    painter: &egui::Painter,
    rect: Rect,
    floor: f32,
    show: &Show,
    lights: &[Light],
    said: &mut Vec<String>,
) -> f32 {
    let mut left = rect.left() + 10.0;
    for light in lights {
        let colour = colour(light.colour);
        let strength = points(light.level);
        let narrower = vec2(rect.width() * 0.12, 0.0);
        let top = [rect.left_top() + narrower, rect.right_top() - narrower];
        let foot = [Pos2::new(rect.left(), floor), Pos2::new(rect.right(), floor)];
        wash(painter, top, foot, colour.gamma_multiply(strength * 0.42));
        let whose = light.slot.track.map_or_else(
            || show.receivers[light.slot.receiver].name.as_str(),
            |track| show.tracks[track].name.as_str(),
        );
        let words = format!("{whose}: {}, {:.0} %", show.presets[light.preset].name, light.level * 100.0);
        let set = |words: String| painter.layout_no_wrap(words, FontId::proportional(13.0), Color32::from_gray(225));
        let fits = |galley: &std::sync::Arc<egui::Galley>| left + 53.0 + galley.size().x < rect.right() - 8.0;
        // A bar and its words. Where there is little room, the track and its level alone.
        let whole = set(words.clone());
        let galley = if fits(&whole) { whole } else { set(format!("{whose} {:.0} %", light.level * 100.0)) };
        if fits(&galley) {
            let bar = Rect::from_min_size(Pos2::new(left, rect.bottom() - 17.0), vec2(46.0, 9.0));
            painter.rect_stroke(bar, 1.0, Stroke::new(1.0, Color32::from_gray(150)), egui::StrokeKind::Inside);
            let filled = Rect::from_min_size(bar.min, vec2(bar.width() * strength, bar.height()));
            painter.rect_filled(filled, 1.0, colour);
            let corner = bar.right_center() + vec2(7.0, -galley.size().y / 2.0);
            left = corner.x + galley.size().x + 18.0;
            painter.galley(corner, galley, Color32::from_gray(225));
        }
        said.push(words);
    }
    left
}

/// The size of a surface and the height of its top above the floor, in metres.
struct Extent {
    width: f64,
    height: f64,
    top: f64,
}

fn hang_of<'a>(show: &'a Show, output: &Output) -> Option<&'a Hang> {
    match &output.surface {
        Surface::Fabric(key) => show.hang(key),
        Surface::Screen {} => None,
    }
}

/// A hang has its own size. A screen is as large as its projection, one metre above the floor, or has a typical size if that is
/// unknown.
fn extent(show: &Show, output: &Output) -> Extent {
    if let Some(hang) = hang_of(show, output) {
        return Extent { width: hang.width_m, height: hang.drop_m, top: hang.top_m };
    }
    output.projection.as_ref().map_or(Extent { width: 5.0, height: 2.8, top: 4.2 }, |p| Extent {
        width: p.width_m,
        height: p.height_m,
        top: p.height_m + 1.0,
    })
}

fn draw_output(
    painter: &egui::Painter,
    place: &Place,
    plan: &Prepared,
    at: SongTime,
    lights: &[Light],
    output: usize,
    p: &Palette,
) -> String {
    let show = plan.show();
    let facts = &show.outputs[output];
    let picture = picture_on(plan, at, output);
    let lit = picture.is_some();
    let picture = picture.unwrap_or_default();
    let hang = hang_of(show, facts);
    let extent = extent(show, facts);
    let width = (points(extent.width) * place.metre).min(place.width);
    let height = points(extent.height) * place.metre;
    let top = place.floor - points(extent.top) * place.metre;
    let whole = Rect::from_min_size(Pos2::new(place.middle - width / 2.0, top), vec2(width, height));
    let fall = plan.stage().fall_of(show, output);
    let mut hanging = None;
    let state = match (hang, fall) {
        (Some(hang), Some(fall)) => {
            let (state, cloth) = draw_fabric(painter, place, whole, hang, fall, at, lit);
            hanging = cloth;
            state
        }
        (Some(_), None) => {
            surface(painter, whole, lit);
            hanging = Some(whole);
            "up"
        }
        (None, _) => {
            surface(painter, whole, lit);
            ""
        }
    };
    let cast = hang.zip(hanging).map_or_else(Vec::new, |(hang, cloth)| {
        let index = show.hangs.iter().position(|one| one.key == hang.key).unwrap_or(0);
        let room = show.room.as_ref().and_then(|room| Some((room, room.fabric(&hang.key)?)));
        let (across, floor_m) =
            room.map_or((0.0, 0.0), |(room, at)| (at.across_m, room.floor_at(at.across_m, at.deep_m)));
        let scale = (whole.width() / points(hang.width_m), place.metre);
        let to = stage_shadows::OnScreen { middle: place.middle, across, floor: place.floor, floor_m, scale };
        stage_shadows::draw(painter, cloth, &to, plan, lights, index)
    });
    let spills = lit && state == "down";
    if spills {
        spill(painter, whole, p);
    }
    let words = match (lit, spills, state) {
        (_, true, _) => format!("{picture} falls on the people behind"),
        (true, ..) => picture,
        (false, _, "down") => String::new(),
        (false, ..) => "blank".to_owned(),
    };
    let ink = if lit && !spills { SURFACE_INK } else { Color32::from_gray(215) };
    if !words.is_empty() {
        let font = FontId::proportional(13.5);
        let galley = painter.layout(words.clone(), font, ink, (whole.width() - 10.0).max(60.0));
        let at = whole.center() - galley.size() / 2.0;
        painter.galley(at, galley, ink);
    }
    let name = if state.is_empty() { facts.name.clone() } else { format!("{}: {state}", facts.name) };
    painter.text(
        Pos2::new(place.middle, top - 5.0),
        Align2::CENTER_BOTTOM,
        &name,
        FontId::new(13.0, bold()),
        Color32::from_gray(235),
    );
    let cast = if cast.is_empty() { String::new() } else { format!(", shadows of {}", cast.join(" and ")) };
    format!("{name}{}{words}{cast}", if words.is_empty() { "" } else { ", " })
}

fn draw_fabric(
    painter: &egui::Painter,
    place: &Place,
    whole: Rect,
    hang: &Hang,
    fall: &Falling,
    at: SongTime,
    lit: bool,
) -> (&'static str, Option<Rect>) {
    let secs = (at - fall.let_go).secs_f64();
    let [expected, least, most] = fallen(hang, fall.to_floor, secs);
    let sight = place.floor - points(hang.sightline_m) * place.metre;
    let dashes = Shape::dashed_line(
        &[Pos2::new(whole.left() - 12.0, sight), Pos2::new(whole.right() + 12.0, sight)],
        Stroke::new(1.0, Color32::from_gray(150)),
        4.0,
        4.0,
    );
    painter.extend(dashes);
    if secs <= 0.0 {
        surface(painter, whole, lit);
        return ("up", Some(whole));
    }
    let edge = |fallen: f64| whole.top() + points(fallen) * place.metre;
    let down = place.floor - edge(expected);
    if down <= 2.0 {
        // The fabric lies in a heap on the floor.
        let heap =
            Rect::from_min_max(Pos2::new(whole.left(), place.floor - 7.0), Pos2::new(whole.right(), place.floor));
        painter.rect_filled(heap, 4.0, Color32::from_gray(120));
        return ("down", None);
    }
    let range = Rect::from_min_max(Pos2::new(whole.left(), edge(least)), Pos2::new(whole.right(), edge(most)));
    painter.rect_filled(range, 0.0, Color32::from_gray(120).gamma_multiply(0.5));
    let bottom = (edge(expected) + whole.height()).min(place.floor);
    let cloth = Rect::from_min_max(Pos2::new(whole.left(), edge(expected)), Pos2::new(whole.right(), bottom));
    surface(painter, cloth, lit);
    ("falling", Some(cloth))
}

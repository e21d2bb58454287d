//! What a seat sees at the playhead: what stands there by the room's geometry, with what the plan shows on it at that instant: pictures,
//! light in its colours, shadows on the fabric. Nearer things cover what is behind them.

use super::on_screen::View;
use crate::widgets::points::points;
use crate::widgets::stage_parts::{
    SURFACE_INK, as_planned, colour, half_body, person, picture_on, spill, surface, wash,
};
use crate::widgets::stage_shadows::{self, OnScreen};
use crate::widgets::theme::{Palette, bold};
use egui::{Color32, FontId, Painter, Pos2, Rect, Shape as Drawn, Stroke, vec2};
use letfall_core::prepared::Prepared;
use letfall_core::reveal::fallen;
use letfall_core::room::drawing::{Drawing, Draws, Shape, Thing, view_from};
use letfall_core::room::sight::{Eye, fabric_pane};
use letfall_core::room::solid::Pane;
use letfall_core::show::room::Room;
use letfall_core::show::{Hang, Surface};
use letfall_core::stage::Light;
use letfall_core::time::SongTime;

/// How far a fabric's edge has fallen at an instant, metres. Where a hang falls more than once, the newest fall counts.
pub(super) fn fallen_at(plan: &Prepared, at: SongTime, hang: &Hang) -> f64 {
    let begun = plan.stage().falls_of(plan.show(), &hang.key).filter(|fall| fall.let_go <= at).last();
    begun.map_or(0.0, |fall| fallen(hang, fall.to_floor, (at - fall.let_go).secs_f64())[0])
}

/// The shapes that an eye has before it at an instant.
pub(super) fn seen(plan: &Prepared, eye: &Eye, at: SongTime) -> Option<Drawing> {
    view_from(plan.show(), eye, |hang| fallen_at(plan, at, hang))
}

/// One instant, looked at from one seat.
pub(super) struct Instant<'a> {
    pub plan: &'a Prepared,
    pub room: &'a Room,
    pub eye: &'a Eye,
    pub at: SongTime,
    pub view: &'a View,
    pub p: &'a Palette,
}

impl Instant<'_> {
    /// Paints it, from far to near. Returns in words what is seen.
    pub fn paint(&self, painter: &Painter, rect: Rect, made: &Drawing) -> String {
        let clip = self.view.frame(made).intersect(rect);
        painter.rect_filled(rect, 2.0, self.p.hall);
        let painter = painter.with_clip_rect(clip);
        let lights = self.plan.stage().lights_at(self.plan.show(), self.at);
        let mut said = Vec::new();
        let mut names = Vec::new();
        for shape in &made.shapes {
            let all: Vec<Pos2> = shape.points.iter().map(|point| self.view.onto(*point)).collect();
            let around = Rect::from_points(&all);
            match (shape.draws, shape.thing) {
                (Draws::Fabric, Some(Thing::Fabric(index))) => {
                    said.push(self.fabric(&painter, around, index, &lights, &mut names));
                }
                (Draws::Screen, Some(Thing::Screen(index))) => {
                    said.push(self.screen(&painter, around, index, &mut names));
                }
                (Draws::Performer, _) => people(&painter, around, dark_look(shape, &lights)),
                (Draws::Stage, _) => {
                    painter.add(Drawn::convex_polygon(all, Color32::from_gray(34), Stroke::NONE));
                    Self::washes(&painter, around, &lights);
                }
                _ => {
                    let (fill, line) = dark_look(shape, &lights);
                    painter.add(Drawn::convex_polygon(all, fill, Stroke::new(1.0, line)));
                }
            }
        }
        said.extend(self.spills(&painter, &mut names));
        for (place, words) in names {
            label(&painter, place, &words);
        }
        as_planned(&painter, clip.right_top() + vec2(-8.0, 10.0));
        said.extend(lights.iter().map(|light| self.light_words(light)));
        self.legend(&painter, clip, &lights);
        said.retain(|words| !words.is_empty());
        said.join("; ")
    }

    fn light_words(&self, light: &Light) -> String {
        format!("{}, {:.0} %", self.plan.show().presets[light.preset].name, light.level * 100.0)
    }

    /// The name of each light that is up, in a row at the foot.
    fn legend(&self, painter: &Painter, clip: Rect, lights: &[Light]) {
        let mut left = clip.left() + 10.0;
        for light in lights.iter().filter(|light| light.level > 0.0) {
            let words =
                painter.layout_no_wrap(self.light_words(light), FontId::proportional(13.0), Color32::from_gray(225));
            if left + 20.0 + words.size().x > clip.right() {
                break;
            }
            let middle = clip.bottom() - 12.0;
            painter.circle(
                Pos2::new(left + 5.0, middle),
                5.0,
                colour(light.colour),
                Stroke::new(1.0, Color32::from_gray(150)),
            );
            let corner = Pos2::new(left + 14.0, middle - words.size().y / 2.0);
            left = corner.x + words.size().x + 16.0;
            painter.rect_filled(
                Rect::from_min_size(corner, words.size()).expand2(vec2(3.0, 1.0)),
                2.0,
                Color32::from_black_alpha(150),
            );
            painter.galley(corner, words, Color32::from_gray(225));
        }
    }

    /// Light that falls on the stage from before: from the ceiling down, stronger towards the floor.
    fn washes(painter: &Painter, stage: Rect, lights: &[Light]) {
        for light in lights.iter().filter(|light| light.behind.is_empty() && light.level > 0.0) {
            let above = stage.top() - stage.width() * 0.45;
            let aside = stage.width() * 0.15;
            let top = [Pos2::new(stage.left() + aside, above), Pos2::new(stage.right() - aside, above)];
            let foot = [stage.left_bottom(), stage.right_bottom()];
            wash(painter, top, foot, colour(light.colour).gamma_multiply(points(0.42 * light.level)));
        }
    }

    fn fabric(
        &self,
        painter: &Painter,
        cloth: Rect,
        index: usize,
        lights: &[Light],
        names: &mut Vec<(Pos2, String)>,
    ) -> String {
        let show = self.plan.show();
        let place = &self.room.fabrics[index];
        let Some((hang, spot)) = show.hangs.iter().zip(0..).find(|(hang, _)| hang.key == place.hang) else {
            return String::new();
        };
        let pictures: Vec<String> = self.on(&hang.key).collect();
        surface(painter, cloth, !pictures.is_empty());
        let pane = fabric_pane(self.room, hang, place);
        let floor_m = self.room.floor_at(place.across_m, place.deep_m);
        let scale = points(self.view.scale / (place.deep_m - self.eye.at.deep));
        let foot = self.onto(&pane, pane.middle().across, floor_m);
        let to = OnScreen { middle: foot.x, across: place.across_m, floor: foot.y, floor_m, scale: (scale, scale) };
        let shadows = stage_shadows::draw(painter, cloth, &to, self.plan, lights, spot);
        written(painter, cloth, &pictures.join(", "));
        // The cloth hides the names of what is behind it too.
        names.retain(|(at, _): &(Pos2, String)| !cloth.contains(*at));
        names.push((cloth.center_top(), hang.name.clone()));
        let picture = if pictures.is_empty() { "blank".to_owned() } else { pictures.join(", ") };
        let mut words = vec![format!("{}: {picture}", hang.name)];
        if !shadows.is_empty() {
            words.push(format!("shadows of {}", shadows.join(" and ")));
        }
        words.join(", ")
    }

    fn screen(&self, painter: &Painter, face: Rect, index: usize, names: &mut Vec<(Pos2, String)>) -> String {
        let show = self.plan.show();
        let key = &self.room.screens[index].output;
        let Some(output) = show.outputs.iter().position(|output| output.key == *key) else { return String::new() };
        let picture = picture_on(self.plan, self.at, output);
        surface(painter, face, picture.is_some());
        let name = &show.outputs[output].name;
        names.push((face.center_top(), name.clone()));
        let words = picture.unwrap_or_default();
        written(painter, face, &words);
        format!("{name}: {}", if words.is_empty() { "blank" } else { &words })
    }

    /// What the outputs on a fabric show.
    fn on<'s>(&'s self, hang: &'s letfall_core::show::HangKey) -> impl Iterator<Item = String> + 's {
        let outputs = self.plan.show().outputs.iter().enumerate();
        let here = outputs.filter(move |(_, output)| matches!(&output.surface, Surface::Fabric(key) if *key == *hang));
        here.filter_map(|(output, _)| picture_on(self.plan, self.at, output))
    }

    /// Pictures of projectors that are still on when their fabric lies on the floor.
    fn spills(&self, painter: &Painter, names: &mut Vec<(Pos2, String)>) -> Vec<String> {
        let show = self.plan.show();
        let mut said = Vec::new();
        for place in &self.room.fabrics {
            let Some(hang) = show.hang(&place.hang) else { continue };
            let pane = fabric_pane(self.room, hang, place);
            let falls = hang.kind == letfall_core::show::FallKind::Falls;
            if !falls || fallen_at(self.plan, self.at, hang) + 0.1 < hang.top_m {
                continue;
            }
            for picture in self.on(&hang.key) {
                let [from, to] = [(pane.left, pane.high), (pane.right, pane.low)].map(|(x, y)| self.onto(&pane, x, y));
                let beam = Rect::from_two_pos(from, to);
                spill(painter, beam, self.p);
                let words = format!("{picture} falls on the people behind");
                names.push((beam.center_top(), words.clone()));
                said.push(words);
            }
        }
        said
    }

    fn onto(&self, pane: &Pane, across: f64, high: f64) -> Pos2 {
        let away = (pane.deep - self.eye.at.deep).max(0.2);
        self.view.onto([(across - self.eye.at.across) / away, -(high - self.eye.at.high) / away])
    }
}

/// Fill and line of what is no surface for pictures, in a dark hall: people take the colour of the light that falls on them.
fn dark_look(shape: &Shape, lights: &[Light]) -> (Color32, Color32) {
    match shape.draws {
        Draws::Performer => {
            let mut all = [40.0f64; 3];
            for light in lights.iter().filter(|light| light.behind.is_empty()) {
                all = [0, 1, 2].map(|part| all[part] + light.colour[part] * light.level * 0.7);
            }
            (colour(all), Color32::from_gray(120))
        }
        Draws::Wall => (Color32::from_gray(14), Color32::from_gray(40)),
        Draws::Row => (Color32::BLACK, Color32::from_gray(60)),
        _ => (Color32::from_gray(22), Color32::from_gray(85)),
    }
}

/// People as heads and shoulders, side by side where they take up more room than one.
fn people(painter: &Painter, all: Rect, (fill, line): (Color32, Color32)) {
    // Half a metre for a person of 1.7 m: common practice, no source.
    let each = (all.height() * 0.32).max(1.0);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 1 to 12
    let count = (all.width() / each).round().clamp(1.0, 12.0) as u8;
    let wide = all.width() / f32::from(count);
    let head = (all.height() * 0.065).min(wide * 0.4);
    for number in 0..count {
        let middle = all.left() + wide * (f32::from(number) + 0.5);
        let half = points(half_body(f64::from(wide)));
        let body = Rect::from_min_max(
            Pos2::new(middle - half, all.top() + head * 2.3),
            Pos2::new(middle + half, all.bottom()),
        );
        person(painter, Pos2::new(middle, all.top() + head), head, body, fill, Stroke::new(1.0, line));
    }
}

/// The name of the picture on a surface.
fn written(painter: &Painter, on: Rect, words: &str) {
    if words.is_empty() || on.width() < 40.0 || on.height() < 16.0 {
        return;
    }
    let galley = painter.layout(words.to_owned(), FontId::proportional(13.5), SURFACE_INK, on.width() - 8.0);
    painter.with_clip_rect(painter.clip_rect().intersect(on)).galley(
        on.center() - galley.size() / 2.0,
        galley,
        SURFACE_INK,
    );
}

/// A name above a surface, on a ground of its own.
fn label(painter: &Painter, above: Pos2, words: &str) {
    let ink = Color32::from_gray(235);
    let galley = painter.layout_no_wrap(words.to_owned(), FontId::new(13.0, bold()), ink);
    let size = galley.size();
    let clip = painter.clip_rect();
    let x = (above.x - size.x / 2.0).clamp(clip.left() + 4.0, (clip.right() - size.x - 4.0).max(clip.left() + 4.0));
    let y = (above.y - size.y - 3.0).max(clip.top() + 2.0);
    let place = Rect::from_min_size(Pos2::new(x, y), size);
    painter.rect_filled(place.expand2(vec2(3.0, 1.0)), 2.0, Color32::from_black_alpha(150));
    painter.galley(place.min, galley, ink);
}

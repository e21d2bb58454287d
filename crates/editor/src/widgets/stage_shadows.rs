//! What lamps behind a fabric put on it: their glow, and the shadows of whoever stands between, at their size and softness, as the room
//! gives them.

use super::points::points;
use super::stage_parts::{colour, half_body, person};
use egui::{Color32, Painter, Pos2, Rect, Stroke};
use letfall_core::prepared::Prepared;
use letfall_core::room::ShadowFigures;
use letfall_core::show::Show;
use letfall_core::stage::Light;

/// A person is about so wide, metres: a wider performer is drawn as several side by side. Common practice, no source.
const PERSON_M: f64 = 0.55;
/// Radius of a head, metres, and how far the shoulders are below its top. Common practice, no source.
const HEAD_M: f64 = 0.11;
const SHOULDERS_M: f64 = 0.28;
/// In so many steps an edge fades out.
const STEPS: u8 = 12;
/// How dark the middle of a shadow is against the glow round it, if its lamp is the only one.
const DARK: f64 = 0.9;

/// From metres across and high to points on the screen.
pub struct OnScreen {
    /// Where the fabric's middle is.
    pub middle: f32,
    /// Metres across of that place in the room.
    pub across: f64,
    /// Where the floor beneath it is.
    pub floor: f32,
    /// Metres above the floor of the hall of that floor.
    pub floor_m: f64,
    /// Points for a metre across, and up.
    pub scale: (f32, f32),
}

impl OnScreen {
    fn at(&self, across: f64, high: f64) -> Pos2 {
        Pos2::new(
            self.middle + points(across - self.across) * self.scale.0,
            self.floor - points(high - self.floor_m) * self.scale.1,
        )
    }
}

/// How strongly lights shine on a hang from behind, and in which colour, 0 to 255.
pub fn glow(lights: &[Light], hang: usize) -> Option<([f64; 3], f64)> {
    let of = |light: &Light| light.behind.iter().filter(|part| part.hang == hang).map(|part| part.level).sum::<f64>();
    let brightest = lights.iter().map(|light| (light, of(light))).max_by(|a, b| a.1.total_cmp(&b.1))?;
    (brightest.1 > 0.0).then_some((brightest.0.colour, brightest.1.min(1.0)))
}

/// How strongly a lamp shines: with its own preset, or with each that lights the fabric from behind.
fn strength(show: &Show, lights: &[Light], hang: usize, lamp: &str) -> f64 {
    let Some(lamp) = show.room.as_ref().and_then(|room| room.lamps.iter().find(|one| one.name == lamp)) else {
        return 0.0;
    };
    let shines = |light: &&Light| lamp.preset.as_ref().is_none_or(|key| show.presets[light.preset].key == *key);
    let parts = lights.iter().filter(shines).flat_map(|light| &light.behind).filter(|part| part.hang == hang);
    parts.map(|part| part.level).sum::<f64>().min(1.0)
}

/// Draws glow and shadows on the part of a fabric that hangs at an instant, under the lights of that instant. Returns whose shadows are seen.
pub fn draw(
    painter: &Painter,
    cloth: Rect,
    to: &OnScreen,
    plan: &Prepared,
    lights: &[Light],
    hang: usize,
) -> Vec<String> {
    let show = plan.show();
    let Some((rgb, level)) = glow(lights, hang) else { return Vec::new() };
    painter.rect_filled(cloth, 1.0, colour(rgb).gamma_multiply(points(level * 0.55)));
    let Some(room) = plan.prepared_show().room() else { return Vec::new() };
    let inside = painter.with_clip_rect(painter.clip_rect().intersect(cloth));
    let key = &show.hangs[hang].key;
    let mut seen = Vec::new();
    let shining: Vec<(&ShadowFigures, f64)> = room
        .shadows
        .iter()
        .filter(|shadow| shadow.hang == *key)
        .map(|shadow| (shadow, strength(show, lights, hang, &shadow.lamp)))
        .filter(|(_, strength)| *strength > 0.0)
        .collect();
    let all: f64 = room_strength(&shining);
    for (shadow, strength) in &shining {
        // Another lamp fills a shadow with its own light.
        silhouette(&inside, to, shadow, DARK * strength / all.max(1e-6) * level.min(1.0));
        if !seen.contains(&shadow.performer) {
            seen.push(shadow.performer.clone());
        }
    }
    seen
}

/// The strengths of all lamps that throw shadows here, each once.
fn room_strength(shining: &[(&ShadowFigures, f64)]) -> f64 {
    let mut lamps: Vec<(&str, f64)> =
        shining.iter().map(|(shadow, strength)| (shadow.lamp.as_str(), *strength)).collect();
    lamps.sort_by(|a, b| a.0.cmp(b.0));
    lamps.dedup_by(|a, b| a.0 == b.0);
    lamps.iter().map(|(_, strength)| strength).sum()
}

/// One performer's shadow, its edge fading out over its width.
fn silhouette(painter: &Painter, to: &OnScreen, shadow: &ShadowFigures, dark: f64) {
    let figure = &shadow.shadow;
    let people = libm::round(figure.width_m / figure.times / PERSON_M).clamp(1.0, 12.0);
    let wide = figure.width_m / people;
    // Layers over one another, each as dark as makes all of them so dark together.
    let each = 1.0 - libm::pow(1.0 - dark.clamp(0.0, 0.98), 1.0 / f64::from(STEPS));
    let ink = Color32::BLACK.gamma_multiply(points(each));
    for step in 0..STEPS {
        let out = figure.edge_m * (f64::from(step) / f64::from(STEPS - 1) - 0.5);
        let mut left = figure.across - figure.width_m / 2.0;
        while left < figure.across + figure.width_m / 2.0 - 1e-9 {
            let middle = left + wide / 2.0;
            let head = to.at(middle, figure.top - HEAD_M * figure.times);
            let radius = points((HEAD_M * figure.times + out).max(0.0)) * to.scale.1;
            let shoulders = figure.top - SHOULDERS_M * figure.times + out;
            let half = (half_body(wide) + out).max(0.0);
            let body = Rect::from_two_pos(to.at(middle - half, shoulders), to.at(middle + half, figure.feet - out));
            person(painter, head, radius, body, ink, Stroke::NONE);
            left += wide;
        }
    }
}

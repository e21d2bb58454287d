//! The strip under the waveform: pictures of a film that lies against the song, each where it was filmed. And on each cue a mark where it
//! was seen.

use super::View;
use super::bodies::Drawn;
use crate::film::{FilmStudy, Opened};
use crate::widgets::fields::name_it;
use crate::widgets::film_marks::{Textures, seen_mark};
use crate::widgets::theme::Palette;
use egui::accesskit::Role;
use egui::{Color32, Pos2, Rect, Sense, Stroke, Ui, vec2};
use letfall_core::show::Label;
use letfall_core::time::{SongTime, round};
use std::collections::{BTreeMap, BTreeSet};

/// Its height, points.
pub const HEIGHT: f32 = 44.0;

/// What the score shows of a film.
pub struct FilmStrip<'a> {
    /// The film, and everything that is known of it.
    pub film: &'a FilmStudy,
    /// The pictures as they were drawn before.
    pub textures: &'a mut Textures,
}

impl<'a> FilmStrip<'a> {
    /// The film of the service on screen, if it is open and lies against its song.
    pub fn of(film: &'a FilmStudy, service: &str, textures: &'a mut Textures) -> Option<FilmStrip<'a>> {
        let opened = film.opened()?;
        let there = film.service() == service && opened.has_pictures() && !opened.placed.runs().is_empty();
        there.then_some(FilmStrip { film, textures })
    }

    /// Draws the pictures. Where several runs show the same place of the song, the first is drawn.
    pub fn draw(&mut self, ui: &Ui, strip: Rect, view: &View, p: &Palette) {
        let Some(opened) = self.film.opened() else { return };
        let response = ui.interact(strip, ui.scope_id().with("film"), Sense::hover());
        name_it(&response, Role::Image, "Film under the song");
        let painter = ui.painter_at(strip);
        painter.rect_filled(strip, 0.0, p.hall);
        let mut free = f32::NEG_INFINITY;
        for (song, number) in places(self.film, opened) {
            let x = strip.left() + view.x_of(SongTime::saturating(round::nearest(song * 1e6)));
            let picture = &opened.strip[number];
            #[allow(clippy::cast_precision_loss)] // points of a picture
            let width = HEIGHT * picture.wide as f32 / picture.high as f32;
            if x < free || x > strip.right() || x + width < strip.left() {
                continue;
            }
            let texture = self.textures.small(ui.ctx(), number, picture);
            let place = Rect::from_min_size(Pos2::new(x, strip.top()), vec2(width, HEIGHT));
            painter.image(texture.id(), place, Rect::from_min_max(Pos2::ZERO, Pos2::new(1.0, 1.0)), Color32::WHITE);
            free = x + width + 1.0;
        }
        painter.line_segment([strip.left_bottom(), strip.right_bottom()], Stroke::new(1.0, p.line));
    }

    /// On each cue that was seen: a line from where it lands to where it was seen, and a triangle there.
    pub fn marks(&self, ui: &Ui, canvas: Rect, view: &View, drawn: &[Drawn], p: &Palette) {
        let Some(results) = self.film.results() else { return };
        let painter = ui.painter_at(canvas);
        let bodies: BTreeMap<Label, Rect> = drawn.iter().map(|drawn| (drawn.label, drawn.rect)).collect();
        // Of several runs the first.
        let mut done = BTreeSet::new();
        for row in &results.rows {
            let Some(seen) = row.cue.as_ref().and_then(|cue| cue.seen.ok()) else { continue };
            let Some(body) = bodies.get(&row.label) else { continue };
            let Some(land) = results.plan.row(row.label).map(|row| row.land) else { continue };
            if !done.insert(row.label) {
                continue;
            }
            let late = SongTime::saturating(land.micros() + round::nearest(seen.late * 1e6));
            let (from, to) = (canvas.left() + view.x_of(land), canvas.left() + view.x_of(late));
            let y = body.bottom() - 5.0;
            painter.line_segment([Pos2::new(from, y), Pos2::new(to, y)], Stroke::new(3.0, p.ground));
            painter.line_segment([Pos2::new(from, y), Pos2::new(to, y)], Stroke::new(1.5, p.text));
            seen_mark(&painter, Pos2::new(to, y), p);
        }
    }
}

/// Where pictures lie in the song, seconds, with their numbers, in order.
fn places(film: &FilmStudy, opened: &Opened) -> Vec<(f64, usize)> {
    let first = opened.placed.runs().first();
    let own = |at: f64| film.run_at(at) == first;
    let pictures = opened.strip.iter().enumerate().filter(|(_, picture)| own(picture.at));
    let mut places: Vec<(f64, usize)> =
        pictures.filter_map(|(number, picture)| Some((film.song_at(picture.at)?, number))).collect();
    places.sort_by(|a, b| a.0.total_cmp(&b.0));
    places
}

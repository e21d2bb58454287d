//! The drawing: plan, section or the view from a seat. Things are dragged in it, in steps; Alt leaves the steps out.

use super::instant::{self, Instant};
use super::on_screen::View;
use super::place::{in_steps, place_of, put};
use crate::document::Document;
use crate::widgets::fields::{Fields, name_it};
use crate::widgets::points::points;
use crate::widgets::theme::{Palette, Theme, bold};
use egui::accesskit::Role;
use egui::{Color32, FontId, Pos2, Rect, Sense, Shape as Drawn, Stroke, Ui, vec2};
use letfall_core::prepared::Prepared;
use letfall_core::room::drawing::{Drawing, Draws, Look, Shape, Thing, drawing, view_from};
use letfall_core::room::labels::place_labels;
use letfall_core::room::sight::{Eye, block_eyes, eye_at, named_eyes};
use letfall_core::room::{across, length};
use letfall_core::show::room::{Room, Spot};
use letfall_core::show::{Show, Units};
use letfall_core::time::SongTime;

/// Steps in which things are dragged: 5 cm, or 2 inches.
const fn step(units: Units) -> f64 {
    match units {
        Units::Metric => 0.05,
        Units::Imperial => 0.0508,
    }
}

/// From where the room is looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
enum From {
    Drawn(Look),
    Seat(String),
}

/// What becomes of the fabrics in a view from a seat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fabric {
    Up,
    AtPlayhead,
    Fallen,
}

struct Drag {
    thing: Thing,
    from: Spot,
    grabbed: Pos2,
}

/// How the drawing is looked at.
pub struct Canvas {
    from: From,
    fabric: Fabric,
    chosen: Option<Thing>,
    drag: Option<Drag>,
}

impl Default for Canvas {
    fn default() -> Canvas {
        Canvas { from: From::Drawn(Look::PlanTurned), fabric: Fabric::Up, chosen: None, drag: None }
    }
}

impl Canvas {
    /// Shows it. What is dragged is changed in the draft, and committed when it is let go.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, draft: &mut Show, theme: Theme, fields: &mut Fields) {
        self.bar(ui, draft);
        let seat = match (&self.from, &draft.room) {
            (From::Seat(name), Some(room)) => eye_at(room, name),
            _ => None,
        };
        let seat = seat.as_ref();
        if seat.is_none() && matches!(self.from, From::Seat(_)) {
            // The seat is gone.
            self.from = From::Drawn(Look::PlanTurned);
        }
        if let (Some(eye), Fabric::AtPlayhead, Ok(plan)) = (seat, self.fabric, document.plan()) {
            Canvas::at_playhead(ui, &plan, eye, document.playhead, &theme.palette());
            return;
        }
        let (made, look) = match (&self.from, seat) {
            (_, Some(eye)) => (view_from(draft, eye, |_| fallen_by(self.fabric)), None),
            (From::Drawn(look), _) => (drawing(draft, *look), Some(*look)),
            (From::Seat(_), None) => (drawing(draft, Look::PlanTurned), Some(Look::PlanTurned)),
        };
        let Some(made) = made else { return };
        let (rect, response) = ui.allocate_exact_size(ui.available_size(), Sense::click_and_drag());
        let name = match (&look, seat) {
            (Some(Look::Plan | Look::PlanTurned), _) => "Plan of the room".to_owned(),
            (Some(Look::Section), _) => "Section of the room".to_owned(),
            (None, seat) => format!("View from {}", seat.map_or("", |eye| eye.seat.as_str())),
        };
        name_it(&response, Role::Image, &name);
        let view = View::of(&made, rect.shrink(6.0));
        let p = theme.palette();
        paint(ui, rect, &view, &made, self.chosen, look.is_none(), &p);
        let Some(look) = look else { return };
        self.drag(ui, &response, &view, &made, look, draft, fields);
    }

    /// What a seat sees at the playhead.
    fn at_playhead(ui: &mut Ui, plan: &Prepared, eye: &Eye, at: SongTime, p: &Palette) {
        let (rect, response) = ui.allocate_exact_size(ui.available_size(), Sense::hover());
        let (Some(made), Some(room)) = (instant::seen(plan, eye, at), &plan.show().room) else { return };
        let view = View::of(&made, rect.shrink(6.0));
        let seen = Instant { plan, room, eye, at, view: &view, p };
        let words = seen.paint(&ui.painter_at(rect), rect, &made);
        name_it(&response, Role::Image, &format!("View from {} at the playhead: {words}", eye.seat));
    }

    /// The choice of how to look, and where the chosen thing is.
    fn bar(&mut self, ui: &mut Ui, draft: &Show) {
        ui.horizontal_wrapped(|ui| {
            for (look, words) in [(Look::PlanTurned, "Plan"), (Look::Section, "Section")] {
                let text = egui::RichText::new(words).font(FontId::new(15.0, bold()));
                if ui.selectable_label(self.from == From::Drawn(look), text).clicked() {
                    self.from = From::Drawn(look);
                }
            }
            ui.label("seen from");
            let shown = match &self.from {
                From::Seat(name) => name.as_str(),
                From::Drawn(_) => "no seat",
            };
            let combo = egui::ComboBox::from_id_salt("seat").selected_text(shown).width(200.0).show_ui(ui, |ui| {
                let Some(room) = &draft.room else { return };
                for seat in &room.seats {
                    ui.selectable_value(&mut self.from, From::Seat(seat.name.clone()), &seat.name);
                }
                if !room.blocks.is_empty() {
                    ui.label("any other: double-click it in the plan");
                }
            });
            name_it(&combo.response, Role::ComboBox, "Seat to look from");
            if matches!(self.from, From::Seat(_)) {
                for (fabric, words) in
                    [(Fabric::Up, "fabric up"), (Fabric::AtPlayhead, "at the playhead"), (Fabric::Fallen, "fallen")]
                {
                    let choice = ui.radio_value(&mut self.fabric, fabric, words);
                    name_it(&choice, Role::RadioButton, &format!("View with the fabric: {words}"));
                }
            } else {
                ui.label(self.readout(draft));
            }
        });
    }

    /// Where the chosen thing is.
    fn readout(&self, draft: &Show) -> String {
        let units = draft.settings.units;
        let found = self.chosen.and_then(|thing| Some((thing, place_of(draft.room.as_ref()?, thing)?)));
        let Some((thing, at)) = found else {
            return "drag to move; double-click a seat to look from it".to_owned();
        };
        let high = match thing {
            Thing::Fabric(_) | Thing::Block(_) | Thing::Performer(_) | Thing::Free(_) => String::new(),
            Thing::Bar(_) => format!(", trim {}", length(at.high, units)),
            _ => format!(", {} high", length(at.high, units)),
        };
        format!("{}, {} deep{high}", across(at.across, units), length(at.deep, units))
    }

    #[allow(clippy::too_many_arguments)]
    fn drag(
        &mut self,
        ui: &Ui,
        response: &egui::Response,
        view: &View,
        made: &Drawing,
        look: Look,
        draft: &mut Show,
        fields: &mut Fields,
    ) {
        let units = draft.settings.units;
        let Some(room) = draft.room.as_mut() else { return };
        if let Some(at) = response.interact_pointer_pos().filter(|_| response.clicked()) {
            self.chosen = view.thing_at(made, at);
        }
        if let Some(at) = response.interact_pointer_pos().filter(|_| response.double_clicked() && look.is_plan()) {
            let there = look.moved(Spot { across: 0.0, deep: 0.0, high: 0.0 }, view.back(at));
            if let Some(seat) = nearest_seat(room, there) {
                self.from = From::Seat(seat);
            }
        }
        let pressed = ui.input(|i| i.pointer.press_origin());
        if let Some(at) = pressed.filter(|_| response.drag_started()) {
            self.chosen = view.thing_at(made, at);
            self.drag = self.chosen.and_then(|thing| Some(Drag { thing, from: place_of(room, thing)?, grabbed: at }));
        }
        if let (Some(drag), Some(at)) = (&self.drag, response.interact_pointer_pos().filter(|_| response.dragged())) {
            let by = [f64::from(at.x - drag.grabbed.x) / view.scale, f64::from(at.y - drag.grabbed.y) / view.scale];
            let free = look.moved(drag.from, by);
            let to = if ui.input(|i| i.modifiers.alt) { free } else { in_steps(drag.from, free, step(units)) };
            put(room, drag.thing, to);
        }
        if response.drag_stopped() && self.drag.take().is_some() {
            fields.done = true;
        }
    }
}

/// How far a fabric has fallen in a view that takes no heed of the playhead, metres.
const fn fallen_by(fabric: Fabric) -> f64 {
    match fabric {
        // Without a plan nothing falls at the playhead.
        Fabric::Up | Fabric::AtPlayhead => 0.0,
        Fabric::Fallen => f64::INFINITY,
    }
}

/// The seat nearest to a place of the plan, within a metre.
fn nearest_seat(room: &Room, at: Spot) -> Option<String> {
    let away = |eye: &Eye| (eye.at.across - at.across).hypot(eye.at.deep - at.deep);
    let near = named_eyes(room).into_iter().chain(block_eyes(room)).filter(|eye| away(eye) <= 1.0);
    near.min_by(|a, b| away(a).total_cmp(&away(b))).map(|eye| eye.seat)
}

/// Fill and line of a kind of thing.
fn looks(draws: Draws, p: &Palette, seen: bool) -> (Color32, Stroke) {
    let line = |width: f32| Stroke::new(width, p.text);
    let quiet = |width: f32| Stroke::new(width, p.quiet);
    let none = Color32::TRANSPARENT;
    let green = Color32::from_rgb(0x00, 0x9e, 0x73);
    let blue = Color32::from_rgb(0x00, 0x72, 0xb2);
    let vermilion = Color32::from_rgb(0xd5, 0x5e, 0x00);
    let orange = Color32::from_rgb(0xe6, 0x9f, 0x00);
    match draws {
        Draws::Wall => (if seen { p.row } else { none }, line(1.5)),
        Draws::Stage => (p.hair, quiet(1.0)),
        Draws::Free | Draws::Beam | Draws::Sight => (none, quiet(1.0)),
        Draws::Row => (p.panel, quiet(0.8)),
        Draws::Keep => (none, Stroke::new(1.0, vermilion)),
        Draws::Obstacle => (p.line, quiet(1.0)),
        Draws::Bar => (p.text, line(1.0)),
        Draws::Point => (vermilion, line(0.8)),
        Draws::Screen => (blue, Stroke::new(2.0, blue)),
        Draws::Fabric => (green, Stroke::new(2.0, green)),
        Draws::Lamp => (orange, line(0.8)),
        Draws::Performer => (p.quiet, Stroke::new(1.0, p.ground)),
        Draws::Projector => (blue, line(1.0)),
        Draws::Seat => (p.ground, line(2.0)),
        Draws::Dimension => (none, line(0.8)),
    }
}

fn paint(ui: &Ui, rect: Rect, view: &View, made: &Drawing, chosen: Option<Thing>, seen: bool, p: &Palette) {
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 2.0, p.ground);
    let clip = view.frame(made);
    let painter = if seen { painter.with_clip_rect(clip.intersect(rect)) } else { painter };
    for shape in &made.shapes {
        let (fill, mut stroke) = looks(shape.draws, p, seen);
        let all: Vec<Pos2> = shape.points.iter().map(|point| view.onto(*point)).collect();
        if chosen.is_some() && shape.thing == chosen {
            stroke = Stroke::new(2.5, p.chosen);
        }
        let dashed = matches!(shape.draws, Draws::Free | Draws::Beam | Draws::Keep);
        if dashed {
            let mut round = all.clone();
            round.extend(all.first());
            painter.extend(Drawn::dashed_line(&round, stroke, 4.0, 4.0));
        } else if shape.closed {
            painter.add(Drawn::convex_polygon(all, fill, stroke));
        } else {
            painter.add(Drawn::line(all.clone(), stroke));
            if shape.draws == Draws::Dimension {
                for end in all {
                    painter.line_segment([end + vec2(-4.0, 4.0), end + vec2(4.0, -4.0)], Stroke::new(1.2, p.text));
                }
            }
        }
    }
    names(&painter, view, made, clip, seen, p);
}

/// Names, none over another; the tables have all.
fn names(painter: &egui::Painter, view: &View, made: &Drawing, clip: Rect, seen: bool, p: &Palette) {
    let on_screen: Vec<Shape> = made
        .shapes
        .iter()
        .map(|shape| {
            let all = shape.points.iter().map(|point| view.onto(*point)).map(|at| [f64::from(at.x), f64::from(at.y)]);
            Shape { points: all.collect(), ..shape.clone() }
        })
        .collect();
    let frame = [clip.left(), clip.top(), clip.right(), clip.bottom()].map(f64::from);
    let set = |shape: &Shape| painter.layout_no_wrap(shape.label.clone(), FontId::proportional(13.0), p.text);
    let size = |shape: &Shape| {
        let size = set(shape).size();
        [f64::from(size.x), f64::from(size.y)]
    };
    for (at, [x, y]) in place_labels(&on_screen, frame, 4.0, size) {
        let galley = set(&on_screen[at]);
        let place = Rect::from_min_size(Pos2::new(points(x), points(y)), galley.size());
        let under = if seen { p.ground.gamma_multiply(0.8) } else { p.ground };
        painter.rect_filled(place.expand2(vec2(2.0, 0.0)), 2.0, under);
        painter.galley(place.min, galley, p.text);
    }
}

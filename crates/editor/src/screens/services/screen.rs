//! The Services screen itself: services side by side, and their differences in words.

use super::carry::Carry;
use super::differences::Differences;
use super::facts::Facts;
use super::lane::{All, Lanes};
use super::lane_picture::{LanePicture, pick};
use crate::document::Document;
use crate::request::{Requests, UiRequest};
use crate::widgets::theme::{Palette, Theme, bold};
use egui::{Align2, FontId, Pos2, Rect, Sense, Stroke, Ui, vec2};
use letfall_core::edit::Match;
use letfall_core::show::{Label, Service};
use letfall_core::time::SongTime;

/// The screen's state.
#[derive(Default)]
pub struct Services {
    carry: Carry,
    carried: Vec<String>,
    lanes: Lanes,
    facts: Facts,
    differences: Differences,
    touch: Touch,
}

/// What the pointer is doing on the lanes.
#[derive(Default)]
struct Touch {
    /// Where the user started to draw a selection box.
    boxed: Option<Pos2>,
    /// The cue that is being dragged to another row.
    dragged: Option<Label>,
}

impl Services {
    /// Discards input that was not committed.
    pub fn forget_draft(&mut self) {
        self.facts.forget_draft();
    }

    /// Shows what was carried.
    pub fn set_carried(&mut self, lines: Vec<String>) {
        self.carried = lines;
    }

    /// Shows the screen.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, theme: Theme, requests: &mut Requests) {
        coming_and_going(ui, document, requests);
        if !document.show.services.is_empty() {
            self.facts.show(ui, document, requests);
            self.carry.show(ui, document, requests);
        }
        ui.separator();
        let matching = self.carry.matching;
        let lanes = self.lanes.of(ui.ctx(), document, matching);
        if let Some((label, to)) = draw(ui, document, lanes, &mut self.touch, (matching, theme), requests) {
            let selected = document.selected();
            let labels = if selected.contains(&label) { selected } else { vec![label] };
            self.carry.carry(document, &labels, &[to], requests);
        }
        ui.separator();
        egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            for line in &self.carried {
                ui.label(line);
            }
            self.differences.show(ui, document, lanes, matching, requests);
        });
    }
}

fn coming_and_going(ui: &mut Ui, document: &Document, requests: &mut Requests) {
    if document.show.services.is_empty() {
        ui.label("This show has no service yet: no performance to plan for.");
    }
    ui.horizontal(|ui| {
        if ui.button("New service").clicked() {
            requests.push(UiRequest::AddService);
        }
        ui.label("takes the song of the service on screen, and no cues.");
        // What takes something away stands far from what adds.
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            if let Some(service) = document.current() {
                let words = format!("Remove {} and its {} cues", service.name, service.cues.len());
                if ui.button(words).clicked() {
                    requests.push(UiRequest::RemoveService(service.name.clone()));
                }
            }
        });
    });
}

/// Draws one lane per service. Returns a cue that was dropped on another service's lane, and the name of that service.
fn draw(
    ui: &mut Ui,
    document: &Document,
    lanes: &All,
    touch: &mut Touch,
    (matching, theme): (Match, Theme),
    requests: &mut Requests,
) -> Option<(Label, String)> {
    let mut dropped = None;
    let pointer = ui.input(|i| i.pointer.latest_pos());
    let p = theme.palette();
    let services = &document.show.services;
    #[allow(clippy::cast_precision_loss)] // points on a screen
    let height = (ui.available_height() * 0.6 / services.len().max(1) as f32).clamp(60.0, 150.0);
    let here = document.current();
    let own = lanes.get(document.service).and_then(Option::as_ref);
    let mut rows = Vec::new();
    let end = here.zip(own).map_or(SongTime::ZERO, |(here, lane)| lane.grid.bar_time(here.song.end_bar()));
    for (at, service) in services.iter().enumerate() {
        let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::click_and_drag());
        let chosen = at == document.service;
        let role = egui::accesskit::Role::ListItem;
        response.widget_info(|| egui::WidgetInfo::selected(role, true, chosen, format!("Service {}", service.name)));
        let painter = ui.painter_at(rect);
        painter.rect_filled(rect, 0.0, if chosen { p.hair } else { p.ground });
        let left = name(&painter, rect, service, &p);
        let canvas = Rect::from_min_max(Pos2::new(left, rect.top() + 3.0), rect.max - vec2(8.0, 3.0));
        let mut touched = None;
        match lanes.get(at) {
            Some(Some(lane)) => {
                let selection = chosen.then_some(&document.selection);
                let picture = LanePicture { matching, here, end, theme, selection };
                let marks = picture.draw(&painter, canvas, service, lane);
                if chosen {
                    let pressed = response.drag_started().then(|| ui.input(|i| i.pointer.press_origin())).flatten();
                    let hit = pressed.and_then(|at| marks.iter().find(|m| m.1.expand(3.0).contains(at)));
                    touch.dragged = hit.map(|mark| mark.0).or(touch.dragged);
                    if touch.dragged.is_none() {
                        touched = pick(&response, &mut touch.boxed, &marks, &painter, &p);
                    } else if response.drag_stopped() {
                        dropped = touch.dragged.take();
                    }
                }
            }
            Some(None) => {
                let font = FontId::proportional(14.0);
                painter.text(canvas.left_center(), Align2::LEFT_CENTER, "its grid cannot be built", font, p.alarm);
            }
            // It is still being computed.
            None => {}
        }
        painter.line_segment([rect.left_bottom(), rect.right_bottom()], Stroke::new(1.0, p.hair));
        if let Some(label) = touch.dragged
            && !chosen
            && pointer.is_some_and(|at| rect.contains(at))
        {
            painter.rect_stroke(rect.shrink(1.0), 3.0, Stroke::new(2.5, p.chosen), egui::StrokeKind::Inside);
            let words = format!("Drop to carry {label} here");
            painter.text(canvas.center(), Align2::CENTER_CENTER, words, FontId::new(17.0, bold()), p.text);
        }
        if let Some((labels, more)) = touched {
            let mut selection = if more { document.selection.clone() } else { letfall_core::edit::Selection::none() };
            for label in labels {
                if !more || !selection.labels.remove(&label) {
                    selection.labels.insert(label);
                }
            }
            requests.push(UiRequest::SelectAndSay(selection));
        } else if response.clicked() && !chosen {
            requests.push(UiRequest::ShowService(at));
        }
        rows.push(rect);
    }
    let over = pointer.and_then(|at| rows.iter().position(|rect| rect.contains(at)));
    let to = over.filter(|at| *at != document.service).and_then(|at| services.get(at));
    dropped.zip(to.map(|service| service.name.clone()))
}

/// Draws a service's name and size at the left of its lane. Returns where the lane itself begins.
fn name(painter: &egui::Painter, rect: Rect, service: &Service, p: &Palette) -> f32 {
    let name = Rect::from_min_size(rect.min, vec2(170.0, rect.height()));
    let inside = painter.with_clip_rect(name.shrink2(vec2(6.0, 0.0)));
    let at = name.left_center() + vec2(8.0, 0.0);
    inside.text(at - vec2(0.0, 8.0), Align2::LEFT_CENTER, &service.name, FontId::new(14.5, bold()), p.text);
    let facts = format!("{} cues, {} bars", service.cues.len(), service.song.bars);
    inside.text(at + vec2(0.0, 9.0), Align2::LEFT_CENTER, facts, FontId::proportional(13.0), p.quiet);
    name.right()
}

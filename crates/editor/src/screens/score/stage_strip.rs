//! Above the score: the stage at the playhead, the clock beside it, and the playback controls.

use super::snap::Snap;
use crate::commands::Command;
use crate::document::Document;
use crate::playback::Playback;
use crate::request::Requests;
use crate::widgets::stage_picture;
use crate::widgets::theme::{Theme, bold};
use egui::{FontId, RichText, Ui};
use letfall_core::prepared::Prepared;

/// What is shown beside the stage.
pub struct StageStripState<'a> {
    /// The playback of the guide.
    pub playback: &'a Playback,
    /// What times snap to.
    pub snap: &'a mut Snap,
    /// The theme.
    pub theme: Theme,
}

/// Shows the strip.
pub fn show(ui: &mut Ui, document: &Document, beside: &mut StageStripState<'_>, requests: &mut Requests) {
    let Ok(plan) = document.plan() else { return };
    let p = beside.theme.palette();
    let size = egui::vec2((ui.available_width() - 230.0).max(200.0), ui.available_height().max(60.0));
    ui.horizontal_top(|ui| {
        let (rect, response) = ui.allocate_exact_size(size, egui::Sense::hover());
        let said = stage_picture::draw(ui, rect, &plan, document.playhead, &p);
        response
            .widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, format!("Stage: {said}")));
        // In a low window the controls scroll rather than being cut off.
        egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            ui.vertical(|ui| {
                clock(ui, document, &plan);
                ui.add_space(2.0);
                snap(ui, beside.snap);
                playing(ui, beside.playback, requests);
            });
        });
    });
}

/// The position of the playhead.
fn clock(ui: &mut Ui, document: &Document, plan: &Prepared) {
    let place = plan.grid().place_of(document.playhead_tick());
    ui.label(RichText::new(format!("{} b{}", place.bar, place.beat)).font(FontId::monospace(34.0)));
    ui.horizontal(|ui| {
        ui.label(RichText::new(format!("{:.1}", document.playhead)).font(FontId::monospace(20.0)));
        if let Some(wall) = document.current().and_then(|s| s.wall(document.playhead)) {
            ui.label(RichText::new(wall.to_string()).font(FontId::monospace(16.0)));
        }
    });
    let next = plan.schedule().rows.iter().filter(|r| r.land > document.playhead).min_by_key(|r| r.land);
    if let Some(next) = next {
        ui.label(format!("{} lands in {:.1} s", next.label, (next.land - document.playhead).secs_f64()));
    }
}

/// The choice of what times snap to.
fn snap(ui: &mut Ui, snap: &mut Snap) {
    ui.horizontal(|ui| {
        let label = ui.label("Snap to");
        let words = Snap::ALL.iter().find(|s| s.0 == *snap).map_or("", |s| s.1);
        let combo = egui::ComboBox::from_id_salt("snap").width(120.0).selected_text(words).show_ui(ui, |ui| {
            for (way, words) in Snap::ALL {
                ui.selectable_value(snap, way, words);
            }
        });
        combo.response.labelled_by(label.id);
    });
}

/// The playback controls.
fn playing(ui: &mut Ui, playback: &Playback, requests: &mut Requests) {
    ui.horizontal(|ui| {
        let words = if playback.is_playing() { "Stop" } else { "Play" };
        let button = egui::Button::new(RichText::new(words).font(FontId::new(15.0, bold())));
        if ui.add(button.min_size(egui::vec2(64.0, 0.0))).clicked() {
            requests.command(Command::Play);
        }
        if ui.add(egui::Button::new("Half speed").selected(playback.half)).clicked() {
            requests.command(Command::HalfSpeed);
        }
    });
    ui.horizontal(|ui| {
        if ui.add(egui::Button::new("Loop section").selected(playback.looped)).clicked() {
            requests.command(Command::RoundSection);
        }
        if ui.add(egui::Button::new("Click").selected(playback.click)).clicked() {
            requests.command(Command::HearClick);
        }
    });
}

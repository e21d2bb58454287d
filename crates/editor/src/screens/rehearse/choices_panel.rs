//! What can be chosen when the evening does not go as planned: a key, a word and what comes of it, for each.

use super::rehearsing::Rehearsing;
use crate::rehearsal::RehearsalRequest;
use crate::rehearsal::choices::{Choice, choices};
use crate::request::{Requests, UiRequest};
use crate::widgets::theme::bold;
use egui::{Align, FontId, Layout, Modifiers, RichText, Ui};

/// Shows the choices, and takes their keys.
pub fn show(ui: &mut Ui, what: &Rehearsing<'_>, requests: &mut Requests) {
    let Some(run) = what.rehearsal.run.as_ref() else { return };
    let all = choices(run);
    if all.is_empty() {
        return;
    }
    let p = what.theme.palette();
    ui.add_space(4.0);
    ui.label(RichText::new("If it goes otherwise").font(FontId::new(16.0, bold())));
    let typing = ui.ctx().egui_wants_keyboard_input();
    for choice in &all {
        let pressed = !typing && ui.input_mut(|i| i.consume_key(Modifiers::NONE, choice.key));
        let clicked = button(ui, choice, &p).clicked();
        if pressed || clicked {
            requests.push(UiRequest::Rehearsal(RehearsalRequest::Bend(choice.bend)));
        }
    }
    if let Some((words, warns)) = &run.bends.line {
        let colour = if *warns { p.alarm } else { p.text };
        ui.add(egui::Label::new(RichText::new(words).color(colour)).wrap());
    }
}

/// A choice as a button: its word and its key, and under them what will happen.
fn button(ui: &mut Ui, choice: &Choice, p: &crate::widgets::theme::Palette) -> egui::Response {
    let width = ui.available_width() - 8.0;
    let colour = if choice.alarm { p.alarm } else { p.text };
    let inner = egui::Frame::new().stroke((1.0, colour)).corner_radius(3.0).inner_margin(6.0).show(ui, |ui| {
        ui.set_width(width - 14.0);
        ui.horizontal(|ui| {
            ui.label(RichText::new(&choice.word).font(FontId::new(17.0, bold())).color(colour));
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                ui.label(RichText::new(choice.key.name()).font(FontId::monospace(17.0)));
            });
        });
        ui.add(egui::Label::new(RichText::new(&choice.then).color(p.text)).wrap());
    });
    let response = inner.response.interact(egui::Sense::click());
    response.widget_info(|| {
        let said = format!("{}: {}", choice.word, choice.then);
        egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, said)
    });
    response
}

//! The head of the window: choosing the screen and the service, undo, redo and saving.

use super::Screen;
use crate::commands::Command;
use crate::document::Document;
use crate::request::{Requests, UiRequest};
use crate::widgets::theme::bold;
use egui::{RichText, Ui};

/// With less room than this, in points, what stands at the right goes on in a second line.
const ONE_LINE: f32 = 1220.0;

/// Shows it; `go` is called with the screen that the user chose.
pub fn show(ui: &mut Ui, document: &Document, up: Screen, requests: &mut Requests, mut go: impl FnMut(Screen)) {
    let one_line = ui.available_width() >= ONE_LINE;
    ui.horizontal_wrapped(|ui| {
        for (screen, name) in Screen::ALL {
            let name = RichText::new(name).font(egui::FontId::new(16.0, bold()));
            if ui.selectable_label(up == screen, name).clicked() {
                go(screen);
            }
        }
        ui.separator();
        services(ui, document, requests);
        ui.separator();
        files(ui, document, requests);
        if one_line {
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                let commands = [Command::Find, Command::Help, Command::SwitchTheme];
                for command in commands {
                    plain(ui, command, requests);
                }
                title(ui, document);
            });
        } else {
            let commands = [Command::SwitchTheme, Command::Help, Command::Find];
            for command in commands {
                plain(ui, command, requests);
            }
            title(ui, document);
        }
    });
}

fn plain(ui: &mut Ui, command: Command, requests: &mut Requests) {
    if ui.button(command.words()).on_hover_text(command.help()).clicked() {
        requests.command(command);
    }
}

fn title(ui: &mut Ui, document: &Document) {
    let mark = if document.history.is_changed() { " (changed)" } else { "" };
    let title = format!("{}{mark}", document.show.title);
    ui.add(egui::Label::new(RichText::new(title).font(egui::FontId::new(15.0, bold()))).truncate());
}

/// New, open, save, undo, redo.
fn files(ui: &mut Ui, document: &Document, requests: &mut Requests) {
    for (command, words) in [(Command::New, "New"), (Command::Open, "Open")] {
        let button = ui.button(words).on_hover_text(command.help());
        button.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, command.words()));
        if button.clicked() {
            requests.command(command);
        }
    }
    for command in [Command::Save, Command::Undo, Command::Redo] {
        let possible = match command {
            Command::Undo => document.history.undo_name().is_some(),
            Command::Redo => document.history.redo_name().is_some(),
            _ => document.history.is_changed(),
        };
        if ui.add_enabled(possible, egui::Button::new(command.words())).on_hover_text(command.help()).clicked() {
            requests.command(command);
        }
    }
}

/// The choice of the service on screen.
fn services(ui: &mut Ui, document: &Document, requests: &mut Requests) {
    let shown = document.current().map_or("no service", |service| &service.name);
    let mut to = document.service;
    let combo = egui::ComboBox::from_id_salt("service").selected_text(shown).width(150.0).show_ui(ui, |ui| {
        for (at, service) in document.show.services.iter().enumerate() {
            ui.selectable_value(&mut to, at, &service.name);
        }
    });
    let named = || egui::WidgetInfo::labeled(egui::accesskit::Role::ComboBox, true, "Service on screen");
    combo.response.widget_info(named);
    if to != document.service {
        requests.push(UiRequest::ShowService(to));
    }
}

//! The list of all commands, searched by typing.

use crate::commands::Command;
use crate::request::Requests;
use egui::Key;

/// The window's state.
#[derive(Default)]
pub struct CommandList {
    open: bool,
    text: String,
}

impl CommandList {
    /// Whether it is open.
    pub const fn is_open(&self) -> bool {
        self.open
    }

    /// Opens the list with an empty search, or closes it.
    pub fn toggle(&mut self) {
        self.open = !self.open;
        self.text.clear();
    }

    /// Shows the list if it is open.
    pub fn show(&mut self, ctx: &egui::Context, requests: &mut Requests) {
        if !self.open {
            return;
        }
        let mut run = None;
        let mut open = true;
        let window = egui::Window::new("All commands").collapsible(false).open(&mut open).default_size([420.0, 440.0]);
        window.anchor(egui::Align2::CENTER_TOP, egui::vec2(0.0, 70.0)).show(ctx, |ui| {
            let label = ui.label("Type to search");
            let edit = egui::TextEdit::singleline(&mut self.text).desired_width(372.0);
            ui.add(edit).labelled_by(label.id).request_focus();
            let wanted = self.text.to_lowercase();
            let fits = |c: &&Command| c.words().to_lowercase().contains(&wanted);
            let found: Vec<Command> = Command::ALL.iter().filter(fits).copied().collect();
            egui::ScrollArea::vertical().max_height(360.0).show(ui, |ui| {
                for command in &found {
                    let keys = command.shortcut().map_or_else(String::new, |s| ctx.format_shortcut(&s));
                    let button =
                        egui::Button::new(command.words()).shortcut_text(keys).min_size(egui::vec2(380.0, 0.0));
                    if ui.add(button).on_hover_text(command.help()).clicked() {
                        run = Some(*command);
                    }
                }
            });
            if ui.input(|i| i.key_pressed(Key::Enter)) {
                run = found.first().copied();
            }
        });
        self.open = open && run.is_none();
        if let Some(command) = run {
            requests.command(command);
        }
    }
}

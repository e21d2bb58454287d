//! The help window: a page about a screen, or a field of Rig.

use crate::help::{self, FieldHelp};
use crate::widgets::fields::{LAST_TABLE, focused_field};
use crate::widgets::pick_list::title;
use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};

/// What the window shows.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum HelpWindow {
    /// A screen's page.
    Page(&'static str),
    /// A field in a table of Rig.
    Field(&'static str, &'static str),
}

impl HelpWindow {
    /// What explains the screen with this name; on Rig the field that has the focus, if one has.
    pub fn of(ctx: &egui::Context, screen: &'static str) -> HelpWindow {
        let field = focused_field(ctx).filter(|_| screen == "Rig").and_then(|(table, name)| help::field(table, &name));
        field.map_or(HelpWindow::Page(screen), |field| HelpWindow::Field(field.table, field.field))
    }

    /// Shows it; `false` once it is closed.
    pub fn show(&mut self, ctx: &egui::Context) -> bool {
        let mut open = true;
        let window = egui::Window::new("Help").collapsible(false).open(&mut open).default_width(560.0);
        window.anchor(egui::Align2::RIGHT_TOP, egui::vec2(-16.0, 50.0)).show(ctx, |ui| {
            ui.set_width(560.0);
            let height = ctx.content_rect().height() - 140.0;
            egui::ScrollArea::vertical().max_height(height).min_scrolled_height(height).show(ui, |ui| match *self {
                HelpWindow::Page(name) => HelpWindow::page(ui, name),
                HelpWindow::Field(table, name) => {
                    if let Some(field) = help::field(table, name) {
                        about(ui, field);
                    }
                    ui.separator();
                    if ui.button("About this screen").clicked() {
                        *self = HelpWindow::Page("Rig");
                    }
                }
            });
        });
        open
    }

    fn page(ui: &mut Ui, name: &'static str) {
        let Some(page) = help::page(name) else { return };
        title(ui, page.title);
        for paragraph in &page.paragraphs {
            ui.label(*paragraph);
            ui.add_space(4.0);
        }
        let table = ui.data(|d| d.get_temp::<&'static str>(egui::Id::unique(LAST_TABLE)));
        if let Some(table) = table.filter(|_| name == "Rig") {
            ui.separator();
            title(ui, table);
            for field in help::fields().iter().filter(|field| field.table == table) {
                about(ui, field);
                ui.add_space(6.0);
            }
        }
    }
}

/// What a field is, where to read it off, and what happens if it is wrong.
fn about(ui: &mut Ui, field: &FieldHelp) {
    let name = RichText::new(field.field.trim_end_matches(" of"));
    ui.label(name.font(FontId::new(14.5, bold())));
    for line in field.lines() {
        ui.label(line);
    }
}

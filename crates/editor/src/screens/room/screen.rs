//! The Room screen itself: one table at a time beneath the drawing, edited as a draft that is committed when a field loses the focus.

use super::canvas::Canvas;
use super::{before, gives, people, things};
use crate::document::Document;
use crate::request::Requests;
use crate::widgets::fields::Fields;
use crate::widgets::theme::{Theme, bold};
use egui::{FontId, RichText, Ui};
use letfall_core::edit::{Edit, part_changes};
use letfall_core::show::room::Room;
use letfall_core::show::{CueList, Show};

/// A table of the room.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Table {
    #[default]
    Sizes,
    Bars,
    Points,
    InTheWay,
    Pictures,
    Seats,
    People,
    Free,
    Survey,
    Week,
    Offers,
}

impl Table {
    const ALL: [(Table, &'static str); 11] = [
        (Table::Sizes, "Room and stage"),
        (Table::Bars, "Bars and fabrics"),
        (Table::Points, "Wished points"),
        (Table::InTheWay, "In the way"),
        (Table::Pictures, "Projectors and screens"),
        (Table::Seats, "Seats"),
        (Table::People, "People and lamps"),
        (Table::Free, "Kept free"),
        (Table::Survey, "Survey"),
        (Table::Week, "Week"),
        (Table::Offers, "Offers"),
    ];

    /// Whether the drawing stands above it.
    const fn is_drawn(self) -> bool {
        !matches!(self, Table::Survey | Table::Week | Table::Offers)
    }
}

/// What must stand wherever overhead work is planned.
const CAUTION: &str = "Plain geometry, figures and questions. What may be hung, where and how, is for the competent person to say, with \
     the makers' data; local rules come first. Nobody stands under a load that is being raised, nor under a fabric that may fall.";

/// The screen's state: a draft with changes that are not committed yet, and how the drawing is looked at.
#[derive(Default)]
pub struct RoomScreen {
    table: Table,
    draft: Option<(u64, Show)>,
    canvas: Canvas,
}

impl RoomScreen {
    /// Discards changes that were not committed, so that the show's values appear again.
    pub fn forget_draft(&mut self) {
        self.draft = None;
    }

    /// Shows the screen.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, theme: Theme, requests: &mut Requests) {
        if self.draft.as_ref().is_none_or(|(revision, _)| *revision != document.revision) {
            let mut draft = (*document.show).clone();
            // Cues are not part of the room. Without them, the cost per frame does not depend on their number.
            draft.services.iter_mut().for_each(|s| s.cues = CueList::default());
            self.draft = Some((document.revision, draft));
        }
        let Some((_, draft)) = &mut self.draft else { return };
        let mut fields = Fields::default();
        egui::Panel::left("room tables").exact_size(190.0).resizable(false).show(ui, |ui| {
            ui.add_space(6.0);
            ui.with_layout(egui::Layout::top_down_justified(egui::Align::LEFT), |ui| {
                for (table, words) in Table::ALL {
                    let text = RichText::new(words).font(FontId::new(15.0, bold()));
                    if ui.selectable_label(self.table == table, text).clicked() {
                        self.table = table;
                    }
                }
            });
        });
        egui::Panel::bottom("room caution").exact_size(44.0).resizable(false).show(ui, |ui| {
            ui.add(egui::Label::new(CAUTION).wrap());
        });
        let has_room = draft.room.is_some();
        if has_room && self.table.is_drawn() {
            egui::Panel::right("what the room gives").exact_size(330.0).resizable(false).show(ui, |ui| {
                egui::ScrollArea::vertical()
                    .auto_shrink(false)
                    .show(ui, |ui| gives::show(ui, document, draft, &mut fields));
            });
            let height = (ui.available_height() * 0.58).max(220.0);
            egui::Panel::top("room drawing").exact_size(height).resizable(false).show(ui, |ui| {
                self.canvas.show(ui, document, draft, theme, &mut fields);
            });
        }
        egui::CentralPanel::default().show(ui, |ui| {
            let wrong = draft.validate().err().map(|why| why.to_string());
            egui::ScrollArea::both().auto_shrink(false).show(ui, |ui| {
                ui.add_space(2.0);
                table(ui, self.table, draft, &mut fields);
                if let Some(why) = fields.refused.as_ref().or(wrong.as_ref()) {
                    ui.add_space(6.0);
                    ui.colored_label(ui.visuals().error_fg_color, why);
                }
            });
        });
        if fields.done {
            if let Some(why) = fields.refused {
                requests.fail(why);
            }
            let edits = part_changes(&document.show, draft);
            if edits.is_empty() {
                return;
            }
            let words = Table::ALL.iter().find(|t| t.0 == self.table).map_or("the room", |t| t.1);
            requests.commit(format!("Change {}", words.to_lowercase()), Ok(Edit::All(edits)));
        }
    }
}

fn table(ui: &mut Ui, table: Table, draft: &mut Show, fields: &mut Fields) {
    match table {
        Table::Week => return before::week(ui, draft, fields),
        Table::Offers => return before::offers(ui, draft, fields),
        _ => {}
    }
    if draft.room.is_none() {
        ui.label("Nobody has described the room yet. Begin with a room of a usual size, and correct it with a tape in your hand.");
        if fields.add(ui, "Describe the room") {
            draft.room = Some(Room::usual());
        }
        return;
    }
    match table {
        Table::Sizes => things::sizes(ui, draft, fields),
        Table::Bars => things::bars(ui, draft, fields),
        Table::Points => things::points(ui, draft, fields),
        Table::InTheWay => things::in_the_way(ui, draft, fields),
        Table::Pictures => things::pictures(ui, draft, fields),
        Table::Seats => people::seats(ui, draft, fields),
        Table::People => people::people(ui, draft, fields),
        Table::Free => things::free(ui, draft, fields),
        Table::Survey => before::survey(ui, draft, fields),
        Table::Week | Table::Offers => {}
    }
}

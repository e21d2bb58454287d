//! The Rig screen itself: one table at a time, edited as a draft that is committed when a field loses the focus.

use super::desk_list::DeskListPanel;
use super::{costs, day, devices, fabric, pictures, show_facts};
use crate::document::Document;
use crate::request::Requests;
use crate::widgets::fields::{Fields, LAST_TABLE, TABLE_ON_SCREEN};
use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};
use letfall_core::edit::{Edit, part_changes};
use letfall_core::show::{CueList, Show};

/// A table of the rig, or a few that belong together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Table {
    Show,
    Tracks,
    #[default]
    Devices,
    Presets,
    Media,
    Outputs,
    Hang,
    Releases,
    Safety,
    Stop,
    Crew,
    Between,
    Papers,
    Kit,
}

impl Table {
    const ALL: [(Table, &'static str); 14] = [
        (Table::Show, "Show and tolerances"),
        (Table::Tracks, "Tracks"),
        (Table::Devices, "Ports and receivers"),
        (Table::Presets, "Presets"),
        (Table::Media, "Media"),
        (Table::Outputs, "Outputs and routes"),
        (Table::Hang, "Hang"),
        (Table::Releases, "Releases"),
        (Table::Safety, "Safety sheet"),
        (Table::Stop, "Show-stop card"),
        (Table::Crew, "Crew"),
        (Table::Between, "Between services"),
        (Table::Papers, "Papers and notes"),
        (Table::Kit, "Kit and cost"),
    ];
}

/// The screen's state: a draft with changes that are not committed yet.
#[derive(Default)]
pub struct Rig {
    table: Table,
    draft: Option<(u64, Show)>,
    desk_list: DeskListPanel,
}

impl Rig {
    /// Shows the table with this name.
    pub fn show_table(&mut self, name: &str) {
        if let Some((table, _)) = Table::ALL.iter().find(|(_, words)| *words == name) {
            self.table = *table;
        }
    }

    /// Discards changes that were not committed, so that the show's values appear again.
    pub fn forget_draft(&mut self) {
        self.draft = None;
    }

    /// Shows the screen.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, requests: &mut Requests) {
        if self.draft.as_ref().is_none_or(|(revision, _)| *revision != document.revision) {
            let mut draft = (*document.show).clone();
            // Cues are not part of the rig. Without them, the cost per frame does not depend on their number.
            draft.services.iter_mut().for_each(|s| s.cues = CueList::default());
            self.draft = Some((document.revision, draft));
        }
        let plan = document.plan().ok();
        let Some((_, draft)) = &mut self.draft else { return };
        let mut fields = Fields::default();
        // Fields explain themselves by the table that they stand in.
        let name = Table::ALL.iter().find(|(table, _)| *table == self.table).map_or("", |(_, words)| *words);
        ui.data_mut(|d| {
            d.insert_temp(egui::Id::unique(TABLE_ON_SCREEN), name);
            d.insert_temp(egui::Id::unique(LAST_TABLE), name);
        });
        egui::Panel::left("tables").exact_size(190.0).resizable(false).show(ui, |ui| {
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
        egui::CentralPanel::default().show(ui, |ui| {
            let wrong = draft.validate().err().map(|why| why.to_string());
            egui::ScrollArea::both().auto_shrink(false).show(ui, |ui| {
                ui.add_space(2.0);
                match self.table {
                    Table::Show => {
                        show_facts::show_facts(ui, draft, &mut fields);
                        show_facts::hand_outs(ui, draft, &mut fields);
                    }
                    Table::Tracks => show_facts::tracks(ui, draft, &mut fields),
                    Table::Devices => devices::devices(ui, draft, &mut fields, plan.as_deref()),
                    Table::Presets => {
                        devices::presets(ui, draft, &mut fields);
                        self.desk_list.show(ui, document, requests);
                    }
                    Table::Media => pictures::media(ui, draft, &mut fields),
                    Table::Outputs => pictures::outputs(ui, draft, &mut fields),
                    Table::Hang => fabric::hangs(ui, draft, &mut fields),
                    Table::Releases => fabric::releases(ui, draft, &mut fields),
                    Table::Safety => show_facts::safety(ui, draft, &mut fields),
                    Table::Stop => day::stop(ui, draft, &mut fields),
                    Table::Crew => day::crew(ui, draft, &mut fields),
                    Table::Between => day::between(ui, draft, &mut fields),
                    Table::Papers => day::papers(ui, draft, &mut fields),
                    Table::Kit => costs::kit(ui, draft, &mut fields),
                }
                if let Some(why) = fields.refused.as_ref().or(wrong.as_ref()) {
                    ui.add_space(6.0);
                    ui.colored_label(ui.visuals().error_fg_color, why);
                }
            });
        });
        ui.data_mut(|d| d.insert_temp(egui::Id::unique(TABLE_ON_SCREEN), ""));
        if fields.done {
            if let Some(why) = fields.refused {
                requests.fail(why);
            }
            let edits = part_changes(&document.show, draft);
            if edits.is_empty() {
                return;
            }
            let words = Table::ALL.iter().find(|t| t.0 == self.table).map_or("the rig", |t| t.1);
            requests.commit(format!("Change {}", words.to_lowercase()), Ok(Edit::All(edits)));
        }
    }
}

//! The menu under the right mouse button on the score.

use super::canvas::Score;
use crate::commands::Command;
use crate::document::Document;
use crate::request::{Requests, UiRequest};
use egui::{Pos2, Rect, Ui};
use letfall_core::edit::Selection;
use letfall_core::prepared::Prepared;

/// What can be done with the selected cues.
const OF_CUES: [Command; 9] = [
    Command::Copy,
    Command::Cut,
    Command::Duplicate,
    Command::Repeat,
    Command::Offset,
    Command::Rest,
    Command::SelectKind,
    Command::FitSelection,
    Command::Delete,
];

/// What can be done at a place.
const AT_A_PLACE: [Command; 6] = [
    Command::Paste,
    Command::PasteSamePlace,
    Command::TakeTable,
    Command::SelectSection,
    Command::FitSection,
    Command::GoToBar,
];

impl Score {
    /// Shows the menu if it is open. Opening it on a cue selects that cue, beside one it moves the playhead there.
    pub(super) fn menu(
        &mut self,
        response: &egui::Response,
        canvas: Rect,
        (document, plan): (&Document, &Prepared),
        requests: &mut Requests,
    ) {
        if response.secondary_clicked()
            && let Some(at) = response.interact_pointer_pos()
        {
            self.menu_at = Some(at);
            match self.hit(at).map(|drawn| drawn.label) {
                Some(label) if document.selection.labels.contains(&label) => {}
                Some(label) => requests.select([label]),
                None => {
                    requests.push(UiRequest::Select(Selection::none()));
                    let there = self.track_at(at, canvas, plan).map(|(_, tick)| plan.grid().time_at(tick));
                    requests.playhead(there.unwrap_or_else(|| self.view.time(at.x - canvas.left())));
                }
            }
        }
        let Some(at) = self.menu_at else { return };
        response.context_menu(|ui| {
            self.new_cue_here(ui, at, canvas, plan, requests);
            if document.selection.labels.is_empty() {
                of(ui, &AT_A_PLACE, requests);
            } else {
                of(ui, &OF_CUES, requests);
            }
        });
    }

    /// A new cue on the track where the menu was opened.
    fn new_cue_here(&self, ui: &mut Ui, at: Pos2, canvas: Rect, plan: &Prepared, requests: &mut Requests) {
        let Some((track, tick)) = self.track_at(at, canvas, plan) else { return };
        let name = plan.show().track(&track).map_or_else(|| track.to_string(), |track| track.name.clone());
        let words = format!("New cue on {name} at {}…", plan.grid().place_text(tick));
        if ui.button(words).clicked() {
            requests.push(UiRequest::ChooseCue { track, at: tick });
            ui.close();
        }
        ui.separator();
    }
}

fn of(ui: &mut Ui, commands: &[Command], requests: &mut Requests) {
    for command in commands {
        if *command == Command::Delete {
            // What takes something away stands apart.
            ui.separator();
        }
        let keys = command.shortcut().map_or_else(String::new, |s| ui.ctx().format_shortcut(&s));
        let button = egui::Button::new(command.words()).shortcut_text(keys);
        if ui.add(button).on_hover_text(command.help()).clicked() {
            requests.command(*command);
            ui.close();
        }
    }
}

//! Edits one cue or many: shared values are shown, different ones are marked, and an edit applies to all selected cues.

use super::cue_field::Field;
use super::ear_panel::Ear;
use super::handover::Planner;
use super::shown::{DIFFERS, FIELD, Shown, same};
use super::song::SongMarks;
use super::{cue_actions, cue_lead};
use crate::commands::Command;
use crate::document::Document;
use crate::request::Requests;
use crate::widgets::theme::bold;
use egui::{RichText, Ui};
use letfall_core::edit;
use letfall_core::show::Kind;

/// Text that is being typed and not committed yet.
#[derive(Default)]
pub struct Inspector {
    texts: [String; Field::ALL.len()],
    marks: SongMarks,
    planner: Planner,
    song_open: bool,
    shown: Option<Shown>,
}

impl Inspector {
    /// Discards text that was not committed.
    pub fn forget_draft(&mut self) {
        self.shown = None;
        self.marks.forget_draft();
    }

    /// Opens the song's marks.
    pub fn open_song(&mut self) {
        self.song_open = true;
    }

    /// Shows the selection, or the song if nothing is selected.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, ear: Ear<'_>, requests: &mut Requests) {
        let labels = document.selected();
        if labels.is_empty() {
            nothing(ui, document, requests);
            if document.current().is_some() {
                ui.separator();
                let words =
                    if self.song_open { "Close the song's marks" } else { "Song: bars, metre, tempo, sections…" };
                self.song_open ^= ui.button(words).clicked();
                if self.song_open {
                    self.marks.show(ui, document, &ear, requests);
                }
            }
            return;
        }
        let fresh = self.shown.as_ref().is_some_and(|s| s.revision == document.revision && s.labels == labels);
        if !fresh {
            self.take_over(document);
            self.shown = Some(Shown::of(document, labels.clone()));
        }
        let words = match labels.as_slice() {
            [one] => format!("{one}, {}", one.kind),
            many => format!("{} cues", many.len()),
        };
        ui.label(RichText::new(words).font(egui::FontId::new(19.0, bold())));
        // What it does comes first: it is what people set on every cue.
        if let Some(shown) = &self.shown {
            cue_actions::show(ui, document, shown, requests);
        }
        ui.add_space(4.0);
        egui::Grid::new("inspector").num_columns(2).spacing([10.0, 8.0]).show(ui, |ui| {
            let kind = self.shown.as_ref().and_then(|s| s.kind);
            for field in Field::ALL.into_iter().filter(|f| f.fits(kind)) {
                self.field(ui, document, field, requests);
            }
        });
        ui.separator();
        if let [one] = labels.as_slice() {
            cue_lead::show(ui, document, *one);
            if one.kind == Kind::Release {
                self.planner.show(ui, document, *one, requests);
            }
        }
    }

    fn take_over(&mut self, document: &Document) {
        let cues = document.selected_cues();
        self.texts = Field::ALL.map(|field| same(cues.iter().map(|c| field.read(c))).unwrap_or_default());
    }

    fn field(&mut self, ui: &mut Ui, document: &Document, field: Field, requests: &mut Requests) {
        let label = ui.label(field.name());
        let alike = self.shown.as_ref().is_some_and(|s| s.alike[field as usize]);
        let hint = if alike { field.hint() } else { DIFFERS };
        let edit = egui::TextEdit::singleline(&mut self.texts[field as usize]).hint_text(hint).desired_width(FIELD);
        let response = ui.add_sized([FIELD, 26.0], edit).labelled_by(label.id);
        ui.end_row();
        if response.lost_focus() && response.ctx.input(|i| !i.key_pressed(egui::Key::Escape)) {
            let text = self.texts[field as usize].clone();
            if !alike && text.is_empty() {
                return; // the cues differ and nothing was typed
            }
            // Try the value on one cue first. If it is not accepted, say why and change nothing.
            let mut probe = document.selected_cues().first().map(|c| (*c).clone());
            if let Some(Err(why)) = probe.as_mut().map(|cue| field.write(cue, &text)) {
                return requests.fail(why);
            }
            requests.with_selected(document, field.step(), |show, service, labels| {
                edit::change(show, service, labels, |cue| drop(field.write(cue, &text)))
            });
        }
    }
}

/// Tells the user what to do when nothing is selected.
fn nothing(ui: &mut Ui, document: &Document, requests: &mut Requests) {
    ui.label(RichText::new("Nothing selected").font(egui::FontId::new(19.0, bold())));
    ui.label(format!(
        "Click a cue, or draw a box round some. Drag to move, Alt to move freely. Wheel moves the song, {} and wheel zooms; over the names it moves the rows.",
        letfall_platform::COMMAND_KEY
    ));
    ui.separator();
    if document.current().is_none() {
        return;
    }
    ui.label("New cue at the playhead:");
    for command in [Command::NewMedia, Command::NewLighting, Command::NewRelease, Command::NewOutput] {
        let keys = command.shortcut().map_or_else(String::new, |s| ui.ctx().format_shortcut(&s));
        let button = egui::Button::new(command.words()).shortcut_text(keys).min_size(egui::vec2(220.0, 0.0));
        if ui.add(button).on_hover_text(command.help()).clicked() {
            requests.command(command);
        }
    }
    ui.label("Or double-click on a track. Many at once:");
    if ui.button(Command::TakeTable.words()).on_hover_text(Command::TakeTable.help()).clicked() {
        requests.command(Command::TakeTable);
    }
}

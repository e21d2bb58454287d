//! The page after a run: what people saw and timed. All of it goes into the show as one edit.

use super::form::Form;
use super::headings::head;
use super::{after_bends, after_sent};
use crate::document::Document;
use crate::rehearsal::Run;
use crate::request::{Requests, Then};
use crate::widgets::leads::Leads;
use egui::Ui;
use letfall_core::show::Label;
use letfall_live::{Summary, summary};

/// The page.
#[derive(Default)]
pub struct After {
    form: Form,
    /// A note that is being typed, and the cue it is for.
    note: (String, String),
    /// A summary of what was sent, and the number of records it was made from.
    sent: Option<(usize, Summary)>,
    leads: Leads<Form>,
}

impl After {
    /// Shows the page.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, run: Option<&Run>, requests: &mut Requests) {
        let records = run.map_or(0, |run| run.records.len());
        if self.sent.as_ref().is_none_or(|(of, _)| *of != records) {
            self.sent = run.map(|run| (records, summary(&run.records)));
        }
        egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            let sent = self.sent.as_ref().filter(|(of, _)| *of > 0).map(|(_, summary)| summary);
            let released = sent.is_some_and(|summary| !summary.releases.is_empty());
            after_sent::show(ui, sent);
            after_bends::show(ui, document, run, requests);
            self.form.timed(ui, &document.show, released);
            self.notes(ui, requests);
            self.take(ui, document, requests);
        });
    }

    fn notes(&mut self, ui: &mut Ui, requests: &mut Requests) {
        head(ui, "Notes");
        for (label, note) in &self.form.notes {
            ui.label(format!("{label}: {note}"));
        }
        ui.horizontal(|ui| {
            let label = ui.label("Cue");
            ui.add(egui::TextEdit::singleline(&mut self.note.0).desired_width(56.0)).labelled_by(label.id);
            let words = ui.label("Note");
            ui.add(egui::TextEdit::singleline(&mut self.note.1).desired_width(380.0)).labelled_by(words.id);
            if ui.button("Add the note").clicked() {
                match self.note.0.trim().parse::<Label>() {
                    Ok(label) if !self.note.1.trim().is_empty() => {
                        self.form.notes.push((label, self.note.1.trim().to_owned()));
                        self.note = (String::new(), String::new());
                    }
                    Ok(_) => requests.fail("write the note first"),
                    Err(why) => requests.fail(why.to_string()),
                }
            }
        });
    }

    fn take(&mut self, ui: &mut Ui, document: &Document, requests: &mut Requests) {
        let edit = self.form.measured(&document.show).and_then(|found| {
            let nothing = found.is_empty() && self.form.notes.is_empty();
            if nothing { Ok(None) } else { self.form.edit(document, &found).map(Some) }
        });
        match edit {
            Ok(None) => {}
            Ok(Some(edit)) => {
                self.leads.show(ui, document, &self.form, &edit);
                if ui.button("Take all this into the show").clicked() {
                    requests.commit_then("Take over what was seen and timed", Ok(edit), Then::WrittenDown);
                }
            }
            Err(why) => {
                ui.colored_label(ui.visuals().error_fg_color, why);
            }
        }
    }
}

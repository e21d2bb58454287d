//! After a run: what people saw and timed. What is taken into the show is one edit.

use super::after_leads::Leads;
use super::after_sent;
use crate::document::Document;
use crate::rehearsal::Run;
use crate::request::{Requests, Then};
use crate::widgets::theme::bold;
use egui::{FontId, Grid, RichText, Ui};
use letfall_core::edit::{self, Edit};
use letfall_core::show::{Instant, Label, Show};
use letfall_core::time::SongSpan;
use letfall_live::{Measured, Summary, corrected, summary};

/// What was written down so far.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Form {
    /// Seconds of a drop, by the show's hangs, and up to which moment.
    drops: Vec<(String, Instant)>,
    /// Milliseconds of a receiver's delay, by the show's receivers.
    delays: Vec<String>,
    notes: Vec<(Label, String)>,
}

/// The page.
#[derive(Default)]
pub struct After {
    form: Form,
    /// A note that is being typed, and the cue it is for.
    note: (String, String),
    /// What was sent, read from so many records.
    sent: Option<(usize, Summary)>,
    leads: Leads,
}

/// A heading of the page.
pub fn head(ui: &mut Ui, words: &str) {
    ui.add_space(10.0);
    ui.label(RichText::new(words).font(FontId::new(18.0, bold())));
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

impl Form {
    fn timed(&mut self, ui: &mut Ui, show: &Show, released: bool) {
        self.drops.resize(show.hangs.len(), (String::new(), Instant::Sightline));
        self.delays.resize(show.receivers.len(), String::new());
        head(ui, "What was timed");
        ui.label("Empty means nothing was timed.");
        if !released {
            ui.label("No release was sent: write a drop down only if its fabric was let go in another way.");
        }
        Grid::new("timed").spacing([14.0, 6.0]).show(ui, |ui| {
            for (hang, (seconds, to)) in show.hangs.iter().zip(&mut self.drops) {
                let label = ui.label(format!("Drop of {}, s", hang.name));
                ui.add(egui::TextEdit::singleline(seconds).desired_width(70.0)).labelled_by(label.id);
                ui.horizontal(|ui| {
                    ui.radio_value(to, Instant::Sightline, "to the sightline");
                    ui.radio_value(to, Instant::Floor, "to the floor");
                });
                ui.end_row();
            }
            for (receiver, delay) in show.receivers.iter().zip(&mut self.delays) {
                let label = ui.label(format!("Delay of {}, ms", receiver.name));
                ui.add(egui::TextEdit::singleline(delay).desired_width(70.0)).labelled_by(label.id);
                ui.label(format!("now {:.1} ms", receiver.latency.mean.secs_f64() * 1e3));
                ui.end_row();
            }
        });
    }

    /// What was timed, as far as it can be read.
    fn measured(&self, show: &Show) -> Result<Vec<Measured>, String> {
        let number = |text: &str, what: &str, most: f64| {
            let value: f64 =
                text.trim().replace(',', ".").parse().map_err(|_| format!("\"{text}\" is no number of {what}"))?;
            if value > 0.0 && value <= most {
                Ok(value)
            } else {
                Err(format!("{what} must be over 0 and at most {most}"))
            }
        };
        let mut out = Vec::new();
        for (hang, (seconds, to)) in show.hangs.iter().zip(&self.drops).filter(|(_, d)| !d.0.trim().is_empty()) {
            let seconds = number(seconds, "seconds", 60.0)?;
            out.push(Measured::Drop { hang: hang.key.clone(), to: *to, seconds, note: "timed in a run".to_owned() });
        }
        for (receiver, delay) in show.receivers.iter().zip(&self.delays).filter(|(_, d)| !d.trim().is_empty()) {
            let mean = SongSpan::from_secs_f64(number(delay, "milliseconds", 10_000.0)? / 1e3);
            out.push(Measured::Latency { receiver: receiver.key.clone(), mean });
        }
        Ok(out)
    }

    /// Everything as one edit.
    fn edit(&self, document: &Document, measured: &[Measured]) -> Result<Edit, String> {
        let mut edits = vec![corrected(&document.show, measured)];
        let (Some(service), false) = (document.current(), self.notes.is_empty()) else { return Ok(Edit::All(edits)) };
        let mut after = (*document.show).clone();
        for (label, note) in &self.notes {
            let add = |cue: &mut letfall_core::show::Cue| {
                cue.note = if cue.note.is_empty() { note.clone() } else { format!("{}; {note}", cue.note) };
            };
            let made = edit::change(&after, &service.name, &[*label], add).map_err(|e| e.to_string())?;
            made.apply(&mut after).map_err(|e| e.to_string())?;
            edits.push(made);
        }
        Ok(Edit::All(edits))
    }
}

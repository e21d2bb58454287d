//! What people write down after a run: timed drops and delays, notes on cues. Also the edit that puts them into the show.

use super::headings::head;
use crate::document::Document;
use egui::{Grid, Ui};
use letfall_core::edit::{self, Edit};
use letfall_core::show::{Instant, Label, Show};
use letfall_core::time::SongSpan;
use letfall_live::{Measured, corrected};

/// What has been written down so far.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Form {
    /// For each hang of the show, the duration of its drop in seconds, and the moment up to which it was timed.
    drops: Vec<(String, Instant)>,
    /// For each receiver of the show, its delay in milliseconds.
    delays: Vec<String>,
    /// Notes on cues.
    pub notes: Vec<(Label, String)>,
}

impl Form {
    /// Shows the fields for timed drops and delays.
    pub fn timed(&mut self, ui: &mut Ui, show: &Show, released: bool) {
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

    /// The timed values, or the first one that cannot be read.
    pub fn measured(&self, show: &Show) -> Result<Vec<Measured>, String> {
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

    /// Everything in one edit.
    pub fn edit(&self, document: &Document, measured: &[Measured]) -> Result<Edit, String> {
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

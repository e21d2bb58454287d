//! After a run: how late each port was, what was not sent, what people saw and timed. What is taken into the show is one edit.

use super::run::Run;
use crate::editor::document::Document;
use crate::editor::theme::bold;
use egui::{FontId, Grid, RichText, Ui};
use letfall_core::edit::{self, Edit};
use letfall_core::schedule::Schedule;
use letfall_core::show::{Instant, Label, Show};
use letfall_core::time::SongSpan;
use letfall_live::{Measured, corrected, summary};

/// What is being written down.
#[derive(Default)]
pub struct After {
    /// Seconds of a drop, by the show's hangs, and up to which moment.
    drops: Vec<(String, Instant)>,
    /// Milliseconds of a receiver's delay, by the show's receivers.
    delays: Vec<String>,
    /// A note, and the cue it is for.
    note: (String, String),
    notes: Vec<(Label, String)>,
}

fn head(ui: &mut Ui, words: &str) {
    ui.add_space(10.0);
    ui.label(RichText::new(words).font(FontId::new(18.0, bold())));
}

impl After {
    /// Shows the page.
    pub fn show(&mut self, ui: &mut Ui, document: &mut Document, run: Option<&Run>) {
        egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            came_of_it(ui, run);
            self.write_down(ui, document, run.is_some_and(|run| !summary(&run.lines).releases.is_empty()));
        });
    }

    fn write_down(&mut self, ui: &mut Ui, document: &mut Document, released: bool) {
        self.drops.resize(document.show.hangs.len(), (String::new(), Instant::Sightline));
        self.delays.resize(document.show.receivers.len(), String::new());
        head(ui, "What was timed");
        ui.label("Empty means nothing was timed.");
        if !released {
            ui.label("No release was sent: write a drop down only if its fabric was let go in another way.");
        }
        Grid::new("timed").spacing([14.0, 6.0]).show(ui, |ui| {
            for (hang, (seconds, to)) in document.show.hangs.iter().zip(&mut self.drops) {
                let label = ui.label(format!("Drop of {}, s", hang.name));
                ui.add(egui::TextEdit::singleline(seconds).desired_width(70.0)).labelled_by(label.id);
                ui.horizontal(|ui| {
                    ui.radio_value(to, Instant::Sightline, "to the sightline");
                    ui.radio_value(to, Instant::Floor, "to the floor");
                });
                ui.end_row();
            }
            for (receiver, delay) in document.show.receivers.iter().zip(&mut self.delays) {
                let label = ui.label(format!("Delay of {}, ms", receiver.name));
                ui.add(egui::TextEdit::singleline(delay).desired_width(70.0)).labelled_by(label.id);
                ui.label(format!("now {:.1} ms", receiver.latency.mean.secs_f64() * 1e3));
                ui.end_row();
            }
        });
        head(ui, "Notes");
        for (label, note) in &self.notes {
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
                        self.notes.push((label, self.note.1.trim().to_owned()));
                        self.note = (String::new(), String::new());
                    }
                    Ok(_) => document.fail("write the note first"),
                    Err(why) => document.fail(why.to_string()),
                }
            }
        });
        let measured = self.measured(&document.show);
        let found = match measured {
            Ok(measured) if measured.is_empty() && self.notes.is_empty() => return,
            Ok(measured) => measured,
            Err(why) => {
                ui.colored_label(ui.visuals().error_fg_color, why);
                return;
            }
        };
        let edit = match self.edit(document, &found) {
            Ok(edit) => edit,
            Err(why) => {
                ui.colored_label(ui.visuals().error_fg_color, why);
                return;
            }
        };
        leads(ui, document, &edit);
        if ui.button("Take all this into the show").clicked()
            && document.commit("Take over what was seen and timed", Ok(edit))
        {
            *self = After::default();
        }
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
        let Some(service) = document.current() else { return Ok(Edit::All(edits)) };
        let mut after = document.show.clone();
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

/// Why something was not sent, for people.
fn why(what: &str) -> &str {
    match what {
        "locked" => "nobody held it open",
        "too-late" => "it was too late",
        "no-port" => "its port was not there",
        "jumped-over" => "jumped over",
        "rehearsed" => "a rehearsal, and it has no stand-in",
        "would-release" => "its message would let a fabric go",
        "twice" => "it was sent before in this run",
        other => other,
    }
}

/// How late each port was, and what was not sent.
fn came_of_it(ui: &mut Ui, run: Option<&Run>) {
    head(ui, "What was sent");
    let Some(run) = run.filter(|r| !r.lines.is_empty()) else {
        ui.label("Nothing was sent since the program was started. Start a run, and what comes of it stands here.");
        return;
    };
    let summary = summary(&run.lines);
    if !summary.ports.is_empty() {
        Grid::new("lateness").spacing([24.0, 4.0]).striped(true).show(ui, |ui| {
            for words in ["Port", "Messages", "Half within", "99 of 100 within", "Latest"] {
                ui.label(RichText::new(words).font(FontId::new(14.5, bold())));
            }
            ui.end_row();
            for (port, late) in &summary.ports {
                ui.label(port);
                ui.label(late.sent.to_string());
                for micros in [late.median, late.most, late.worst] {
                    ui.label(format!("{:.2} ms", micros as f64 / 1e3));
                }
                ui.end_row();
            }
        });
    }
    for (label, by) in &summary.releases {
        ui.label(format!(
            "{label}: its message was sent, held open by {by}. Whether the fabric fell is for people to say."
        ));
    }
    if summary.unsent.is_empty() {
        ui.label("Nothing was left unsent.");
    } else {
        let mut unsent = summary.unsent.clone();
        // Releases first: they matter most.
        unsent.sort_by_key(|(label, _)| !label.starts_with('R'));
        let words: Vec<String> = unsent.iter().map(|(label, what)| format!("{label} ({})", why(what))).collect();
        ui.colored_label(ui.visuals().warn_fg_color, format!("Not sent: {}", words.join(", ")));
    }
}

/// Leads before and after, of cues whose lead changes.
fn leads(ui: &mut Ui, document: &Document, edit: &Edit) {
    let mut after = document.show.clone();
    let (Ok(derived), true) = (document.derived(), edit.apply(&mut after).is_ok()) else { return };
    let Some(service) = after.services.get(document.service) else { return };
    let Ok(schedule) = Schedule::build(&after, service) else { return };
    let changed: Vec<_> = derived
        .schedule
        .rows
        .iter()
        .filter_map(|old| {
            let new = schedule.rows.iter().find(|r| r.label == old.label)?;
            (new.lead.total() != old.lead.total()).then_some((old, new))
        })
        .collect();
    head(ui, "Leads, before and after");
    if changed.is_empty() {
        ui.label("No lead changes: every message leaves when it did before.");
        return;
    }
    Grid::new("leads").spacing([24.0, 4.0]).striped(true).show(ui, |ui| {
        for (old, new) in changed.iter().take(40) {
            ui.label(old.label.to_string());
            ui.label(format!("{:.3} s", old.lead.total().secs_f64()));
            ui.label(format!("to {:.3} s", new.lead.total().secs_f64()));
            let by = (new.lead.total() - old.lead.total()).secs_f64() * 1e3;
            ui.label(format!("{by:+.0} ms: its message leaves {}", if by > 0.0 { "earlier" } else { "later" }));
            ui.end_row();
        }
    });
    if changed.len() > 40 {
        ui.label(format!("and {} more", changed.len() - 40));
    }
}

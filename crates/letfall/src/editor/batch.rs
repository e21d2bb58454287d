//! The small window in which a batch's figures are typed: offset, repeat, stretch.

use super::document::Document;
use letfall_core::edit::{self, By, Pick};

/// What is done to the batch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verb {
    /// Shift by a distance.
    Offset,
    /// Repeat every so many bars.
    Repeat,
    /// Stretch about the earliest.
    Stretch,
    /// Select by label or by bars.
    Select,
}

/// The window's state.
pub struct Batch {
    verb: Verb,
    distance: String,
    bars: i32,
    times: u32,
    factor: f64,
    which: String,
}

impl Batch {
    /// Asks for a verb's figures.
    pub fn new(verb: Verb) -> Batch {
        Batch { verb, distance: "-120ms".to_owned(), bars: 4, times: 1, factor: 1.5, which: String::new() }
    }

    /// Shows it; `false` when it is done with.
    pub fn show(&mut self, ctx: &egui::Context, document: &mut Document) -> bool {
        let mut open = true;
        let mut done = false;
        let title = match self.verb {
            Verb::Offset => "Offset",
            Verb::Repeat => "Repeat",
            Verb::Stretch => "Stretch",
            Verb::Select => "Select by label or bar",
        };
        let window = egui::Window::new(title).collapsible(false).resizable(false).open(&mut open);
        window.anchor(egui::Align2::CENTER_TOP, egui::vec2(0.0, 120.0)).show(ctx, |ui| {
            if self.verb != Verb::Select {
                ui.label(format!("For {}", document.selection_words()));
            }
            done = self.figures(ui, document) || ui.input(|i| i.key_pressed(egui::Key::Enter)) && self.run(document);
        });
        open && !done
    }

    fn figures(&mut self, ui: &mut egui::Ui, document: &mut Document) -> bool {
        match self.verb {
            Verb::Offset => {
                let label = ui.label("Distance: bars, beats, ms or s, such as 2bars, -1beat, -120ms");
                ui.text_edit_singleline(&mut self.distance).labelled_by(label.id);
            }
            Verb::Repeat => {
                ui.horizontal(|ui| {
                    let label = ui.label("Every so many bars");
                    ui.add(egui::DragValue::new(&mut self.bars).range(1..=1000)).labelled_by(label.id);
                    let label = ui.label("times");
                    ui.add(egui::DragValue::new(&mut self.times).range(1..=1000)).labelled_by(label.id);
                });
            }
            Verb::Stretch => {
                ui.horizontal(|ui| {
                    let label = ui.label("Times as long, from the earliest cue");
                    ui.add(egui::DragValue::new(&mut self.factor).range(0.01..=100.0).speed(0.01))
                        .labelled_by(label.id);
                });
            }
            Verb::Select => {}
        }
        if self.verb == Verb::Select {
            let label = ui.label("Labels such as L1..L20,R1, or bars such as 33..48");
            let field = ui.text_edit_singleline(&mut self.which).labelled_by(label.id);
            if !ui.memory(|m| m.focused().is_some()) {
                field.request_focus();
            }
        }
        let words = match self.verb {
            Verb::Offset => "Offset them",
            Verb::Repeat => "Repeat them",
            Verb::Stretch => "Stretch them",
            Verb::Select => "Select them",
        };
        ui.button(words).clicked() && self.run(document)
    }

    fn run(&self, document: &mut Document) -> bool {
        match self.verb {
            Verb::Offset => match self.distance.trim().parse::<By>() {
                Ok(by) => document.with_selected(&format!("Shift {{}} by {by}"), |show, service, labels| {
                    edit::shift(show, service, labels, by)
                }),
                Err(why) => {
                    document.fail(why);
                    false
                }
            },
            Verb::Select => {
                let which = self.which.trim();
                let bars = which.starts_with(|c: char| c.is_ascii_digit() || c == '-');
                match if bars { Pick::bars(which) } else { Pick::labels(which) } {
                    Ok(pick) => {
                        super::commands::select(document, &pick);
                        true
                    }
                    Err(why) => {
                        document.fail(why);
                        false
                    }
                }
            }
            Verb::Repeat => {
                document.repeat(self.bars, self.times);
                true
            }
            Verb::Stretch => document
                .with_selected(&format!("Stretch {{}} {} times", self.factor), |show, service, labels| {
                    edit::stretch(show, service, labels, self.factor)
                }),
        }
    }
}

//! The small window for the values of an action on many cues: offset, repeat, stretch, select.

use crate::document::Document;
use crate::request::{Requests, UiRequest};
use letfall_core::edit::{self, By, Pick};

/// What to do with the cues.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BatchVerb {
    /// Shift by a distance.
    Offset,
    /// Repeat at an interval in bars.
    Repeat,
    /// Stretch the times, keeping the earliest cue in place.
    Stretch,
    /// Select by label or by bars.
    Select,
    /// Move the playhead to a place that is typed.
    GoToBar,
}

/// The window's state.
pub struct Batch {
    verb: BatchVerb,
    distance: String,
    bars: i32,
    times: u32,
    factor: f64,
    which: String,
}

impl Batch {
    /// A window for the values of this action.
    pub fn new(verb: BatchVerb) -> Batch {
        Batch { verb, distance: "-120ms".to_owned(), bars: 4, times: 1, factor: 1.5, which: String::new() }
    }

    /// Shows it; `false` once it is closed.
    pub fn show(&mut self, ctx: &egui::Context, document: &Document, requests: &mut Requests) -> bool {
        let mut open = true;
        let mut done = false;
        let title = match self.verb {
            BatchVerb::Offset => "Offset",
            BatchVerb::Repeat => "Repeat",
            BatchVerb::Stretch => "Stretch",
            BatchVerb::Select => "Select by label or bar",
            BatchVerb::GoToBar => "Go to bar",
        };
        let window = egui::Window::new(title).collapsible(false).resizable(false).open(&mut open);
        window.anchor(egui::Align2::CENTER_TOP, egui::vec2(0.0, 120.0)).show(ctx, |ui| {
            if !matches!(self.verb, BatchVerb::Select | BatchVerb::GoToBar) {
                ui.label(format!("For {}", document.selection_words()));
            }
            done = self.figures(ui, document, requests)
                || ui.input(|i| i.key_pressed(egui::Key::Enter)) && self.run(document, requests);
        });
        open && !done
    }

    fn figures(&mut self, ui: &mut egui::Ui, document: &Document, requests: &mut Requests) -> bool {
        match self.verb {
            BatchVerb::Offset => {
                let label = ui.label("Distance: bars, beats, ms or s, such as 2bars, -1beat, -120ms");
                ui.text_edit_singleline(&mut self.distance).labelled_by(label.id);
            }
            BatchVerb::Repeat => {
                ui.horizontal(|ui| {
                    let label = ui.label("Every so many bars");
                    ui.add(egui::DragValue::new(&mut self.bars).range(1..=1000)).labelled_by(label.id);
                    let label = ui.label("times");
                    ui.add(egui::DragValue::new(&mut self.times).range(1..=1000)).labelled_by(label.id);
                });
            }
            BatchVerb::Stretch => {
                ui.horizontal(|ui| {
                    let label = ui.label("Times as long, from the earliest cue");
                    ui.add(egui::DragValue::new(&mut self.factor).range(0.01..=100.0).speed(0.01))
                        .labelled_by(label.id);
                });
            }
            BatchVerb::Select | BatchVerb::GoToBar => {}
        }
        if matches!(self.verb, BatchVerb::Select | BatchVerb::GoToBar) {
            let label = ui.label(match self.verb {
                BatchVerb::GoToBar => "A bar such as 33 or 33 b2, or a time such as 1:23.5",
                _ => "Labels such as L1..L20,R1, or bars such as 33..48",
            });
            let field = ui.text_edit_singleline(&mut self.which).labelled_by(label.id);
            if !ui.memory(|m| m.focused().is_some()) {
                field.request_focus();
            }
        }
        let words = match self.verb {
            BatchVerb::Offset => "Offset them",
            BatchVerb::Repeat => "Repeat them",
            BatchVerb::Stretch => "Stretch them",
            BatchVerb::Select => "Select them",
            BatchVerb::GoToBar => "Go there",
        };
        ui.button(words).clicked() && self.run(document, requests)
    }

    /// Requests the action. Returns whether the input could be used.
    fn run(&self, document: &Document, requests: &mut Requests) -> bool {
        match self.verb {
            BatchVerb::Offset => match self.distance.trim().parse::<By>() {
                Ok(by) => requests.with_selected(document, &format!("Shift {{}} by {by}"), |show, service, labels| {
                    edit::shift(show, service, labels, by)
                }),
                Err(why) => {
                    requests.fail(why);
                    false
                }
            },
            BatchVerb::Select => {
                let which = self.which.trim();
                let bars = which.starts_with(|c: char| c.is_ascii_digit() || c == '-');
                match if bars { Pick::bars(which) } else { Pick::labels(which) } {
                    Ok(pick) => {
                        requests.push(UiRequest::Pick(pick));
                        true
                    }
                    Err(why) => {
                        requests.fail(why);
                        false
                    }
                }
            }
            BatchVerb::GoToBar => {
                let Ok(plan) = document.plan() else { return false };
                match edit::read_place(&self.which, plan.grid()) {
                    Ok(place) => {
                        let at = place.time(plan.grid());
                        requests.playhead(at);
                        requests.push(UiRequest::Reveal(at));
                        true
                    }
                    Err(why) => {
                        requests.fail(why);
                        false
                    }
                }
            }
            BatchVerb::Repeat => {
                requests.push(UiRequest::Repeat { bars: self.bars, times: self.times });
                true
            }
            BatchVerb::Stretch => {
                let name = format!("Stretch {{}} {} times", self.factor);
                requests.with_selected(document, &name, |show, service, labels| {
                    edit::stretch(show, service, labels, self.factor)
                })
            }
        }
    }
}

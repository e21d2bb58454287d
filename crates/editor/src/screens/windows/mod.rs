//! Windows over the screen: the start panel, the search, help, the tour, tables, values for many cues, typing a path, and questions.

mod batch;
mod choose_cue;
mod cue_table;
mod find;
mod help;
mod start;
mod tour;

pub use batch::{Batch, BatchVerb};
pub use choose_cue::ChooseCue;
pub use cue_table::CueTableWindow;
pub use find::Find;
pub use help::HelpWindow;
pub use start::{Start, stem};
pub use tour::{Tour, TourLook};

use crate::jobs::FilePurpose;
use egui::Key;
use std::path::{Path, PathBuf};

/// The state of typing a path.
pub enum PathAnswer {
    /// The user has chosen this path.
    Chosen(PathBuf),
    /// The user is still typing.
    Typing(String),
    /// The user cancelled.
    Closed,
}

/// The window for typing a path. The file of the show that is `open` can be overwritten without a question.
pub fn path(ctx: &egui::Context, purpose: FilePurpose, mut text: String, open: Option<&Path>) -> PathAnswer {
    let (mut stays, mut go) = (true, false);
    let window = egui::Window::new(purpose.title()).collapsible(false).resizable(false).open(&mut stays);
    window.anchor(egui::Align2::CENTER_TOP, egui::vec2(0.0, 120.0)).show(ctx, |ui| {
        let label = ui.label("Path of the file");
        let field = ui.add(egui::TextEdit::singleline(&mut text).desired_width(520.0)).labelled_by(label.id);
        let path = PathBuf::from(text.trim());
        let over = purpose.writes() && path.is_file() && open != Some(&path);
        if over {
            ui.label("There is a file of that name already; it will be replaced.");
        }
        let button = ui.button(if over { "Replace it" } else { purpose.verb() });
        go = button.clicked() || field.lost_focus() && !over && ui.input(|i| i.key_pressed(Key::Enter));
        if !ctx.memory(|m| m.focused().is_some()) {
            field.request_focus();
        }
    });
    if go {
        PathAnswer::Chosen(PathBuf::from(text.trim()))
    } else if stays {
        PathAnswer::Typing(text)
    } else {
        PathAnswer::Closed
    }
}

/// What to do with unsaved work.
pub enum LeaveAnswer {
    /// Save it.
    Save,
    /// Discard it.
    Leave,
    /// Cancel.
    Back,
}

/// Asks what to do with unsaved work. Returns the answer once there is one.
pub fn leave(ctx: &egui::Context) -> Option<LeaveAnswer> {
    let mut answer = None;
    question("This show has changes that are not saved").show(ctx, |ui| {
        ui.horizontal(|ui| {
            if ui.button("Save them").clicked() {
                answer = Some(LeaveAnswer::Save);
            }
            if ui.button("Discard them").clicked() {
                answer = Some(LeaveAnswer::Leave);
            }
            if ui.button("Go back").clicked() {
                answer = Some(LeaveAnswer::Back);
            }
        });
    });
    answer
}

/// What to do with a show whose file somebody else has changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChangedAnswer {
    /// Save to another file.
    Elsewhere,
    /// Write over what is there.
    Over,
    /// Do not save.
    Back,
}

/// Asks what to do when the show's file was changed by somebody else. Returns the answer once there is one.
pub fn changed_by_others(ctx: &egui::Context, path: &Path) -> Option<ChangedAnswer> {
    let mut answer = None;
    question("Not saved: somebody else has changed this file").show(ctx, |ui| {
        ui.set_max_width(480.0);
        ui.label(format!(
            "Since you opened it here, another editor or program has saved {}. Saving now would throw away what is in it.",
            path.display()
        ));
        ui.horizontal_wrapped(|ui| {
            if ui.button("Save mine as another file").clicked() {
                answer = Some(ChangedAnswer::Elsewhere);
            }
            if ui.button("Write over theirs").clicked() {
                answer = Some(ChangedAnswer::Over);
            }
            if ui.button("Go back").clicked() {
                answer = Some(ChangedAnswer::Back);
            }
        });
    });
    answer
}

/// Asks whether a performance that goes on is to be stopped; `armed` names the releases that are armed. Returns the answer once there
/// is one.
pub fn performing(ctx: &egui::Context, armed: &[String]) -> Option<bool> {
    let mut answer = None;
    question("A performance is running").show(ctx, |ui| {
        if armed.is_empty() {
            ui.label("No release is armed. Leaving stops the run: nothing more is sent, and every release is locked.");
        } else {
            let words = format!(
                "ARMED: {}. Leaving stops the run: nothing more is sent, and every release is locked.",
                armed.join(", ")
            );
            ui.colored_label(ui.visuals().error_fg_color, words);
        }
        ui.horizontal(|ui| {
            if ui.button("Keep performing").clicked() {
                answer = Some(false);
            }
            if ui.button("Stop it and leave").clicked() {
                answer = Some(true);
            }
        });
    });
    answer
}

/// Offers unsaved work of an earlier session, which `words` describe. Once answered, returns whether to restore it.
pub fn recovered(ctx: &egui::Context, words: &str) -> Option<bool> {
    let mut answer = None;
    question("Unsaved work").show(ctx, |ui| {
        ui.label(words);
        ui.horizontal(|ui| {
            if ui.button("Take it back").clicked() {
                answer = Some(true);
            }
            if ui.button("Discard it").clicked() {
                answer = Some(false);
            }
        });
    });
    answer
}

fn question(title: &str) -> egui::Window<'_> {
    let window = egui::Window::new(title).collapsible(false).resizable(false);
    window.anchor(egui::Align2::CENTER_CENTER, egui::Vec2::ZERO)
}

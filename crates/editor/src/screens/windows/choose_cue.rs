//! Choosing what a new cue calls up: typing finds it, Enter takes it.

use crate::document::Document;
use crate::request::{Requests, UiRequest};
use crate::widgets::pick_list::{PickList, PickRow, has_words};
use letfall_core::edit::{self, Choice};
use letfall_core::show::{Kind, TrackKey};
use letfall_core::time::Tick;

/// The window's state.
pub struct ChooseCue {
    kind: Kind,
    track: TrackKey,
    at: Tick,
    list: PickList,
}

impl ChooseCue {
    /// A window for a new cue on a track at a place.
    pub fn new(kind: Kind, track: TrackKey, at: Tick) -> ChooseCue {
        ChooseCue { kind, track, at, list: PickList::default() }
    }

    /// Shows it; `false` once something was chosen or it was closed.
    pub fn show(&mut self, ctx: &egui::Context, document: &Document, requests: &mut Requests) -> bool {
        let Ok(plan) = document.plan() else { return false };
        let mut open = true;
        let mut chosen: Option<Choice> = None;
        let title = format!("New {} cue at {}", self.kind, plan.grid().place_text(self.at));
        let window = egui::Window::new(title).id(egui::Id::unique("choose cue")).collapsible(false).open(&mut open);
        window.resizable(false).anchor(egui::Align2::CENTER_TOP, egui::vec2(0.0, 70.0)).show(ctx, |ui| {
            let words = "Type part of its name or its desk number; Enter takes the marked one";
            self.list.field(ui, words, 352.0);
            let mut found: Vec<Choice> = edit::choices(&document.show, self.kind);
            found.retain(|choice| fits(choice, self.list.text()));
            if found.is_empty() {
                ui.label("Nothing of that name. Add it on the Rig screen, or type less.");
            }
            let rows: Vec<PickRow> = found.iter().map(|choice| row(choice, self.kind)).collect();
            chosen = self.list.rows(ui, &rows, (352.0, 340.0)).and_then(|at| found.into_iter().nth(at));
        });
        if let Some(choice) = chosen {
            requests.push(UiRequest::PutCue { track: self.track.clone(), at: self.at, does: choice.does });
            return false;
        }
        open
    }
}

fn row(choice: &Choice, kind: Kind) -> PickRow {
    let number = choice.also.first().filter(|_| choice.also.len() > 1 && kind != Kind::Release);
    let right = number.map_or_else(String::new, |number| format!("desk {number}"));
    PickRow { words: choice.name.clone(), right, hint: String::new() }
}

/// Whether a choice has all words that were typed, or is meant by its number.
fn fits(choice: &Choice, text: &str) -> bool {
    has_words(&choice.name, text) || choice.also.contains(&text.trim().to_lowercase())
}

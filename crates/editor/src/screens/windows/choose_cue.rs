//! Choosing what a new cue calls up: typing finds it, Enter takes it.

use crate::document::Document;
use crate::request::{Requests, UiRequest};
use egui::{Key, Modifiers};
use letfall_core::edit::{self, Choice};
use letfall_core::show::{Kind, TrackKey};
use letfall_core::time::Tick;

/// The window's state.
pub struct ChooseCue {
    kind: Kind,
    track: TrackKey,
    at: Tick,
    text: String,
    /// Which of the choices found is marked.
    marked: usize,
}

impl ChooseCue {
    /// A window for a new cue on a track at a place.
    pub const fn new(kind: Kind, track: TrackKey, at: Tick) -> ChooseCue {
        ChooseCue { kind, track, at, text: String::new(), marked: 0 }
    }

    /// Shows it; `false` once something was chosen or it was closed.
    pub fn show(&mut self, ctx: &egui::Context, document: &Document, requests: &mut Requests) -> bool {
        let Ok(plan) = document.plan() else { return false };
        let mut open = true;
        let mut chosen: Option<Choice> = None;
        let (up, down) = ctx.input_mut(|i| {
            let mut pressed = |key| i.consume_key(Modifiers::NONE, key);
            (pressed(Key::ArrowUp), pressed(Key::ArrowDown))
        });
        let title = format!("New {} cue at {}", self.kind, plan.grid().place_text(self.at));
        let window = egui::Window::new(title).id(egui::Id::unique("choose cue")).collapsible(false).open(&mut open);
        window.default_size([380.0, 420.0]).anchor(egui::Align2::CENTER_TOP, egui::vec2(0.0, 70.0)).show(ctx, |ui| {
            let label = ui.label("Type part of its name or its desk number; Enter takes the marked one");
            let edit = egui::TextEdit::singleline(&mut self.text).desired_width(352.0);
            let field = ui.add(edit).labelled_by(label.id);
            field.request_focus();
            if field.changed() {
                self.marked = 0;
            }
            let mut found: Vec<Choice> = edit::choices(&document.show, self.kind);
            found.retain(|choice| fits(choice, &self.text));
            if found.is_empty() {
                ui.label("Nothing of that name. Add it on the Rig screen, or type less.");
                return;
            }
            let last = found.len() - 1;
            self.marked = match (up, down) {
                (true, _) => self.marked.saturating_sub(1),
                (_, true) => self.marked + 1,
                _ => self.marked,
            }
            .min(last);
            egui::ScrollArea::vertical().max_height(340.0).show(ui, |ui| {
                for (at, choice) in found.iter().enumerate() {
                    let marked = at == self.marked;
                    let number = choice.also.first().filter(|_| choice.also.len() > 1 && self.kind != Kind::Release);
                    let mut button = egui::Button::new(&choice.name).selected(marked).min_size(egui::vec2(352.0, 0.0));
                    if let Some(number) = number {
                        let number = egui::RichText::new(format!("desk {number}"));
                        let on_mark = ui.visuals().selection.stroke.color;
                        button = button.shortcut_text(if marked { number.color(on_mark) } else { number });
                    }
                    let response = ui.add(button);
                    if marked && (up || down) {
                        response.scroll_to_me(None);
                    }
                    if response.clicked() {
                        chosen = Some(choice.clone());
                    }
                }
            });
            if ui.input(|i| i.key_pressed(Key::Enter)) {
                chosen = found.get(self.marked).cloned();
            }
        });
        if let Some(choice) = chosen {
            requests.push(UiRequest::PutCue { track: self.track.clone(), at: self.at, does: choice.does });
            return false;
        }
        open
    }
}

/// Whether a choice has all words that were typed, or is meant by its number.
fn fits(choice: &Choice, text: &str) -> bool {
    let text = text.trim().to_lowercase();
    let name = choice.name.to_lowercase();
    text.split_whitespace().all(|word| name.contains(word)) || choice.also.contains(&text)
}

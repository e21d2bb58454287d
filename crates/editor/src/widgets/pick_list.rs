//! A list of which one is picked: typing narrows it, arrows mark, Enter or a click takes.

use super::theme::bold;
use egui::{Button, FontId, Key, Modifiers, RichText, TextEdit, Ui, vec2};

/// One row of the list.
#[derive(Clone)]
pub struct PickRow {
    /// What is picked.
    pub words: String,
    /// What stands at its right: keys, a number, what kind it is.
    pub right: String,
    /// More about it, under the pointer.
    pub hint: String,
}

/// The state of the list.
#[derive(Default)]
pub struct PickList {
    text: String,
    marked: usize,
}

impl PickList {
    /// What has been typed.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The field in which people type; it keeps the focus. Its width is that of the list.
    pub fn field(&mut self, ui: &mut Ui, words: &str, width: f32) {
        let label = ui.label(words);
        let field = ui.add(TextEdit::singleline(&mut self.text).desired_width(width)).labelled_by(label.id);
        field.request_focus();
        if field.changed() {
            self.marked = 0;
        }
    }

    /// The rows that fit what was typed. Returns the index of the one that was taken.
    pub fn rows(&mut self, ui: &mut Ui, rows: &[PickRow], (width, height): (f32, f32)) -> Option<usize> {
        let last = rows.len().checked_sub(1)?;
        let (up, down, enter) = ui.input_mut(|i| {
            let mut pressed = |key| i.consume_key(Modifiers::NONE, key);
            (pressed(Key::ArrowUp), pressed(Key::ArrowDown), pressed(Key::Enter))
        });
        self.marked = match (up, down) {
            (true, _) => self.marked.saturating_sub(1),
            (_, true) => self.marked + 1,
            _ => self.marked,
        }
        .min(last);
        let mut taken = enter.then_some(self.marked);
        egui::ScrollArea::vertical().max_height(height).min_scrolled_height(height).show(ui, |ui| {
            for (at, row) in rows.iter().enumerate() {
                let marked = at == self.marked;
                let right = RichText::new(&row.right);
                // On the mark's ground the quiet colour could not be read.
                let right = if marked { right.color(ui.visuals().selection.stroke.color) } else { right };
                let button = Button::new(&row.words).selected(marked).shortcut_text(right).truncate();
                let mut response = ui.add(button.min_size(vec2(width, 0.0)));
                if marked && (up || down) {
                    response.scroll_to_me(None);
                }
                if !row.hint.is_empty() {
                    response = response.on_hover_text(&row.hint);
                }
                if response.clicked() {
                    taken = Some(at);
                }
            }
        });
        taken
    }

    /// Empties the field.
    pub fn clear(&mut self) {
        *self = PickList::default();
    }
}

/// Whether a text has all the words that were typed, in any order.
pub fn has_words(text: &str, typed: &str) -> bool {
    let text = text.to_lowercase();
    typed.to_lowercase().split_whitespace().all(|word| text.contains(word))
}

/// A heading in a window.
pub fn title(ui: &mut Ui, words: &str) {
    ui.label(RichText::new(words).font(FontId::new(17.0, bold())));
}

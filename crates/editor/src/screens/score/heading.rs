//! A heading in the song's panel.

use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};

pub(super) fn head(ui: &mut Ui, words: &str) {
    ui.add_space(8.0);
    ui.label(RichText::new(words).font(FontId::new(15.5, bold())));
}

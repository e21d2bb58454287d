//! Headings of the page after a run.

use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};

/// A heading of the page.
pub fn head(ui: &mut Ui, words: &str) {
    ui.add_space(10.0);
    ui.label(RichText::new(words).font(FontId::new(18.0, bold())));
}

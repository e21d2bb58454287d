//! Colours of presets: from the palette by name, or a figure of one's own.

use crate::desk::{Desk, demo, shot};
use egui_kittest::kittest::Queryable as _;
use letfall_editor::Screen;

#[test]
fn a_preset_gets_a_colour_by_name_or_figure() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    h.state_mut().screen = Screen::Rig;
    h.run_steps(3);
    h.get_by_label("Presets").click();
    h.run_steps(3);
    let name = format!("Colour of {}", h.state().document.show.presets[1].name);
    h.get_by_label(&name).click();
    h.run_steps(4);
    shot(&mut h, "colours");
    h.get_by_label("turquoise").click();
    h.run_steps(4);
    assert_eq!(h.state().document.show.presets[1].colour, "20c8c0");
    assert_eq!(h.state().document.history.depth(), 1);
    // A look at the list changes nothing.
    h.get_by_label(&name).click();
    h.run_steps(4);
    h.key_press(egui::Key::Escape);
    h.run_steps(4);
    assert_eq!(h.state().document.history.depth(), 1);
    h.get_by_label(&name).click();
    h.run_steps(4);
    h.get_by_label("Own #").focus();
    h.run_steps(2);
    h.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
    h.get_by_label("Own #").type_text("#fa0");
    h.run_steps(2);
    h.key_press(egui::Key::Enter);
    h.run_steps(4);
    assert_eq!(h.state().document.show.presets[1].colour, "ffaa00");
}

//! Help: every field of Rig explains itself.

use crate::desk::{Desk, RIG_TABLES, demo, label, shot};
use egui::accesskit::Role;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use letfall_editor::{Editor, Screen};
use std::collections::BTreeSet;

/// The names of all fields of the Rig screen, table by table, in a show that has everything.
fn rig_fields() -> BTreeSet<(String, String)> {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    h.set_size(egui::vec2(2600.0, 4000.0));
    h.state_mut().screen = Screen::Rig;
    h.run_steps(2);
    let mut all = BTreeSet::new();
    for (table, _) in RIG_TABLES {
        h.get_by_role_and_label(Role::Button, table).click();
        h.run_steps(3);
        let fields = [
            Role::SpinButton,
            Role::TextInput,
            Role::MultilineTextInput,
            Role::ComboBox,
            Role::CheckBox,
            Role::RadioButton,
        ];
        for node in h.get_all_by(|node| fields.contains(&node.role())) {
            let name = node.accesskit_node().label().unwrap_or_default();
            all.insert((table.to_owned(), name));
        }
    }
    all
}

#[test]
fn every_field_of_rig_explains_itself() {
    let all = rig_fields();
    assert!(all.len() > 300, "{}", all.len());
    let open: Vec<_> = all
        .iter()
        .filter(|(table, name)| name != "Service on screen" && letfall_editor::help::field(table, name).is_none())
        .collect();
    assert!(open.is_empty(), "{open:#?}");
}

#[test]
fn f1_explains_the_field_that_has_the_focus_and_the_screen() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    h.key_press(Key::F1);
    h.run_steps(4);
    h.get_by_label_contains("The song from left to right");
    h.key_press(Key::Escape);
    h.run_steps(3);
    assert!(h.query_by_label_contains("The song from left to right").is_none());
    h.state_mut().screen = Screen::Rig;
    h.run_steps(3);
    h.get_by_label("Latency of Lighting").focus();
    h.run_steps(3);
    h.key_press(Key::F1);
    h.run_steps(4);
    h.get_by_label_contains("If it is wrong: Every cue of it is early or late by the difference.");
    shot(&mut h, "help-field");
    h.get_by_label("About this screen").click();
    h.run_steps(4);
    h.get_by_label_contains("What is in the room");
    shot(&mut h, "help-rig");
}

#[test]
fn one_search_finds_cues_things_problems_commands_and_help() {
    let desk = Desk::new();
    let mut show = demo();
    show.safety.clear_signal.clear();
    let mut h = desk.editor(show);
    let find = |h: &mut Harness<'_, Editor>, words: &str| {
        h.key_press_modifiers(Modifiers::COMMAND, Key::F);
        h.run_steps(3);
        h.get_by_role_and_label(Role::TextInput, "Type to search").type_text(words);
        h.run_steps(3);
    };
    let enter = |h: &mut Harness<'_, Editor>| {
        h.key_press(Key::Enter);
        h.run_steps(4);
    };
    // A label comes before everything that only holds it.
    find(&mut h, "r1");
    shot(&mut h, "find");
    enter(&mut h);
    assert_eq!(h.state().document.selected(), [label("R1")]);
    let land = h.state().document.plan().unwrap().row(label("R1")).unwrap().land;
    assert_eq!(h.state().document.playhead, land);
    // Something in the rig, from any screen.
    let name = h.state().document.show.receivers[1].name.clone();
    find(&mut h, &name);
    enter(&mut h);
    assert_eq!(h.state().screen, Screen::Rig);
    // A problem leads to its cue, a field's help to the help window, a command is done.
    find(&mut h, "clear call");
    enter(&mut h);
    assert_eq!((h.state().screen, h.state().document.selected()), (Screen::Score, vec![label("R1")]));
    find(&mut h, "contact delay spread");
    enter(&mut h);
    h.get_by_label_contains("How much that delay varies, one standard deviation.");
    h.key_press(Key::Escape);
    h.run_steps(3);
    find(&mut h, "select nothing");
    enter(&mut h);
    assert!(h.state().document.selected().is_empty());
    find(&mut h, "qqqq");
    h.get_by_label_contains("Nothing has these words");
}

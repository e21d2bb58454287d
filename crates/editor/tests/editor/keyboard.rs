//! Every control can be reached with the keyboard alone.

use crate::desk::{Desk, demo};
use crate::files::until;
use egui::Key;
use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use letfall_editor::{Editor, Screen};
use std::collections::BTreeSet;

const CONTROLS: [Role; 6] =
    [Role::Button, Role::TextInput, Role::ComboBox, Role::CheckBox, Role::RadioButton, Role::SpinButton];

/// The enabled controls, by role and name.
fn controls(h: &Harness<'_, Editor>) -> BTreeSet<String> {
    h.get_all_by(|node| CONTROLS.contains(&node.role()) && !node.is_disabled())
        .map(|node| format!("{:?} {:?}", node.accesskit_node().role(), node.accesskit_node().label()))
        .collect()
}

fn focused(h: &Harness<'_, Editor>) -> Option<String> {
    let mut focused = h.query_all_by(|node| node.is_focused() && CONTROLS.contains(&node.role()));
    focused.next().map(|node| format!("{:?} {:?}", node.accesskit_node().role(), node.accesskit_node().label()))
}

#[test]
fn the_tab_key_reaches_every_control_of_every_screen() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let look = |h: &mut Harness<'_, Editor>, name: &str| {
        h.run_steps(3);
        let mut left = controls(h);
        assert!(left.len() > 8, "{name} has controls: {left:?}");
        for _ in 0..left.len() * 4 {
            h.key_press(Key::Tab);
            h.run_steps(1);
            if let Some(reached) = focused(h) {
                left.remove(&reached);
            }
            if left.is_empty() {
                break;
            }
        }
        assert!(left.is_empty(), "{name}: the keyboard does not reach {left:?}");
        h.state_mut().document.selection.labels.clear();
    };
    look(&mut h, "Score");
    h.state_mut().screen = Screen::Services;
    look(&mut h, "Services");
    h.state_mut().screen = Screen::Paper;
    h.run_steps(2);
    // While pages are being set there is a button to stop that, and none afterwards.
    until(&mut h, "the pages", |h| h.query_by_label("Stop").is_none());
    look(&mut h, "Paper");
    h.state_mut().screen = Screen::Rig;
    h.run_steps(2);
    for table in ["Tracks", "Releases", "Kit and cost"] {
        h.get_by_label(table).click();
        look(&mut h, table);
    }
}

/// Seen: typed text with no field focused ran commands, and the space bar started playing from Rig. On every screen but the score, and with a
/// window or a list open over it, plain keys do nothing to the show, the selection, the playhead or the guide.
#[test]
fn plain_keys_act_on_the_score_alone() {
    use egui::{Event, Key, Modifiers};
    use letfall_editor::Screen;
    let keys = [
        Key::Space,
        Key::T,
        Key::Delete,
        Key::ArrowLeft,
        Key::ArrowRight,
        Key::ArrowUp,
        Key::ArrowDown,
        Key::Escape,
        Key::L,
        Key::M,
        Key::R,
        Key::O,
        Key::Home,
        Key::End,
        Key::PageUp,
        Key::PageDown,
        Key::Enter,
    ];
    // In the search, Esc closes and Enter takes.
    let in_search = [Key::Escape, Key::Enter];
    for screen in [Screen::Rig, Screen::Paper, Screen::Services, Screen::Rehearse, Screen::Score] {
        let desk = Desk::new();
        let mut h = desk.editor(demo());
        h.state_mut().screen = screen;
        h.state_mut().document.selection.labels = ["L4".parse().unwrap()].into();
        h.run_steps(3);
        if screen == Screen::Score {
            // The search stands over it.
            h.key_press_modifiers(Modifiers::COMMAND, Key::F);
            h.run_steps(3);
        }
        let before = (h.state().document.selected(), h.state().document.playhead);
        for key in keys.into_iter().filter(|key| screen != Screen::Score || !in_search.contains(key)) {
            h.key_press(key);
            h.key_press_modifiers(Modifiers::SHIFT, key);
            h.key_press_modifiers(Modifiers::ALT, key);
            h.event(Event::Text("t ".to_owned()));
            h.run_steps(2);
        }
        for key in [Key::D, Key::A] {
            h.key_press_modifiers(Modifiers::COMMAND, key);
            h.run_steps(2);
        }
        h.event(Event::Cut);
        h.event(Event::Paste(String::new()));
        h.run_steps(2);
        let document = &h.state().document;
        assert_eq!(document.history.depth(), 0, "{screen:?}: the show was changed");
        assert_eq!((document.selected(), document.playhead), before, "{screen:?}");
        assert!(!h.state().playback.is_playing(), "{screen:?}: the guide plays");
    }
}

/// A list opens, moves and is chosen from without the mouse, and Esc closes it and nothing else.
#[test]
fn lists_are_used_by_keyboard() {
    use egui::Key;
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let names: Vec<String> = h.state().document.show.services.iter().map(|s| s.name.clone()).collect();
    assert_eq!(h.state().document.service, 1);
    let combo = |h: &Harness<'_, Editor>| {
        h.get_by_role_and_label(Role::ComboBox, "Service on screen").focus();
    };
    combo(&h);
    h.run_steps(2);
    h.key_press(Key::Space);
    h.run_steps(4);
    h.get_by_role_and_label(Role::Button, &names[0]);
    // Esc closes the list; the selection of cues stays.
    h.state_mut().document.selection.labels = ["L4".parse().unwrap()].into();
    h.key_press(Key::Escape);
    h.run_steps(4);
    assert!(h.query_by_role_and_label(Role::Button, &names[0]).is_none());
    assert_eq!(h.state().document.selected().len(), 1);
    combo(&h);
    h.run_steps(2);
    h.key_press(Key::Enter);
    h.run_steps(4);
    for _ in 0..6 {
        let focused = h.get_by_role_and_label(Role::Button, &names[0]).accesskit_node().is_focused();
        if focused {
            break;
        }
        h.key_press(Key::ArrowDown);
        h.run_steps(2);
    }
    h.key_press(Key::Enter);
    h.run_steps(4);
    assert_eq!(h.state().document.service, 0, "{names:?}");
}

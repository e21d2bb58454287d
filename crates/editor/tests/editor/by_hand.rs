//! Cues made by hand: keys, double clicks, the menu, tables from a spreadsheet; and Esc, which closes what is open and nothing else.

use crate::desk::{Desk, centre, click, command, demo, label, shot};
use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, PointerButton, Pos2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use letfall_core::schedule::describe;
use letfall_editor::Editor;

const FIND: &str = "Type part of its name or its desk number; Enter takes the marked one";

fn count(h: &Harness<'_, Editor>) -> usize {
    h.state().document.current().unwrap().cues.len()
}

fn selected(h: &Harness<'_, Editor>) -> Vec<String> {
    h.state().document.selected().iter().map(ToString::to_string).collect()
}

/// What the only selected cue does and where, in words.
fn said(h: &Harness<'_, Editor>) -> String {
    let document = &h.state().document;
    let [cue] = document.selected_cues()[..] else { panic!("{:?}", selected(h)) };
    format!("{} at {}", describe(&document.show, cue), cue.at)
}

fn press(h: &mut Harness<'_, Editor>, key: Key) {
    h.key_press(key);
    h.run_steps(3);
}

fn go_to(h: &mut Harness<'_, Editor>, place: &str) {
    h.key_press_modifiers(Modifiers::COMMAND, Key::G);
    h.run_steps(4);
    h.get_by_role_and_label(Role::TextInput, "A bar such as 33 or 33 b2, or a time such as 1:23.5").type_text(place);
    h.run_steps(2);
    press(h, Key::Enter);
}

/// A point on the row of a cue's track, at its height and the x of another one.
fn beside(h: &Harness<'_, Editor>, row: &str, x: f32) -> Pos2 {
    Pos2::new(x, centre(h, row).y)
}

#[test]
fn a_key_asks_what_the_cue_calls_up_and_typing_finds_it() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let before = count(&h);
    go_to(&mut h, "11 b3");
    press(&mut h, Key::L);
    assert_eq!(count(&h), before, "nothing is added before something was chosen");
    let field = h.get_by_role_and_label(Role::TextInput, FIND);
    assert!(field.accesskit_node().is_focused());
    assert_eq!(field.value().as_deref(), Some(""), "the key that opened it is not typed into it");
    let wanted = h.state().document.show.presets[2].clone();
    shot(&mut h, "choose-cue");
    let field = h.get_by_role_and_label(Role::TextInput, FIND);
    field.type_text(&wanted.name.to_uppercase());
    h.run_steps(2);
    press(&mut h, Key::Enter);
    assert_eq!(count(&h), before + 1);
    assert!(said(&h).starts_with(&wanted.name) && said(&h).ends_with("at 11 b3"), "{}", said(&h));
    // Again on the same track with Enter; arrows mark another one.
    go_to(&mut h, "12");
    press(&mut h, Key::Enter);
    press(&mut h, Key::ArrowDown);
    press(&mut h, Key::Enter);
    let second = h.state().document.show.presets[1].name.clone();
    assert!(said(&h).starts_with(&second) && said(&h).ends_with("at 12 b1"), "{}", said(&h));
    assert_eq!((count(&h), h.state().document.history.depth()), (before + 2, 2), "one step for each");
}

#[test]
fn a_double_click_on_a_track_makes_a_cue_there() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let before = count(&h);
    let x = f32::midpoint(centre(&h, "L2").x, centre(&h, "L3").x);
    let at = beside(&h, "L2", x);
    for _ in 0..2 {
        h.drag_at(at);
        h.run_steps(1);
        h.drop_at(at);
        h.run_steps(1);
    }
    h.run_steps(3);
    press(&mut h, Key::Enter);
    assert_eq!(count(&h), before + 1);
    let land = |h: &Harness<'_, Editor>, name: &str| h.state().document.plan().unwrap().row(label(name)).unwrap().land;
    let (new, middle) = (selected(&h).remove(0), (land(&h, "L3") - land(&h, "L2")).micros() / 2);
    let off = (land(&h, &new) - land(&h, "L2")).micros() - middle;
    assert!(off.abs() < 1_200_000, "where it was clicked, to the beat: {off} µs off");
    // On a cue a double click makes none.
    let on = centre(&h, "L2");
    for _ in 0..2 {
        h.drag_at(on);
        h.run_steps(1);
        h.drop_at(on);
        h.run_steps(1);
    }
    h.run_steps(3);
    assert_eq!((count(&h), selected(&h)), (before + 1, vec!["L2".to_owned()]));
    assert!(h.query_by_label_contains("New lighting cue at").is_none());
}

#[test]
fn while_the_song_plays_a_key_adds_a_cue_at_once_like_the_one_before() {
    let desk = Desk::new();
    let mut show = demo();
    show.services[1].song.guide = None;
    let mut h = desk.editor(show);
    let before = count(&h);
    go_to(&mut h, "20 b2");
    press(&mut h, Key::Space);
    assert!(h.state().playback.is_playing());
    press(&mut h, Key::L);
    assert_eq!(count(&h), before + 1);
    press(&mut h, Key::L);
    assert_eq!(count(&h), before + 2, "no window stands in the way");
    let service = h.state().document.current().unwrap().clone();
    let at = |name: &str| service.cues.get(label(name)).unwrap().clone();
    let new = at(&selected(&h)[0]);
    let plan = h.state().document.plan().unwrap();
    let land = plan.row(new.label).unwrap().land;
    let earlier = service.cues.iter().filter(|c| c.track == new.track && plan.row(c.label).unwrap().land < land);
    let last = earlier.max_by_key(|c| plan.row(c.label).unwrap().land).unwrap();
    assert_eq!(new.does, last.does);
    press(&mut h, Key::Space);
}

#[test]
fn the_menu_acts_on_what_lies_under_the_pointer() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let secondary = |h: &mut Harness<'_, Editor>, at: Pos2| {
        h.hover_at(at);
        h.run_steps(1);
        for pressed in [true, false] {
            h.event(Event::PointerButton {
                pos: at,
                button: PointerButton::Secondary,
                pressed,
                modifiers: Modifiers::NONE,
            });
            h.run_steps(1);
        }
        h.run_steps(3);
    };
    let before = count(&h);
    let at = centre(&h, "L4");
    secondary(&mut h, at);
    assert_eq!(selected(&h), ["L4"]);
    shot(&mut h, "menu");
    h.get_by_label_contains("Delete cues").click();
    h.run_steps(3);
    assert_eq!(count(&h), before - 1);
    press(&mut h, Key::Escape);
    let x = f32::midpoint(centre(&h, "L2").x, centre(&h, "L3").x);
    let at = beside(&h, "M1", x);
    secondary(&mut h, at);
    h.get_by_label_contains("New cue on").click();
    h.run_steps(3);
    press(&mut h, Key::Enter);
    assert_eq!(count(&h), before);
    assert!(selected(&h)[0].starts_with('M'));
}

#[test]
fn rows_from_a_spreadsheet_are_looked_over_before_they_are_taken() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let before = count(&h);
    let preset = h.state().document.show.presets[1].name.clone();
    let rows =
        format!("bar\tlabel\twhat\n12 b2\t\t{preset}\n13 and\tL1\t{preset}\n14\t\tNo such thing\n15 b2\t\t{preset}\n");
    h.event(Event::Paste(rows));
    h.run_steps(4);
    assert_eq!(count(&h), before, "nothing is done yet");
    h.get_by_label_contains("2 new, 0 changed, 1 kept as they are, 0 there already, 1 unreadable");
    h.get_by_label_contains("the rig has no \"No such thing\"");
    shot(&mut h, "table");
    h.get_by_label("take the table's").click();
    h.run_steps(3);
    h.get_by_label("Take over 3 cues, leave 1 line out").click();
    h.run_steps(3);
    assert_eq!((count(&h), selected(&h).len()), (before + 2, 3));
    h.state_mut().document.undo();
    assert_eq!((count(&h), h.state().document.history.depth()), (before, 0), "one step");
    // What this editor copied goes past the window, also as the system gives it back.
    let at = centre(&h, "L4");
    click(&mut h, at);
    h.event(Event::Copy);
    h.run_steps(1);
    let copied = h.output().platform_output.commands.iter().find_map(|c| match c {
        egui::OutputCommand::CopyText(text) => Some(text.clone()),
        _ => None,
    });
    let copied = copied.unwrap_or_else(|| panic!("{:?}", h.output().platform_output.commands));
    assert!(copied.starts_with("bar\tlabel\tkind\twhat\ttext\n25 b1\tL4\tlighting\t"), "{copied}");
    h.event(Event::Paste(copied.replace('\n', "\r\n")));
    h.run_steps(3);
    assert_eq!(count(&h), before + 1);
}

#[test]
fn esc_closes_what_is_open_innermost_first_and_nothing_else() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let at = centre(&h, "L4");
    click(&mut h, at);
    command(&mut h, "take cues from a table");
    h.key_press_modifiers(Modifiers::COMMAND, Key::F);
    h.run_steps(3);
    assert!(h.query_by_label("Cues from a table").is_some() && h.query_by_label("Type to search").is_some());
    press(&mut h, Key::Escape);
    assert!(h.query_by_label("Cues from a table").is_some() && h.query_by_label("Type to search").is_none());
    press(&mut h, Key::Escape);
    assert!(h.query_by_label("Cues from a table").is_none());
    assert_eq!(selected(&h), ["L4"], "the selection is still there");
    press(&mut h, Key::Escape);
    assert!(selected(&h).is_empty());
}

#[test]
fn keys_move_the_playhead_and_change_the_screen() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let bar = |h: &Harness<'_, Editor>| {
        h.state().document.plan().unwrap().grid().place_of(h.state().document.playhead_tick()).bar
    };
    let sections: Vec<i32> = h.state().document.current().unwrap().song.sections.iter().map(|s| s.bar).collect();
    press(&mut h, Key::Home);
    assert_eq!(bar(&h), 1);
    let next = *sections.iter().filter(|b| **b > 1).min().unwrap();
    press(&mut h, Key::PageDown);
    assert_eq!(bar(&h), next);
    press(&mut h, Key::PageDown);
    press(&mut h, Key::PageUp);
    assert_eq!(bar(&h), next);
    press(&mut h, Key::End);
    assert_eq!(bar(&h), h.state().document.current().unwrap().song.end_bar());
    go_to(&mut h, "nowhere");
    assert!(h.state().document.said.as_ref().unwrap().failed, "the window stays and says why");
    press(&mut h, Key::Escape);
    for (key, screen) in [(Key::Num3, "Rig"), (Key::Num5, "Paper"), (Key::Num6, "Room"), (Key::Num1, "Score")] {
        h.key_press_modifiers(Modifiers::COMMAND, key);
        h.run_steps(3);
        assert_eq!(format!("{:?}", h.state().screen), screen);
    }
}

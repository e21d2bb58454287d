//! The Score screen: select, drag, copy, paste, repeat, offset; problems; the stage.

use crate::desk::{Desk, at, centre, click, command, demo, drag, label};
use crate::files::until;
use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, Pos2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use letfall_core::show::{Anchor, Show};
use letfall_editor::Editor;

#[test]
fn a_session_from_first_click_to_saved_file() {
    let desk = Desk::new();
    let original = demo();
    let mut h = desk.editor(original.clone());
    // Select L4 and drag it by two bars with snap. It is at 25|1; M1 and L1 are four bars apart.
    let bar = (centre(&h, "M1").x - centre(&h, "L1").x) / 4.0;
    let from = centre(&h, "L4");
    click(&mut h, from);
    assert_eq!(h.state().document.selected(), [label("L4")]);
    drag(&mut h, from, bar * 2.0);
    assert_eq!(at(&h, "L4"), "27 b1");
    // Copy, then paste at the playhead, which a click into the ruler moves.
    h.event(Event::Copy);
    h.run_steps(2);
    let ruler = Pos2::new(centre(&h, "M1").x - 4.0, h.get_by_label("Score canvas").rect().top() + 30.0);
    click(&mut h, ruler);
    let place = h.state().document.plan().unwrap().grid().place_of(h.state().document.playhead_tick());
    assert_eq!(place.bar, 5, "near 5|1");
    h.event(Event::Paste(String::new()));
    h.run_steps(3);
    assert_eq!(h.state().document.selected(), [label("L14")]);
    // Repeat every four bars and offset by -120 ms, both from the list of commands.
    command(&mut h, "repeat every");
    h.get_by_label("Repeat them").click();
    h.run_steps(4);
    assert_eq!(h.state().document.selected(), [label("L15")]);
    let (first, copy) = (at(&h, "L14"), at(&h, "L15"));
    let bars = |text: &str| match text.parse::<Anchor>().unwrap() {
        Anchor::Grid { place, .. } => place.bar,
        Anchor::Clock(_) => panic!("it stays on the grid"),
    };
    assert_eq!(bars(&copy) - bars(&first), 4);
    command(&mut h, "offset");
    h.get_by_label("Offset them").click();
    h.run_steps(4);
    assert_eq!(at(&h, "L15"), format!("{copy} -0.12s"));
    // Undo all, redo all.
    let changed = (*h.state().document.show).clone();
    let steps = h.state().document.history.depth();
    assert_eq!(steps, 4);
    for _ in 0..steps {
        h.get_by_label("Undo").click();
        h.run_steps(3);
    }
    assert_eq!(*h.state().document.show, original);
    for _ in 0..steps {
        h.get_by_label("Redo").click();
        h.run_steps(3);
    }
    assert_eq!(*h.state().document.show, changed);
    // Save and open again: the file is the same as the core would write.
    h.key_press_modifiers(Modifiers::COMMAND, Key::S);
    until(&mut h, "the saved file", |h| !h.state().document.history.is_changed());
    let bytes = std::fs::read(desk.path()).unwrap();
    assert_eq!(letfall_core::file::read(&bytes).unwrap(), changed);
    assert_eq!(bytes, letfall_core::file::write(&changed));
}

#[test]
fn keys_nudge_and_problems_lead_to_their_cue() {
    let desk = Desk::new();
    let mut show = demo();
    show.safety.clear_signal.clear();
    let mut h = desk.editor(show);
    let from = centre(&h, "L2");
    click(&mut h, from);
    h.key_press(Key::ArrowRight);
    h.run_steps(2);
    h.key_press_modifiers(Modifiers::SHIFT, Key::ArrowRight);
    h.run_steps(2);
    h.key_press_modifiers(Modifiers::ALT, Key::ArrowLeft);
    h.run_steps(2);
    assert_eq!(at(&h, "L2"), "10 b2 -0.01s");
    h.get_by_label_contains("R1 has no clear call").click();
    h.run_steps(3);
    assert_eq!(h.state().document.selected(), [label("R1")]);
    assert_eq!(h.state().document.playhead.to_string(), "2:28.930");
}

#[test]
fn the_stage_shows_the_fabric_up_falling_and_down() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let stage = |h: &mut Harness<'_, Editor>, millis: i64| {
        h.state_mut().document.playhead = letfall_core::time::SongTime::saturating(millis * 1000);
        h.run_steps(3);
        h.get_by_label_contains("Stage: ").accesskit_node().label().unwrap()
    };
    let up = stage(&mut h, 140_000);
    assert!(up.contains("Front fabric: up, “Tide turning”") && up.contains("House screen, blank"), "{up}");
    let falls = stage(&mut h, 148_300);
    assert!(falls.contains("Front fabric: falling"), "{falls}");
    let down = stage(&mut h, 152_000);
    assert!(down.contains("Front fabric: down") && down.contains("“Lanterns aloft”"), "{down}");
}

#[test]
fn a_projector_left_on_after_the_drop_is_seen() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    h.state_mut().document.selection = [label("O2")].into_iter().collect();
    h.run_steps(2);
    h.key_press(Key::Delete);
    h.state_mut().document.playhead = letfall_core::time::SongTime::saturating(152_000_000);
    h.run_steps(3);
    let said = h.get_by_label_contains("Stage: ").accesskit_node().label().unwrap();
    assert!(said.contains("falls on the people behind"), "{said}");
    assert!(h.query_by_label_contains("still lit").is_some());
}

#[test]
fn services_carry_and_rig_edits_are_single_steps() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let before = (*h.state().document.show).clone();
    h.get_by_label("Services").click();
    h.run_steps(4);
    h.get_by_role_and_label(Role::CheckBox, "Early").click();
    h.run_steps(3);
    h.get_by_label("replace theirs").click();
    h.run_steps(3);
    h.get_by_label("Carry all cues").click();
    h.run_steps(4);
    assert!(h.query_by_label_contains("Early: 22 carried").is_some());
    assert!(h.state().document.history.depth() <= 1, "one step, or none where all were equal");
    while h.state().document.history.depth() > 0 {
        h.state_mut().document.undo();
    }
    assert_eq!(*h.state().document.show, before);
    h.get_by_label("Rig").click();
    h.run_steps(4);
    h.get_by_label("Hang").click();
    h.run_steps(4);
    assert!(h.query_by_label_contains("To the sightline 1.05 s").is_some());
}

#[test]
fn every_screen_stands_up_in_both_themes_on_an_empty_show_too() {
    for show in [Show::empty("Nothing"), demo()] {
        let desk = Desk::new();
        let mut h = desk.editor(show);
        for _ in 0..2 {
            for name in ["Services", "Rig", "Paper", "Score"] {
                h.get_by_role_and_label(Role::Button, name).click();
                h.run_steps(3);
            }
            h.get_by_label("Dark or paper").click();
            h.run_steps(3);
        }
    }
}

#[test]
fn the_end_of_a_film_and_the_row_of_a_cue_are_dragged() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let body = h.get_by_label("Cue M5").rect();
    let bar = (centre(&h, "M1").x - centre(&h, "L1").x) / 4.0;
    drag(&mut h, Pos2::new(body.right() - 2.0, body.center().y), -bar * 4.0);
    let length = h.state().document.current().unwrap().cues.get(label("M5")).unwrap().length;
    assert!(
        matches!(length, Some(letfall_core::show::Length::Ticks(t)) if t.get() % 960 == 0 && t.quarters() > 30.0),
        "{length:?}"
    );
    assert_eq!(h.state().document.history.undo_name(), Some("Length of M5"));
    // Drag L4 straight down to the backlight's row.
    let (from, to) = (centre(&h, "L4"), centre(&h, "L5"));
    h.hover_at(from);
    h.run_steps(2);
    h.drag_at(from);
    h.run_steps(2);
    h.hover_at(Pos2::new(from.x + 1.0, to.y));
    h.run_steps(2);
    h.drop_at(Pos2::new(from.x, to.y));
    h.run_steps(3);
    assert_eq!(h.state().document.current().unwrap().cues.get(label("L4")).unwrap().track.as_str(), "backlight");
    assert_eq!(at(&h, "L4"), "25 b1");
}

#[test]
fn a_service_of_ones_own_from_an_empty_show() {
    let desk = Desk::new();
    let mut h = desk.editor(Show::empty("Nothing"));
    h.get_by_label("Services").click();
    h.run_steps(3);
    h.get_by_label("New service").click();
    h.run_steps(3);
    let service = h.state().document.current().unwrap();
    assert_eq!((service.name.as_str(), service.song.bars, service.cues.len()), ("New service", 64, 0));
    h.get_by_label("Undo").click();
    h.run_steps(3);
    assert!(h.state().document.show.services.is_empty());
}

#[test]
fn cues_are_selected_by_label_and_their_facts_set_together() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    command(&mut h, "select by label");
    h.get_by_role_and_label(Role::TextInput, "Labels such as L1..L20,R1, or bars such as 33..48")
        .type_text("L1..L3, L5");
    h.run_steps(2);
    h.get_by_label("Select them").click();
    h.run_steps(3);
    assert_eq!(h.state().document.selected(), ["L1", "L2", "L3", "L5"].map(label));
    for (name, text) in [("Fade", "1500ms"), ("Go words", "lights now"), ("Standby ahead", "4")] {
        h.get_by_role_and_label(Role::TextInput, name).click();
        h.run_steps(2);
        h.key_press_modifiers(Modifiers::COMMAND, Key::A);
        h.event(Event::Text(text.to_owned()));
        h.run_steps(2);
        h.key_press(Key::Enter);
        h.run_steps(3);
    }
    assert_eq!(h.state().document.history.depth(), 3, "one step each");
    let document = &h.state().document;
    for cue in document.selected_cues() {
        let letfall_core::show::Action::Lighting { fade, .. } = &cue.does else { panic!("{cue:?}") };
        assert_eq!(fade.unwrap().micros(), 1_500_000);
        let call = cue.call.as_ref().unwrap();
        assert_eq!((call.go_words.as_str(), call.standby.unwrap().micros()), ("lights now", 4_000_000));
    }
    // Text that is not a time is reported, and nothing changes.
    let before = (*document.show).clone();
    h.get_by_role_and_label(Role::TextInput, "Fade").click();
    h.run_steps(2);
    h.event(Event::Text("soon".to_owned()));
    h.run_steps(2);
    h.key_press(Key::Enter);
    h.run_steps(3);
    assert!(h.query_all_by_label_contains("is not a time").count() > 0);
    assert_eq!(*h.state().document.show, before);
}

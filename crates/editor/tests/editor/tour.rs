//! The tour: every step can really be done as it says, and the next one comes by itself.

use crate::desk::{Desk, centre, click, shot};
use crate::files::until;
use egui::accesskit::Role;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_core::show::Show;
use letfall_editor::Editor;

fn step(h: &mut Harness<'_, Editor>, words: &str) {
    h.run_steps(4);
    assert!(h.query_by_label_contains(words).is_some(), "not at “{words}”");
}

fn button(h: &mut Harness<'_, Editor>, words: &str) {
    h.get_by_role_and_label(Role::Button, words).click();
    h.run_steps(4);
}

#[test]
fn the_tour_is_walked_as_it_says() {
    let desk = Desk::new();
    let mut h = desk.editor(Show::empty("Nothing"));
    button(&mut h, "New show");
    h.run_steps(3);
    button(&mut h, "Tour in eight steps");
    until(&mut h, "the demo show", |h| h.state().document.show.title == "Lantern Night");
    assert!(h.state().document.current().unwrap().song.guide.is_some(), "with its recording");
    assert!(h.state().document.path.is_none(), "what is tried changes no file");
    step(&mut h, "1 of 8: The song");
    shot(&mut h, "tour");
    h.key_press(Key::Space);
    step(&mut h, "2 of 8: A cue and its lead");
    h.key_press(Key::Space);
    h.run_steps(3);
    let at = centre(&h, "L4");
    click(&mut h, at);
    step(&mut h, "3 of 8: The reveal");
    let at = centre(&h, "R1");
    click(&mut h, at);
    step(&mut h, "4 of 8: Paper to call from");
    button(&mut h, "Paper");
    step(&mut h, "5 of 8: Rehearse");
    button(&mut h, "Rehearse");
    step(&mut h, "6 of 8: Shift");
    button(&mut h, "Score");
    let at = centre(&h, "L4");
    click(&mut h, at);
    h.key_press_modifiers(Modifiers::SHIFT, Key::ArrowRight);
    step(&mut h, "7 of 8: Copy to another service");
    button(&mut h, "Services");
    h.get_by_role_and_label(Role::CheckBox, "Early").click();
    h.run_steps(4);
    h.get_by_label("replace theirs").click();
    h.run_steps(4);
    h.get_by_label("Carry L4").click();
    step(&mut h, "8 of 8: Export");
    h.key_press_modifiers(Modifiers::COMMAND, Key::E);
    until(&mut h, "asked for a path", |h| h.query_by_label("Path of the file").is_some());
    h.key_press_modifiers(Modifiers::COMMAND, Key::A);
    h.event(egui::Event::Text(desk.folder.path().join("tour.mid").to_str().unwrap().to_owned()));
    h.run_steps(2);
    h.key_press(Key::Enter);
    until(&mut h, "the end", |h| h.query_by_label("That was the tour").is_some());
    assert!(desk.folder.path().join("tour.mid").exists());
    h.run_steps(4);
    button(&mut h, "Close");
    assert!(h.query_by_label("That was the tour").is_none());
}

#[test]
fn the_tour_is_skipped_ended_and_begun_again() {
    let desk = Desk::new();
    let mut h = desk.editor(Show::empty("Nothing"));
    for _ in 0..2 {
        h.state_mut().command(letfall_editor::commands::Command::Tour);
        until(&mut h, "the tour", |h| h.query_by_label_contains("1 of 8").is_some());
        step(&mut h, "1 of 8");
        button(&mut h, "Next step");
        step(&mut h, "2 of 8");
        button(&mut h, "Back");
        step(&mut h, "1 of 8");
        button(&mut h, "End the tour");
        assert!(h.query_by_label_contains("of 8").is_none());
    }
    // Work that is not saved is asked about before the demo show takes its place.
    let at = centre(&h, "L4");
    click(&mut h, at);
    h.key_press(Key::Delete);
    h.run_steps(3);
    h.state_mut().command(letfall_editor::commands::Command::Tour);
    h.run_steps(3);
    assert!(h.query_by_label_contains("changes that are not saved").is_some());
}

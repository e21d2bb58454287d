//! The rig and the song's marks: tables that are edited in place, with one undo step for each change.

use crate::desk::{Desk, demo};
use egui::accesskit::Role;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_core::show::{Message, ShowCommand, Units};
use letfall_editor::{Editor, Screen};

fn table(desk: &Desk, name: &str) -> Harness<'static, Editor> {
    let mut h = desk.editor(demo());
    h.state_mut().screen = Screen::Rig;
    h.run_steps(3);
    h.get_by_label(name).click();
    h.run_steps(3);
    h
}

/// Replaces the contents of a field and leaves it.
fn type_over(h: &mut Harness<'_, Editor>, role: Role, name: &str, text: &str) {
    h.get_by_role_and_label(role, name).click();
    h.run_steps(2);
    h.key_press_modifiers(Modifiers::COMMAND, Key::A);
    h.run_steps(1);
    h.event(egui::Event::Text(text.to_owned()));
    h.run_steps(2);
    h.key_press(Key::Enter);
    h.run_steps(3);
}

#[test]
fn a_receiver_comes_is_named_and_goes() {
    let desk = Desk::new();
    let mut h = table(&desk, "Ports and receivers");
    h.get_by_label("Add a receiver").click();
    h.run_steps(3);
    assert_eq!(h.state().document.show.receivers.len(), demo().receivers.len() + 1);
    let name = h.state().document.show.receivers.last().unwrap().name.clone();
    type_over(&mut h, Role::SpinButton, &format!("Latency of {name}"), "72.5");
    assert_eq!(h.state().document.show.receivers.last().unwrap().latency.mean.micros(), 72_500);
    h.get_by_label(&format!("Remove {name}")).click();
    h.run_steps(3);
    assert_eq!(h.state().document.history.depth(), 3);
    for _ in 0..3 {
        h.get_by_label("Undo").click();
        h.run_steps(3);
    }
    assert_eq!(*h.state().document.show, demo());
}

#[test]
fn a_presets_message_is_edited_where_it_stands() {
    let desk = Desk::new();
    let mut h = table(&desk, "Presets");
    type_over(&mut h, Role::TextInput, "Show-control cue of Blackout", "101.5");
    let cue = |h: &Harness<'_, Editor>| match &h.state().document.show.presets[0].message {
        Message::ShowControl(ShowCommand::Go(path)) => path.cue.as_ref().unwrap().to_string(),
        other => panic!("{other:?}"),
    };
    assert_eq!(cue(&h), "101.5");
    // Text that is not a cue number is reported and not committed.
    type_over(&mut h, Role::TextInput, "Show-control cue of Blackout", "x");
    assert!(h.query_by_label_contains("is not a show-control number").is_some());
    assert_eq!(cue(&h), "101.5");
}

#[test]
fn units_change_what_is_shown_and_not_what_is_kept() {
    let desk = Desk::new();
    let mut h = table(&desk, "Hang");
    h.get_by_label("imperial").click();
    h.run_steps(3);
    let show = &h.state().document.show;
    assert_eq!(show.settings.units, Units::Imperial);
    assert_eq!(show.hangs, demo().hangs);
    // 20 ft are exactly 6.096 m (international foot, 0.3048 m).
    type_over(&mut h, Role::SpinButton, "Drop of Front fabric", "20");
    let metres = h.state().document.show.hangs[0].drop_m;
    assert!((metres - 6.096).abs() < 1e-9, "{metres}");
}

#[test]
fn what_no_show_may_be_is_said_and_not_taken() {
    let desk = Desk::new();
    let mut h = table(&desk, "Hang");
    let top = demo().hangs[0].top_m;
    type_over(&mut h, Role::SpinButton, "Sightline height of Front fabric", &format!("{}", top + 3.0));
    assert!(h.query_by_label_contains("its sightline is above its top edge").is_some());
    assert_eq!(h.state().document.show.hangs, demo().hangs);
    assert_eq!(h.state().document.history.depth(), 0);
}

#[test]
fn a_songs_marks_are_edited_and_cues_move_with_them() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let land = |h: &Harness<'_, Editor>| {
        let label = "R1".parse().unwrap();
        h.state().document.plan().unwrap().row(label).unwrap().land
    };
    let before = land(&h);
    h.get_by_label("Song: bars, metre, tempo, sections…").click();
    h.run_steps(3);
    type_over(&mut h, Role::TextInput, "Tempo of tempo mark 1", "60");
    let after = land(&h);
    assert!(after > before, "slower bars land later: {before} {after}");
    assert_eq!(h.state().document.current().unwrap().song.grid.tempos[0].tempo.to_string(), "60");
    h.get_by_label("Undo").click();
    h.run_steps(3);
    assert_eq!(land(&h), before);
    // A section is split at the playhead.
    h.state_mut().document.playhead = h.state().document.plan().unwrap().grid().bar_time(13);
    h.run_steps(2);
    let count = demo().services[1].song.sections.len();
    h.get_by_label("Another section at the playhead").scroll_to_me();
    h.run_steps(3);
    h.get_by_label("Another section at the playhead").click();
    h.run_steps(3);
    let sections = &h.state().document.current().unwrap().song.sections;
    assert_eq!(sections.len(), count + 1);
    assert!(sections.iter().any(|s| s.bar == 13), "{sections:?}");
}

#[test]
fn a_metre_that_is_none_is_said_and_not_taken() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    h.get_by_label("Song: bars, metre, tempo, sections…").click();
    h.run_steps(3);
    type_over(&mut h, Role::TextInput, "Metre of metre mark 1", "4/5");
    assert_eq!(*h.state().document.show, demo());
}

#[test]
fn a_handover_is_planned_beside_its_release() {
    let desk = Desk::new();
    let mut show = demo();
    // Remove the cues of the handover, because the test plans them.
    let gone = ["O2".parse().unwrap(), "O3".parse().unwrap()];
    letfall_core::edit::delete(&show, "Late", &gone).unwrap().apply(&mut show).unwrap();
    show.services[1].handovers.clear();
    let mut h = desk.editor(show.clone());
    h.state_mut().document.selection = ["R1".parse().unwrap()].into_iter().collect();
    h.run_steps(4);
    assert!(h.query_by_label("in time (timing only)").is_some());
    h.get_by_label("Plan the handover").scroll_to_me();
    h.run_steps(4);
    h.get_by_label("Plan the handover").click();
    h.run_steps(4);
    let service = h.state().document.current().unwrap();
    assert_eq!(service.handovers.len(), 1);
    let cues: Vec<String> =
        service.handovers[0].cues.iter().map(|l| service.cues.get(*l).unwrap().at.to_string()).collect();
    assert_eq!(cues, ["57 b1", "57 b1"], "both as the edge passes the sightline, where the release lands");
    h.get_by_label("Undo").click();
    h.run_steps(3);
    assert_eq!(*h.state().document.show, show, "one step");
}

/// Six at once, one row's values for all below, an output with its routes, a release with its stand-in: each is one step.
#[test]
fn rows_come_six_at_a_time_and_are_filled_down() {
    let desk = Desk::new();
    let large = |name: &str| {
        let mut h = table(&desk, name);
        h.set_size(egui::vec2(2000.0, 2400.0));
        h.run_steps(3);
        h
    };
    let mut h = large("Presets");
    let before = h.state().document.show.presets.len();
    h.get_by_label("Add six").click();
    h.run_steps(3);
    let show = h.state().document.show.clone();
    assert_eq!((show.presets.len(), h.state().document.history.depth()), (before + 6, 1));
    let words = |at: usize| letfall_core::schedule::message_words(&show.presets[at].message);
    assert_ne!(words(before), words(before + 1), "numbers go on");
    let name = show.presets[2].name.clone();
    h.get_by_label(&format!("Fill down from {name}")).click();
    h.run_steps(3);
    let filled = h.state().document.show.clone();
    assert_eq!(h.state().document.history.depth(), 2);
    let first = filled.presets[2].clone();
    for (at, preset) in filled.presets.iter().enumerate().skip(3) {
        assert_eq!((&preset.colour, preset.level, preset.fade), (&first.colour, first.level, first.fade), "{at}");
        assert_eq!(preset.name, show.presets[at].name, "names stay");
        let number = 3 + at - 2;
        assert_eq!(letfall_core::schedule::message_words(&preset.message), format!("GO cue {number}"));
    }
    assert_eq!(filled.presets[..3], show.presets[..3], "what is above stays");
    let mut h = large("Outputs and routes");
    let outputs = h.state().document.show.outputs.len();
    h.get_by_label("Add an output").click();
    h.run_steps(3);
    let show = h.state().document.show.clone();
    let output = &show.outputs[outputs];
    let own: Vec<&str> = show.routes.iter().filter(|r| r.output == output.key).map(|r| r.name.as_str()).collect();
    assert_eq!((own, h.state().document.history.depth()), (vec!["pictures", "blank"], 1));
    assert!(show.route(&output.starts_with).is_some_and(|route| route.output == output.key));
    let mut h = large("Releases");
    h.get_by_label("Add a release").click();
    h.run_steps(3);
    assert!(h.state().document.show.releases.last().unwrap().stand_in.is_some());
}

/// No column moves while a field is edited.
#[test]
fn editing_a_field_shifts_no_column() {
    let desk = Desk::new();
    for (name, fields) in [
        ("Ports and receivers", ["Latency of Lighting", "Channel of Media", "Shortest gap of Screens"]),
        (
            "Releases",
            [
                "Contact delay of Front fabric release",
                "Pulse of Front fabric release",
                "Supply voltage of Front fabric release",
            ],
        ),
        ("Hang", ["Width of Front fabric", "Cloth mass by area of Front fabric", "Drop of Front fabric"]),
    ] {
        let mut h = table(&desk, name);
        h.set_size(egui::vec2(2000.0, 1600.0));
        h.run_steps(4);
        let places = |h: &Harness<'_, Editor>| -> Vec<String> {
            let all = h.get_all_by(|n| {
                matches!(n.role(), Role::SpinButton | Role::TextInput | Role::ComboBox | Role::CheckBox)
            });
            all.map(|n| format!("{:.0}", n.rect().left())).collect()
        };
        for field in fields {
            let before = places(&h);
            let at = h.get_by_label(field).rect().center();
            crate::desk::click(&mut h, at);
            h.event(egui::Event::Text("7".to_owned()));
            h.run_steps(3);
            assert_eq!(places(&h), before, "{field} while it is edited");
            h.key_press(Key::Escape);
            h.run_steps(3);
        }
    }
}

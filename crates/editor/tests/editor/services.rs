//! The Services screen: what a carry would do is shown before it is done, cues are dragged from row to row, and differences are settled cue by
//! cue or all at once.

use crate::desk::{Desk, demo, drag, label, shot};
use egui::Pos2;
use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_core::edit::{Match, compare};
use letfall_core::show::{Action, CueList, FadeShare, Show};
use letfall_editor::{Editor, Screen};

/// The demo show, where “Early” is “Late” but for: L2 another preset, L3 missing, L1 twice.
fn two() -> Show {
    let mut show = demo();
    let late = show.service("Late").unwrap().clone();
    let mut early = letfall_core::show::Service { name: "Early".into(), handovers: Vec::new(), ..late };
    early.cues.take(&[label("L3")]);
    let mut changed = early.cues.get(label("L2")).unwrap().clone();
    changed.does = Action::Lighting { preset: show.presets[9].key.clone(), fade: None, share: FadeShare::default() };
    let mut more = early.cues.get(label("L1")).unwrap().clone();
    more.label = label("L77");
    early.cues.put(vec![changed, more]);
    let late = show.service("Late").unwrap().clone();
    show.services = vec![early, late];
    show.validate().unwrap();
    show
}

fn screen(desk: &Desk) -> Harness<'static, Editor> {
    let mut h = desk.editor(two());
    h.state_mut().screen = Screen::Services;
    h.run_steps(4);
    h
}

fn cues<'a>(h: &'a Harness<'_, Editor>, name: &str) -> &'a CueList {
    &h.state().document.show.service(name).unwrap().cues
}

fn differences(h: &Harness<'_, Editor>) -> usize {
    compare(&h.state().document.show, "Late", "Early", Match::Sections).unwrap().len()
}

fn press(h: &mut Harness<'_, Editor>, words: &str) {
    h.get_by_label(words).click();
    h.run_steps(4);
}

#[test]
fn differences_are_settled_one_by_one_or_all_at_once() {
    let desk = Desk::new();
    let mut h = screen(&desk);
    assert_eq!(differences(&h), 3);
    h.get_by_label("Early: 3 cues are not as in Late");
    shot(&mut h, "services-differences");
    let theirs = cues(&h, "Early").get(label("L2")).unwrap().does.clone();
    press(&mut h, "Take L2 of Early");
    assert_eq!(cues(&h, "Late").get(label("L2")).unwrap().does, theirs);
    assert_eq!((differences(&h), h.state().document.history.depth()), (2, 1));
    // What is only here goes, if theirs is taken.
    press(&mut h, "Take L3 of Early");
    assert!(cues(&h, "Late").get(label("L3")).is_none());
    // What is meant is put away and changes nothing.
    press(&mut h, "Keep L77 as in Late");
    h.get_by_label("Early: nothing new that is not as in Late");
    assert_eq!((differences(&h), h.state().document.history.depth()), (1, 2));
    press(&mut h, "Show 1 that were kept");
    h.get_by_label("Early: 1 cue is not as in Late");
    while h.state().document.history.depth() > 0 {
        h.state_mut().document.undo();
    }
    h.run_steps(3);
    assert_eq!(*h.state().document.show, two());
    press(&mut h, "Take all of Early");
    assert_eq!((differences(&h), h.state().document.history.depth()), (0, 1), "one step");
    assert!(h.query_by_label("Take all of Early").is_none());
}

#[test]
fn a_carry_is_shown_before_it_is_done() {
    let desk = Desk::new();
    let mut h = screen(&desk);
    h.state_mut().document.selection = [label("L2"), label("L3")].into_iter().collect();
    h.run_steps(2);
    h.get_by_role_and_label(Role::CheckBox, "Early").click();
    h.run_steps(4);
    h.get_by_label("Early: 1 would be carried; 1 kept as they have them (L2)");
    press(&mut h, "replace theirs");
    h.get_by_label("Early: 2 would be carried; 1 of theirs replaced (L2)");
    assert_eq!(*h.state().document.show, two(), "nothing is done yet");
    press(&mut h, "Carry 2 cues");
    h.get_by_label("Early: 2 carried; 1 of theirs replaced (L2)");
    assert_eq!(differences(&h), 1);
}

#[test]
fn a_cue_is_dragged_onto_another_row() {
    let desk = Desk::new();
    let mut h = screen(&desk);
    let (from, to) = (h.get_by_label("Service Late").rect(), h.get_by_label("Service Early").rect());
    // Where L3 stands: its bar of all, in the second of four rows of the lane.
    let service = h.state().document.current().unwrap();
    let letfall_core::show::Anchor::Grid { place, .. } = service.cues.get(label("L3")).unwrap().at else { panic!() };
    let (left, right) = (from.left() + 170.0, from.right() - 8.0);
    #[allow(clippy::cast_possible_truncation)]
    let share = (f64::from(place.bar - 1) / f64::from(service.song.bars)) as f32;
    let each = (from.height() - 6.0 - 20.0) / 4.0;
    let at = Pos2::new(left + (right - left) * share + 3.0, from.top() + 3.0 + 18.0 + each * 1.5);
    assert!(cues(&h, "Early").get(label("L3")).is_none());
    h.hover_at(at);
    h.run_steps(2);
    h.drag_at(at);
    h.run_steps(2);
    h.hover_at(Pos2::new(at.x + 8.0, at.y - 8.0));
    h.run_steps(2);
    h.hover_at(Pos2::new(at.x + 10.0, to.center().y));
    h.run_steps(3);
    shot(&mut h, "services-drag");
    h.drop_at(Pos2::new(at.x + 10.0, to.center().y));
    h.run_steps(4);
    assert!(cues(&h, "Early").get(label("L3")).is_some());
    assert_eq!((differences(&h), h.state().document.history.depth()), (2, 1));
    // A box over empty ground still selects.
    drag(&mut h, Pos2::new(left + 1.0, from.bottom() - 4.0), right - left - 20.0);
    assert!(h.state().document.selected().len() > 1 || h.state().document.selected().is_empty());
}

//! Two editors on one file: neither writes over what the other has saved, or has not saved yet, without somebody saying so.

use crate::desk::{Desk, centre, click, demo, harness, shot};
use crate::files::until;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_core::show::Show;
use letfall_editor::Editor;
use std::path::Path;

type Window = Harness<'static, Editor>;

/// A second editor on the show of a desk, as one who opens the same file on the same machine has it.
fn second(desk: &Desk) -> Window {
    let mut editor = Editor::with_recovery(on_disk(&desk.path()), Some(desk.path()), desk.folder.path().join("state"));
    editor.document.service = 1;
    editor.document.prepare();
    harness(editor, [1440.0, 900.0])
}

fn on_disk(path: &Path) -> Show {
    letfall_core::file::read(&std::fs::read(path).unwrap()).unwrap()
}

fn nudge(h: &mut Window, cue: &str) {
    let at = centre(h, cue);
    click(h, at);
    h.key_press(Key::ArrowRight);
    h.run_steps(2);
}

fn save(h: &mut Window) {
    h.key_press_modifiers(Modifiers::COMMAND, Key::S);
    h.run_steps(2);
}

fn saved(h: &mut Window) {
    save(h);
    until(h, "saved", |h| !h.state().document.history.is_changed());
}

/// The show of an editor as it stands now.
fn shown(h: &Window) -> Show {
    (*h.state().document.show).clone()
}

#[test]
fn what_another_has_saved_is_written_over_only_by_choice() {
    let desk = Desk::new();
    let mut one = desk.editor(demo());
    let mut two = second(&desk);
    let said = |h: &Window| h.state().document.said.as_ref().map_or(String::new(), |said| said.text.clone());
    assert!(said(&two).contains("is open in another editor too") && !said(&one).contains("another editor"));
    nudge(&mut one, "L2");
    nudge(&mut two, "L4");
    saved(&mut one);
    // Saving again what is already there asks nothing.
    saved(&mut one);
    let by_one = on_disk(&desk.path());
    let asks = "Not saved: somebody else has changed this file";
    save(&mut two);
    until(&mut two, "the question", |h| h.query_by_label(asks).is_some());
    shot(&mut two, "changed-by-others");
    assert_eq!(on_disk(&desk.path()), by_one);
    assert!(two.state().document.history.is_changed());
    two.get_by_label("Go back").click();
    two.run_steps(3);
    assert!(two.query_by_label(asks).is_none());
    assert_eq!(on_disk(&desk.path()), by_one);
    // Mine beside theirs.
    save(&mut two);
    until(&mut two, "the question", |h| h.query_by_label(asks).is_some());
    two.get_by_label("Write over theirs").click();
    until(&mut two, "saved", |h| !h.state().document.history.is_changed());
    assert_eq!(on_disk(&desk.path()), shown(&two));
    // Now it is the first who must not throw away what the second has saved, and keeps both.
    nudge(&mut one, "L6");
    save(&mut one);
    until(&mut one, "the question", |h| h.query_by_label(asks).is_some());
    one.get_by_label("Save mine as another file").click();
    until(&mut one, "the path to type", |h| h.query_by_label("Path of the file").is_some());
    one.get_by_label("Path of the file").focus();
    one.run_steps(2);
    one.key_press_modifiers(Modifiers::COMMAND, Key::A);
    let beside = desk.folder.path().join("mine.letfall");
    one.get_by_label("Path of the file").type_text(beside.to_str().unwrap());
    one.run_steps(2);
    one.key_press(Key::Enter);
    until(&mut one, "the other file", |h| h.state().document.path.as_deref() == Some(beside.as_path()));
    assert_eq!((on_disk(&desk.path()), on_disk(&beside)), (shown(&two), shown(&one)));
}

/// A file that was damaged, or changed by a program that is no Letfall, is not written over either; one that was taken away is
/// written anew.
#[test]
fn a_file_that_changed_by_itself() {
    let desk = Desk::new();
    let mut one = desk.editor(demo());
    nudge(&mut one, "L2");
    std::fs::write(desk.path(), "half a sho").unwrap();
    save(&mut one);
    until(&mut one, "the question", |h| h.query_by_label("Write over theirs").is_some());
    assert_eq!(std::fs::read(desk.path()).unwrap(), b"half a sho");
    one.key_press(Key::Escape);
    one.run_steps(3);
    assert!(one.query_by_label("Write over theirs").is_none());
    std::fs::remove_file(desk.path()).unwrap();
    saved(&mut one);
    assert_eq!(on_disk(&desk.path()), shown(&one));
    // A file with the line ends of another system is the same show.
    let text = std::fs::read_to_string(desk.path()).unwrap();
    std::fs::write(desk.path(), text.replace('\n', "\r\n")).unwrap();
    nudge(&mut one, "L4");
    saved(&mut one);
    assert_eq!(on_disk(&desk.path()), shown(&one));
}

/// Each keeps its unsaved work for itself: the second is not offered what the first is working on, and leaves it alone when it ends.
#[test]
fn unsaved_work_is_kept_apart() {
    let desk = Desk::new();
    let state = desk.folder.path().join("state");
    let kept = || -> Vec<Show> {
        let files = std::fs::read_dir(&state).unwrap().map(|f| f.unwrap().path());
        files.filter(|f| f.extension().is_some_and(|e| e == "letfall")).map(|f| on_disk(&f)).collect()
    };
    let mut one = desk.editor(demo());
    nudge(&mut one, "L2");
    until(&mut one, "kept", |h| kept().contains(&h.state().document.show));
    let mut two = second(&desk);
    assert!(two.query_by_label("Unsaved work").is_none());
    nudge(&mut two, "L4");
    until(&mut two, "kept", |h| kept().contains(&h.state().document.show));
    assert!(kept().contains(&shown(&one)));
    // By the clock of the file system, which may be coarse, the second saves later than the first was kept.
    std::thread::sleep(std::time::Duration::from_millis(20));
    saved(&mut two);
    assert_eq!(kept(), [shown(&one)]);
    let by_two = shown(&two);
    drop(two);
    let left = shown(&one);
    drop(one);
    // The first breaks down; what it had is offered to the next, and that the second has saved since is told.
    let mut next = second(&desk);
    next.get_by_label_contains("Since then somebody else has saved the file");
    shot(&mut next, "saved-since");
    next.get_by_label("Take it back").click();
    next.run_steps(3);
    assert_eq!((shown(&next), on_disk(&desk.path())), (left, by_two));
}

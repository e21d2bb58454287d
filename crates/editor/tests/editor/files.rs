//! Files: system dialogs and typed paths, large shows in the background, unsaved work.

use crate::desk::{Desk, centre, click, command, demo, harness, label};
use egui::accesskit::Role;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_core::prepared::Prepared;
use letfall_core::show::Show;
use letfall_editor::jobs::dialogs::{Answer, DialogResult, Dialogs, Question};
use letfall_editor::{Editor, Screen};
use std::sync::{Arc, Mutex};

/// A dialog whose answer is decided in advance.
struct Settled(DialogResult, Arc<Mutex<Vec<Question>>>);

impl Dialogs for Settled {
    fn ask(&self, question: Question) -> Answer {
        self.1.lock().unwrap().push(question);
        let chosen = self.0.clone();
        Box::new(move || chosen)
    }
}

/// Opens the start panel.
fn new_show(h: &mut Harness<'static, Editor>) {
    h.get_by_label("New show").click();
    h.run_steps(4);
}

fn with_dialogs(h: &mut Harness<'_, Editor>, chosen: DialogResult) -> Arc<Mutex<Vec<Question>>> {
    let asked = Arc::new(Mutex::new(Vec::new()));
    h.state_mut().dialogs = Box::new(Settled(chosen, asked.clone()));
    asked
}

/// Runs frames until a condition holds, because background work may take any time.
pub fn until(h: &mut Harness<'_, Editor>, what: &str, mut holds: impl FnMut(&Harness<'_, Editor>) -> bool) {
    for _ in 0..2000 {
        h.run_steps(1);
        if holds(h) {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    panic!("not reached: {what}");
}

#[test]
fn save_as_through_the_systems_dialog() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let to = desk.folder.path().join("copy");
    let asked = with_dialogs(&mut h, DialogResult::Path(to.clone()));
    h.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::S);
    let file = to.with_extension("letfall");
    // The file is there a moment before the editor takes over that it was saved. Its name has the ending added.
    until(&mut h, "the copy", |h| h.state().document.path.as_deref() == Some(file.as_path()));
    assert_eq!(letfall_core::file::read(&std::fs::read(&file).unwrap()).unwrap(), demo());
    let asked = asked.lock().unwrap();
    assert!(asked[0].to_write && asked[0].kind.0 == "letfall", "{asked:?}");
    assert_eq!(asked[0].near, desk.path());
}

#[test]
fn a_dialog_that_is_closed_changes_nothing_and_one_that_cannot_be_had_lets_type() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    with_dialogs(&mut h, DialogResult::Nothing);
    h.key_press_modifiers(Modifiers::COMMAND, Key::E);
    h.run_steps(1);
    until(&mut h, "the closed dialog", |h| h.query_by_label("Stop").is_none());
    assert!(h.query_by_role_and_label(Role::TextInput, "Path of the file").is_none());
    with_dialogs(&mut h, DialogResult::NoService);
    h.key_press_modifiers(Modifiers::COMMAND, Key::E);
    until(&mut h, "the path to type", |h| h.query_by_role_and_label(Role::TextInput, "Path of the file").is_some());
    h.get_by_label("Export").click();
    let made = desk.folder.path().join("show-late.mid");
    until(&mut h, "the MIDI file", |_| made.exists());
    let plan = Prepared::hypothetical(Arc::new(demo()), 1).unwrap();
    let file = letfall_export::midi::write(&plan, letfall_export::midi::MidiOptions::default());
    assert_eq!(std::fs::read(made).unwrap(), file.unwrap().bytes);
}

#[test]
fn unsaved_work_is_not_left_without_a_word() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let other = desk.folder.path().join("other.letfall");
    std::fs::write(&other, letfall_core::file::write(&Show::empty("Other"))).unwrap();
    with_dialogs(&mut h, DialogResult::Path(other));
    let at = centre(&h, "L2");
    click(&mut h, at);
    h.key_press(Key::ArrowRight);
    h.run_steps(2);
    h.key_press_modifiers(Modifiers::COMMAND, Key::O);
    h.run_steps(3);
    h.get_by_label("Go back").click();
    h.run_steps(3);
    assert_eq!(h.state().document.show.title, "Lantern Night");
    h.key_press_modifiers(Modifiers::COMMAND, Key::O);
    h.run_steps(3);
    h.get_by_label("Save them").click();
    until(&mut h, "the other show", |h| h.state().document.show.title == "Other");
    let saved = letfall_core::file::read(&std::fs::read(desk.path()).unwrap()).unwrap();
    assert_eq!(saved.services[1].cues.get(label("L2")).unwrap().at.to_string(), "9 b2");
}

#[test]
fn a_large_show_opens_beside_the_screen_and_can_be_given_up() {
    let desk = Desk::new();
    let large = desk.folder.path().join("large.letfall");
    std::fs::write(&large, letfall_core::file::write(&letfall_core::stress::show(20_000, 50).unwrap())).unwrap();
    let mut h = desk.editor(demo());
    // A pipe delivers the file when the test wants it to.
    let pipe = desk.folder.path().join("pipe.letfall");
    assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    h.state_mut().open_file(pipe.clone());
    h.run_steps(2);
    assert!(h.query_by_role_and_label(Role::ProgressIndicator, "How far").is_some());
    h.get_by_label("Stop").click();
    until(&mut h, "the stop", |h| h.query_by_label("Stop").is_none());
    let bytes = std::fs::read(&large).unwrap();
    std::thread::spawn(move || drop(std::fs::write(&pipe, bytes)));
    h.run_steps(10);
    assert_eq!(h.state().document.show.title, "Lantern Night");
    h.state_mut().rehearsal.keeper = Some("the program itself".into());
    h.state_mut().open_file(large);
    until(&mut h, "the large show", |h| {
        h.state().document.path.as_deref().is_some_and(|p| p.ends_with("large.letfall"))
    });
    assert!(
        h.state().rehearsal.keeper.is_some(),
        "if the program dies in a pulse, a contact is opened for this show too"
    );
    // Editing continues while the schedule is being worked out, and the newest one wins.
    command(&mut h, "select all cues");
    for _ in 0..3 {
        h.key_press_modifiers(Modifiers::SHIFT, Key::ArrowRight);
        h.run_steps(1);
    }
    until(&mut h, "the newest schedule", |h| !h.state().document.is_preparing());
    let document = &h.state().document;
    let plan = document.plan().unwrap();
    assert_eq!(*plan.show(), document.show);
    let fresh = Prepared::hypothetical(document.show.clone(), document.service).unwrap();
    assert_eq!(fresh.schedule().rows, plan.schedule().rows);
}

#[test]
fn a_song_takes_bars_and_tempo_from_a_midi_file() {
    let desk = Desk::new();
    let show = demo();
    let plan = Prepared::hypothetical(Arc::new(show.clone()), 0).unwrap();
    let file = letfall_export::midi::write(&plan, letfall_export::midi::MidiOptions::default()).unwrap();
    let path = desk.folder.path().join("early.mid");
    std::fs::write(&path, file.bytes).unwrap();
    let mut h = desk.editor(show.clone());
    with_dialogs(&mut h, DialogResult::Path(path.clone()));
    command(&mut h, "take the song's bars");
    until(&mut h, "the new bars", |h| h.state().document.history.depth() == 1);
    let found = letfall_export::midi::import(&std::fs::read(path).unwrap()).unwrap();
    let song = &h.state().document.current().unwrap().song;
    assert_eq!((song.bars, &song.grid), (found.bars, &found.plan));
    assert_eq!(song.title, show.services[1].song.title, "the title stays");
    h.get_by_label("Undo").click();
    h.run_steps(3);
    assert_eq!(*h.state().document.show, show);
}

#[test]
fn what_cannot_be_opened_is_told_and_nothing_is_lost() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let bad = desk.folder.path().join("bad.letfall");
    std::fs::write(&bad, "{ \"letfall\": 1, ").unwrap();
    with_dialogs(&mut h, DialogResult::Path(bad));
    h.key_press_modifiers(Modifiers::COMMAND, Key::O);
    until(&mut h, "the reason", |h| h.query_by_label_contains("Not done: ").is_some());
    assert_eq!(*h.state().document.show, demo());
}

#[test]
fn nothing_asks_for_a_frame_while_nothing_happens() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    for screen in [Screen::Score, Screen::Services, Screen::Rig, Screen::Paper] {
        h.state_mut().screen = screen;
        until(&mut h, "rest", |h| delay(h) == std::time::Duration::MAX);
        for _ in 0..5 {
            h.run_steps(1);
            assert_eq!(delay(&h), std::time::Duration::MAX, "{screen:?} asks for a frame");
        }
    }
    // A field with the cursor in it asks for no frames either.
    h.state_mut().screen = Screen::Services;
    h.run_steps(3);
    h.get_by_label("Service on screen: name").click();
    until(&mut h, "rest", |h| delay(h) == std::time::Duration::MAX);
}

fn delay(h: &Harness<'_, Editor>) -> std::time::Duration {
    h.output().viewport_output.values().map(|v| v.repaint_delay).min().unwrap()
}

#[test]
fn an_editor_that_ended_without_saving_offers_its_work_back() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let at = centre(&h, "L2");
    click(&mut h, at);
    h.key_press_modifiers(Modifiers::SHIFT, Key::ArrowRight);
    // Autosave runs every 8 s of egui's clock, and a frame counts as 0.05 s here.
    h.run_steps(400);
    let kept = || {
        let files = std::fs::read_dir(desk.folder.path().join("state")).unwrap();
        files.flatten().filter(|file| file.path().extension().is_some_and(|e| e == "letfall" || e == "steps")).count()
    };
    until(&mut h, "the work kept", |_| kept() == 2);
    assert_eq!(
        std::fs::read(desk.path()).unwrap(),
        letfall_core::file::write(&demo()),
        "the saved file is not touched"
    );
    let changed = (*h.state().document.show).clone();
    // Nothing is tidied up when an editor is dropped, and its lock goes, as when the system kills it.
    drop(h);
    let editor = Editor::with_recovery(demo(), Some(desk.path()), desk.folder.path().join("state"));
    let mut h = harness(editor, [1440.0, 900.0]);
    h.get_by_label_contains("and never saved. 1 step of it is kept.");
    h.get_by_label("Take it back").click();
    h.run_steps(3);
    assert_eq!(*h.state().document.show, changed);
    assert!(h.state().document.history.is_changed());
}

#[test]
fn pages_are_chosen_compared_and_exported_from_the_paper_screen() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    h.state_mut().screen = Screen::Paper;
    until(&mut h, "the running order", |h| h.query_by_label("3 pages").is_some());
    assert!(h.query_by_label("Page 3 of 3").is_some());
    h.get_by_label("All sheets").click();
    let plan = Prepared::hypothetical(Arc::new(demo()), 1).unwrap();
    let all =
        letfall_paper::PaperOptions { sheet: letfall_paper::Sheet::All, ..letfall_paper::PaperOptions::default() };
    let count = letfall_paper::print(&plan, &all).unwrap().pages;
    until(&mut h, "all sheets", |h| h.query_by_label(&format!("Page {count} of {count}")).is_some());
    // Compare with a version that differs only in its name.
    let mut old = demo();
    old.version = "draft 1".to_owned();
    let before = desk.folder.path().join("old.letfall");
    std::fs::write(&before, letfall_core::file::write(&old)).unwrap();
    with_dialogs(&mut h, DialogResult::Path(before));
    h.get_by_label("Mark changes since…").click();
    until(&mut h, "the marks", |h| h.query_by_label("since draft 1").is_some());
    let to = desk.folder.path().join("all.pdf");
    with_dialogs(&mut h, DialogResult::Path(to.clone()));
    until(&mut h, "rest", |h| h.query_by_label("Stop").is_none());
    h.get_by_label("Export these pages…").click();
    until(&mut h, "the file", |_| to.exists());
    let options = letfall_paper::PaperOptions {
        sheet: letfall_paper::Sheet::All,
        previous: Some(letfall_paper::EarlierVersion::of(Arc::new(old), &plan.service().name)),
        ..letfall_paper::PaperOptions::default()
    };
    assert_eq!(std::fs::read(to).unwrap(), letfall_paper::print(&plan, &options).unwrap().pdf);
}

#[test]
fn a_song_follows_a_recording_whose_waveform_is_drawn() {
    let desk = Desk::new();
    // Two seconds of a tone, in a file beside the show.
    let path = desk.folder.path().join("guide.wav");
    let spec =
        hound::WavSpec { channels: 1, sample_rate: 8000, bits_per_sample: 16, sample_format: hound::SampleFormat::Int };
    let mut wav = hound::WavWriter::create(&path, spec).unwrap();
    (0..16_000i32).for_each(|n| wav.write_sample(if n / 20 % 2 == 0 { 9000i16 } else { -9000 }).unwrap());
    wav.finalize().unwrap();
    let mut h = desk.editor(demo());
    assert!(h.query_by_label("Guide waveform").is_none());
    with_dialogs(&mut h, DialogResult::Path(path.clone()));
    command(&mut h, "guide recording");
    until(&mut h, "the waveform", |h| h.query_by_label("Guide waveform").is_some());
    let guide = h.state().document.current().unwrap().song.guide.clone().unwrap();
    assert_eq!((guide.path.as_str(), guide.length.micros()), ("guide.wav", 2_000_000), "beside the show, by its name");
    assert_eq!(guide.sha256.len(), 64);
    // When the show is opened again, the recording is read again. When the file is missing, that is reported.
    let show = (*h.state().document.show).clone();
    let mut again = desk.editor(show.clone());
    let before = centre(&again, "L4");
    until(&mut again, "the waveform", |h| h.query_by_label("Guide waveform").is_some());
    assert_eq!(centre(&again, "L4"), before, "no cue moves under a hand when the recording has been read");
    std::fs::remove_file(&path).unwrap();
    let mut gone = desk.editor(show);
    gone.run_steps(10);
    assert!(gone.query_by_label("Guide waveform").is_none());
    assert!(gone.query_by_label_contains("guide.wav\" is not there").is_some());
    assert!(gone.query_by_label("The recording guide.wav is not there.").is_some());
    assert_eq!(centre(&gone, "L4"), before);
    // A file that is not a recording is reported, and nothing changes.
    let depth = h.state().document.history.depth();
    with_dialogs(&mut h, DialogResult::Path(desk.path()));
    command(&mut h, "guide recording");
    until(&mut h, "the reason", |h| h.query_by_label_contains("it is no sound file").is_some());
    assert_eq!(h.state().document.history.depth(), depth);
}

/// The first start: the demo show stands there, gets its recordings beside the screen, and shows a waveform. Work that an earlier editor left
/// unsaved is never lost by that.
#[test]
fn the_first_start_shows_a_waveform_and_loses_nothing() {
    let desk = Desk::new();
    let folder = desk.folder.path().join("state");
    let editor = Editor::first_start(letfall_files::demo_shows::first().unwrap(), folder.clone());
    let mut h = harness(editor, [1440.0, 900.0]);
    assert!(h.query_by_label("Make the show").is_some(), "the start panel");
    h.key_press(Key::Escape);
    h.run_steps(3);
    until(&mut h, "the recording", |h| h.state().document.has_recording());
    assert!(h.state().document.guide_path().unwrap().is_file());
    assert!(!h.state().document.history.is_changed());
    // An editor that ended without saving a show that has no file yet.
    let mut mine = demo();
    mine.title = "Mine".into();
    let autosaver = letfall_editor::jobs::Autosaver::start();
    assert!(autosaver.keep(&letfall_editor::jobs::place(&folder, None), &Arc::new(mine), 3));
    until(&mut h, "kept", |_| {
        letfall_editor::jobs::recovered(&letfall_editor::jobs::place(&folder, None), None).is_some()
    });
    drop(h);
    let mut h =
        harness(Editor::first_start(letfall_files::demo_shows::first().unwrap(), folder.clone()), [1440.0, 900.0]);
    for _ in 0..60 {
        std::thread::sleep(std::time::Duration::from_millis(30));
        h.run_steps(1);
    }
    h.get_by_label("Take it back").click();
    h.run_steps(4);
    assert_eq!(h.state().document.show.title, "Mine");
}

/// A show begun from a recording: its bars are found once it is made, and offered.
#[test]
fn a_show_is_begun_from_a_recording() {
    let desk = Desk::new();
    let song = desk.folder.path().join("song.wav");
    letfall_files::demo_shows::write(desk.folder.path()).unwrap();
    std::fs::rename(desk.folder.path().join("first-opener.wav"), &song).unwrap();
    let mut h = desk.editor(demo());
    with_dialogs(&mut h, DialogResult::Path(song));
    new_show(&mut h);
    h.get_by_label("A recording, bars by ear…").click();
    until(&mut h, "the recording", |h| h.query_by_label_contains("song.wav: its bars are looked for").is_some());
    h.run_steps(2);
    h.get_by_label("Make the show").click();
    until(&mut h, "the bars", |h| h.query_by_label("Use these bars").is_some());
    assert_eq!(h.state().document.history.depth(), 1, "only the guide was taken, the bars are an offer");
    assert_eq!(h.state().document.show.title, "New show");
}

/// A show begun with the bars of a MIDI file and the rig of an earlier show.
#[test]
fn a_show_is_begun_from_a_midi_file_and_an_earlier_rig() {
    let desk = Desk::new();
    let (midi, old) = (desk.folder.path().join("song.mid"), desk.folder.path().join("old.letfall"));
    let plan = Prepared::hypothetical(Arc::new(demo()), 1).unwrap();
    let file = letfall_export::midi::write(&plan, letfall_export::midi::MidiOptions::default()).unwrap();
    std::fs::write(&midi, file.bytes).unwrap();
    std::fs::write(&old, letfall_core::file::write(&demo())).unwrap();
    let mut h = desk.editor(Show::empty("Nothing"));
    new_show(&mut h);
    with_dialogs(&mut h, DialogResult::Path(midi));
    h.get_by_label("Bars from a MIDI file…").click();
    until(&mut h, "the song", |h| h.query_by_label_contains("bars and their tempo, from song").is_some());
    with_dialogs(&mut h, DialogResult::Path(old));
    h.get_by_label("The rig of an earlier show…").click();
    until(&mut h, "the rig", |h| h.query_by_label_contains("Rig of “Lantern Night”, without its cues").is_some());
    h.run_steps(2);
    h.get_by_label("Make the show").click();
    until(&mut h, "the show", |h| h.state().document.show.title == "New show");
    let (show, earlier) = (h.state().document.show.clone(), demo());
    assert_eq!(
        (&show.presets, &show.releases, &show.receivers),
        (&earlier.presets, &earlier.releases, &earlier.receivers)
    );
    assert_eq!((show.services.len(), show.services[0].cues.len()), (1, 0));
    assert!(show.services[0].song.bars >= 80 && !show.services[0].song.sections.is_empty());
    assert_ne!(show.safety, earlier.safety, "the safety sheet is signed anew");
    assert_eq!(h.state().screen, Screen::Score);
}

/// Seen by a hostile reader: a show that is read beside the screen took the place of one that was edited meanwhile.
#[test]
fn what_is_edited_while_another_show_is_read_is_not_lost() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    new_show(&mut h);
    h.get_by_label("Three houses").click();
    h.run_steps(1);
    let at = centre(&h, "L4");
    click(&mut h, at);
    h.key_press(Key::Delete);
    h.run_steps(2);
    let edited = h.state().document.show.clone();
    assert_ne!(*edited, demo());
    until(&mut h, "the demo show's refusal", |h| {
        h.state().document.said.as_ref().is_some_and(|said| said.text.contains("edited meanwhile"))
    });
    assert_eq!(h.state().document.show, edited);
    // Without an edit in between it opens.
    h.state_mut().document.undo();
    h.run_steps(2);
    new_show(&mut h);
    h.get_by_label("Three houses").click();
    until(&mut h, "the demo show", |h| h.state().document.show.title == "Three Houses");
}

/// Whoever gives up saving has given up what was to come after it too: a later save does not close the window or begin another show.
#[test]
fn a_save_that_is_given_up_leaves_nothing_armed() {
    let desk = Desk::new();
    let editor = Editor::with_recovery(demo(), None, desk.folder.path().join("state"));
    let mut h = harness(editor, [1440.0, 900.0]);
    let at = centre(&h, "L4");
    click(&mut h, at);
    h.key_press(Key::Delete);
    h.run_steps(3);
    h.get_by_label("New show").click();
    h.run_steps(3);
    h.get_by_label("Save them").click();
    until(&mut h, "asked for a path", |h| h.query_by_label("Path of the file").is_some());
    h.key_press(Key::Escape);
    h.run_steps(3);
    h.key_press_modifiers(Modifiers::COMMAND, Key::S);
    until(&mut h, "asked again", |h| h.query_by_label("Path of the file").is_some());
    h.key_press_modifiers(Modifiers::COMMAND, Key::A);
    let path = desk.folder.path().join("mine.letfall");
    h.event(egui::Event::Text(path.to_str().unwrap().to_owned()));
    h.run_steps(2);
    h.key_press(Key::Enter);
    until(&mut h, "saved", |h| h.state().document.path.as_deref() == Some(path.as_path()));
    h.run_steps(6);
    assert!(h.query_by_label("Make the show").is_none(), "no other show is begun");
}

/// A show that was just made is kept for recovery before anything in it is edited, and what an earlier session left is offered before its place
/// is taken.
#[test]
fn a_show_just_made_is_kept_and_what_was_left_is_offered() {
    let desk = Desk::new();
    let folder = desk.folder.path().join("state");
    let mut mine = demo();
    mine.title = "Left behind".into();
    let autosaver = letfall_editor::jobs::Autosaver::start();
    assert!(autosaver.keep(&letfall_editor::jobs::place(&folder, None), &Arc::new(mine), 3));
    let mut h = desk.editor(demo());
    until(&mut h, "kept", |_| {
        letfall_editor::jobs::recovered(&letfall_editor::jobs::place(&folder, None), None).is_some()
    });
    new_show(&mut h);
    h.get_by_label("Make the show").click();
    until(&mut h, "the offer", |h| h.query_by_label_contains("“Left behind” was kept").is_some());
    h.run_steps(2);
    h.get_by_label("Discard it").click();
    h.run_steps(2);
    let title = h.state().document.show.title.clone();
    assert_eq!(title, "New show");
    // Kept every 8 s of egui's clock, and a frame counts as 0.05 s here.
    h.run_steps(400);
    until(&mut h, "the new show kept", |_| {
        letfall_editor::jobs::recovered(&letfall_editor::jobs::place(&folder, None), None)
            .is_some_and(|kept| kept.show.title == title)
    });
}

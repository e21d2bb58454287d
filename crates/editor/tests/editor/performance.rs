//! Performances on fake ports: hands, Esc, focus, leaving, an audible guide.

use crate::desk::{Desk, harness};
use crate::run_desk::{Fake, armed, before_release, first_lock, look, look_whole, open, performing, stop_all, until};
use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_editor::commands::Command;
use letfall_editor::{Editor, Playback, Screen, rehearsal::ReleaseStatus};
use letfall_sound::play::{Device, Running};
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

#[test]
fn a_release_is_held_open_by_name_and_sent_is_not_fallen() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 3.0);
    assert!(until(&mut harness, |h| h.query_by_label("HOLD to arm  (A)").is_some()));
    let button = harness.get_by_label("HOLD to arm  (A)").rect().center();
    harness.hover_at(button);
    harness.run_steps(1);
    harness.drag_at(button);
    let armed = |h: &Harness<'_, Editor>| h.query_all_by_label_contains("ARMED by Robin").count() > 0;
    let was = until(&mut harness, armed);
    assert!(was);
    if std::env::var_os("LETFALL_LOOK").is_some() {
        // Drawing the picture takes longer than a hold lasts that is not renewed.
        return look(&mut harness, "armed");
    }
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("message SENT: look at the fabric").count() > 0));
    assert!(fake.sent.lock().unwrap().iter().any(|b| *b == [0x9f, 60, 127]));
    // The only words about a fall are that nobody knows of one.
    let cautions = harness.query_all_by_label_contains("does not mean that the fabric fell").count();
    assert_eq!(harness.query_all_by_label_contains("fell").count(), cautions);
    assert!(harness.query_by_label_contains("released").is_none());
    harness.drop_at(button);
    // Something hangs: a second try is offered, is held anew, leaves as soon as it is armed, and is the last.
    harness.run_steps(2);
    harness.get_by_label("R1 hangs: try once more").click();
    assert!(until(&mut harness, |h| h.query_by_label_contains("R1: second try").is_some()));
    look_whole(&mut harness, "second-try");
    harness.key_down(Key::A);
    let count = || fake.sent.lock().unwrap().iter().filter(|b| **b == [0x9f, 60, 127]).count();
    assert!(until(&mut harness, |_| count() == 2));
    harness.key_up(Key::A);
    assert!(until(&mut harness, |h| h.query_by_label_contains("second try").is_none()));
    assert!(harness.query_by_label("R1 hangs: try once more").is_none());
    stop_all(&mut harness);
}

#[test]
fn a_hand_that_lets_go_locks_again() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 4.0);
    assert!(until(&mut harness, |h| h.state().rehearsal.runs()));
    harness.key_down(Key::A);
    assert!(until(&mut harness, armed));
    harness.key_up(Key::A);
    assert!(until(&mut harness, |h| matches!(first_lock(h), ReleaseStatus::Closed(Some(_)))));
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("NOT SENT: nobody held it open").count() > 0));
    look(&mut harness, "not-sent");
    assert!(!fake.sent.lock().unwrap().iter().any(|b| *b == [0x9f, 60, 127]));
    stop_all(&mut harness);
}

/// The first Esc locks an armed release at once and says so, and the run goes on; the hand that is still down arms nothing more. A
/// second Esc stops all.
#[test]
fn the_first_escape_locks_and_the_second_stops() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 6.0);
    harness.key_down(Key::A);
    assert!(until(&mut harness, armed));
    harness.key_press(Key::Escape);
    assert!(until(&mut harness, |h| !armed(h)));
    assert!(harness.state().rehearsal.runs());
    assert!(harness.query_all_by_label_contains("Every release is locked").count() > 0);
    assert!(until(&mut harness, |h| matches!(first_lock(h), ReleaseStatus::NotSent(_))));
    harness.key_up(Key::A);
    stop_all(&mut harness);
    assert!(!fake.sent.lock().unwrap().iter().any(|b| *b == [0x9f, 60, 127]));
}

/// Leaving a performance is asked, with what is armed named; while a hand is on a release it is refused. The show stays either way.
#[test]
fn leaving_a_performance_is_asked() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 6.0);
    let title = harness.state().document.show.title.clone();
    harness.key_down(Key::A);
    assert!(until(&mut harness, armed));
    for command in [Command::New, Command::Open, Command::TakeGrid] {
        harness.state_mut().command(command);
        harness.run_steps(1);
        assert!(harness.query_by_label_contains("a hand holds a release").is_some(), "{command:?}");
        assert!(harness.query_by_label("Stop it and leave").is_none(), "{command:?}");
    }
    assert!(armed(&harness), "nobody let go");
    harness.key_up(Key::A);
    assert!(until(&mut harness, |h| !armed(h)));
    harness.state_mut().command(Command::New);
    harness.run_steps(2);
    look_whole(&mut harness, "leaving-a-performance");
    harness.get_by_label("Keep performing").click();
    harness.run_steps(2);
    assert!(harness.state().rehearsal.performs() && harness.state().document.show.title == title);
    harness.state_mut().command(Command::New);
    harness.run_steps(2);
    harness.get_by_label("Stop it and leave").click();
    assert!(until(&mut harness, |h| h.query_by_label("Make the show").is_some()));
    assert_eq!(harness.state().document.show.title, title, "it stays until another takes its place");
    harness.run_steps(3);
    harness.get_by_label("Make the show").click();
    let changed = until(&mut harness, |h| h.state().document.show.title != title);
    assert!(changed, "{:?}", harness.state().document.said.as_ref().map(|s| s.text.clone()));
    assert!(!harness.state().rehearsal.performs());
}

/// A run is a snapshot: what is edited meanwhile changes neither what is sent nor the board, which says that it was edited.
#[test]
fn a_run_goes_on_with_the_plan_it_was_started_with() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = open(&desk, &fake);
    before_release(&mut harness, 2.5);
    harness.get_by_label("Start from the playhead").click();
    assert!(until(&mut harness, |h| h.state().rehearsal.runs()));
    assert!(harness.query_by_label_contains("The plan was edited since").is_none());
    // Every cue is moved ten seconds later, and the release's stand-in is another note.
    let document = &mut harness.state_mut().document;
    document.selection = document.current().unwrap().cues.iter().map(|c| c.label).collect();
    document.with_selected("Move {}", |show, service, labels| {
        let by = letfall_core::edit::By::Time(letfall_core::time::SongSpan::from_millis(10_000));
        letfall_core::edit::shift(show, service, labels, by)
    });
    harness.run_steps(3);
    assert!(harness.query_by_label_contains("The plan was edited since this run began").is_some());
    look_whole(&mut harness, "edited-in-a-run");
    // What was planned within the next seconds is sent as it was planned.
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("R1 stand-in sent").count() > 0));
    stop_all(&mut harness);
}

/// A window that lost the focus holds nothing.
#[test]
fn a_window_without_focus_lets_go() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 6.0);
    harness.key_down(Key::A);
    assert!(until(&mut harness, armed));
    harness.input_mut().focused = false;
    assert!(until(&mut harness, |h| !armed(h)));
    assert!(!harness.state().rehearsal.is_holding());
    harness.input_mut().focused = true;
    harness.key_up(Key::A);
    stop_all(&mut harness);
}

/// A keyboard that is unplugged reports no key-up. Its keys stop repeating, and that lets go.
#[test]
fn an_unplugged_keyboard_lets_go() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 8.0);
    harness.key_down(Key::A);
    assert!((0..400).any(|_| {
        thread::sleep(Duration::from_millis(10));
        harness.key_down(Key::A);
        harness.run_steps(1);
        armed(&harness)
    }));
    assert!(until(&mut harness, |h| !armed(h)));
    assert!(harness.query_all_by_label_contains("as if its keyboard were gone").count() > 0);
    harness.key_up(Key::A);
    stop_all(&mut harness);
    assert!(!fake.sent.lock().unwrap().iter().any(|b| *b == [0x9f, 60, 127]));
}

/// Switching to another screen while the key is down lets go of the release, and no more frames are asked for.
#[test]
fn another_screen_lets_go_of_the_release() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 6.0);
    harness.key_down(Key::A);
    assert!(until(&mut harness, armed));
    harness.state_mut().screen = Screen::Score;
    harness.run_steps(1);
    assert!(!harness.state().rehearsal.is_holding());
    assert!(until(&mut harness, |h| matches!(
        first_lock(h),
        ReleaseStatus::Closed(Some(_)) | ReleaseStatus::NotSent(_)
    )));
    harness.key_up(Key::A);
    stop_all(&mut harness);
    assert!(!fake.sent.lock().unwrap().iter().any(|b| *b == [0x9f, 60, 127]));
}

/// A sound device with a clock and a delay of its own, in real time.
struct SlowDevice(Instant);

struct Playing(Arc<std::sync::atomic::AtomicBool>);

impl Drop for Playing {
    fn drop(&mut self) {
        self.0.store(true, std::sync::atomic::Ordering::Relaxed);
    }
}

impl Running for Playing {
    fn failure(&self) -> Option<String> {
        None
    }
}

impl Device for SlowDevice {
    fn sample_rate(&mut self) -> Result<f64, String> {
        Ok(48_000.0)
    }

    /// Blocks of 10 ms, heard 350 ms after they are asked for.
    fn start(&mut self, mut fill: letfall_sound::play::Fill) -> Result<Box<dyn Running>, String> {
        let stop = Arc::new(std::sync::atomic::AtomicBool::new(false));
        let (stopped, begin) = (stop.clone(), self.0);
        thread::spawn(move || {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a wait of milliseconds
            let micros = |wait: f64| Duration::from_micros(wait.max(0.0) as u64);
            let mut block = [0.0f32; 480];
            let first = begin.elapsed().as_secs_f64() * 1e6;
            let mut asked = 0.0;
            while !stopped.load(std::sync::atomic::Ordering::Relaxed) {
                fill(&mut block, first + asked + 350_000.0);
                asked += 10_000.0;
                let due = first + asked;
                let wait = due - begin.elapsed().as_secs_f64() * 1e6;
                thread::sleep(micros(wait));
            }
        });
        Ok(Box::new(Playing(stop)))
    }

    fn now(&self) -> f64 {
        self.0.elapsed().as_secs_f64() * 1e6
    }
}

/// With an audible guide the device leads the time: the board, the hold and the release go by it, and the release leaves.
#[test]
fn with_an_audible_guide_a_held_release_leaves() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows/first-opener.letfall");
    let mut show = letfall_core::file::read(&std::fs::read(&path).unwrap()).unwrap();
    show.ports[0].name = "Playback MIDI out".into();
    let mut editor = Editor::with_recovery(show, Some(path), desk.folder.path().join("state"));
    let ports = fake.clone();
    editor.rehearsal.ports = Box::new(move || Box::new(ports.clone()));
    editor.playback = Playback::on(Box::new(SlowDevice(Instant::now())));
    editor.screen = Screen::Rehearse;
    editor.document.prepare();
    let mut harness = harness(editor, [1440.0, 1500.0]);
    harness.get_by_label("Perform: a release is sent while it is held").click();
    harness.run_steps(3);
    "Robin".clone_into(&mut harness.state_mut().rehearsal.holder);
    before_release(&mut harness, 7.0);
    harness.get_by_label("Start from the playhead").click();
    assert!(until(&mut harness, |h| h.state().playback.is_playing() && h.state().rehearsal.runs()));
    // The guide is decoded beside the screen and heard late; then the time goes back to it once, which locks. The hand comes when
    // the run has followed what is heard for a while.
    let begin = harness.state().document.playhead;
    assert!(until(&mut harness, |h| h.query_by_label("HOLD to arm  (A)").is_some()));
    assert!((0..1000).any(|_| {
        thread::sleep(Duration::from_millis(10));
        harness.run_steps(1);
        let editor = harness.state_mut();
        let song = editor.rehearsal.run.as_ref().unwrap().song();
        editor
            .playback
            .heard()
            .is_some_and(|heard| heard > begin.secs_f64() + 1.0 && (heard - song.secs_f64()).abs() < 0.1)
    }));
    harness.key_down(Key::A);
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("message SENT: look at the fabric").count() > 0));
    harness.key_up(Key::A);
    assert!(fake.sent.lock().unwrap().iter().any(|b| *b == [0x93, 72, 127]));
    stop_all(&mut harness);
}

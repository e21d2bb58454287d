//! The Rehearse screen, with fake ports.

use crate::desk::{Desk, demo, harness};
use egui::Key;
use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_core::show::Kind;
use letfall_core::time::SongTime;
use letfall_editor::commands::Command;
use letfall_editor::{Editor, Playback, Screen, rehearsal::ReleaseStatus};
use letfall_live::{Gone, InputCallback, PortInput, PortOut, Ports};
use letfall_sound::play::{Device, Running};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

#[derive(Clone, Default)]
struct Fake {
    sent: Arc<Mutex<Vec<Vec<u8>>>>,
    heard: Arc<Mutex<Option<InputCallback>>>,
}

struct Wire(Fake);

impl PortOut for Wire {
    fn send(&mut self, bytes: &[u8]) -> Result<(), Gone> {
        self.0.sent.lock().unwrap().push(bytes.to_vec());
        Ok(())
    }
}

impl Ports for Fake {
    fn outputs(&mut self) -> Result<Vec<String>, String> {
        Ok(vec!["Playback MIDI out".to_owned(), "Stage left MIDI out".to_owned()])
    }

    fn inputs(&mut self) -> Result<Vec<String>, String> {
        Ok(vec!["Pads".to_owned()])
    }

    fn open(&mut self, _: &str) -> Result<Box<dyn PortOut>, String> {
        Ok(Box::new(Wire(self.clone())))
    }

    fn listen(&mut self, _: &str, heard: InputCallback) -> Result<PortInput, String> {
        *self.heard.lock().unwrap() = Some(heard);
        Ok(PortInput(Box::new(())))
    }
}

fn open(desk: &Desk, fake: &Fake) -> Harness<'static, Editor> {
    open_with(demo(), desk, fake)
}

fn open_with(show: letfall_core::show::Show, desk: &Desk, fake: &Fake) -> Harness<'static, Editor> {
    let mut editor = Editor::with_recovery(show, None, desk.folder.path().join("state"));
    let ports = fake.clone();
    editor.rehearsal.ports = Box::new(move || Box::new(ports.clone()));
    editor.screen = Screen::Rehearse;
    editor.document.service = 1;
    editor.document.prepare();
    // High enough that every control of the desk is visible.
    harness(editor, [1440.0, 1500.0])
}

/// Runs frames until a condition holds; gives up after twelve seconds.
fn until(harness: &mut Harness<'_, Editor>, holds: impl Fn(&Harness<'_, Editor>) -> bool) -> bool {
    let begin = Instant::now();
    while begin.elapsed() < Duration::from_secs(12) {
        harness.run_steps(1);
        if holds(harness) {
            return true;
        }
        thread::sleep(Duration::from_millis(10));
    }
    false
}

/// Esc twice: the first locks every release, the second stops all.
fn stop_all(harness: &mut Harness<'_, Editor>) {
    harness.key_press(Key::Escape);
    harness.run_steps(2);
    harness.key_press(Key::Escape);
    harness.run_steps(1);
}

/// Saves a picture for a person to look at, if `LETFALL_LOOK` names a folder.
fn look(harness: &mut Harness<'_, Editor>, name: &str) {
    if std::env::var_os("LETFALL_LOOK").is_some() {
        harness.set_size(egui::vec2(1280.0, 800.0));
        harness.run_steps(2);
        look_whole(harness, name);
        harness.set_size(egui::vec2(1440.0, 1500.0));
        harness.run_steps(1);
    }
}

/// The same at the current size.
fn look_whole(harness: &mut Harness<'_, Editor>, name: &str) {
    if let Some(folder) = std::env::var_os("LETFALL_LOOK") {
        harness.render().unwrap().save(std::path::Path::new(&folder).join(name).with_extension("png")).unwrap();
    }
}

/// Moves the playhead this many seconds before the release.
fn before_release(harness: &mut Harness<'_, Editor>, secs: f64) {
    let plan = harness.state().document.plan().unwrap();
    let row = plan.schedule().rows.iter().find(|r| r.label.kind == Kind::Release).unwrap();
    harness.state_mut().document.playhead = row.send - letfall_core::time::SongSpan::from_secs_f64(secs);
}

/// Starts a performance this many seconds before the release, with the name of a holder.
fn performing(desk: &Desk, fake: &Fake, secs: f64) -> Harness<'static, Editor> {
    let mut harness = open(desk, fake);
    harness.get_by_label("Perform: a release is sent while it is held").click();
    harness.run_steps(3);
    "Robin".clone_into(&mut harness.state_mut().rehearsal.holder);
    before_release(&mut harness, secs);
    harness.get_by_label("Start from the playhead").click();
    harness
}

#[test]
fn a_rehearsal_from_start_to_stop() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = open(&desk, &fake);
    harness.get_by_label("STANDS");
    before_release(&mut harness, 1.0);
    let from = harness.state().document.playhead;
    harness.get_by_label("Start from the playhead").click();
    assert!(until(&mut harness, |h| h.state().rehearsal.runs()));
    harness.get_by_label("REHEARSING: stand-ins only");
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("R1 stand-in sent").count() > 0));
    assert!(harness.state().document.playhead > from);
    // A single key stops everything.
    stop_all(&mut harness);
    assert!(until(&mut harness, |h| !h.state().rehearsal.runs()));
    let release = fake.sent.lock().unwrap().iter().any(|b| *b == [0x9f, 60, 127]);
    assert!(!release, "a release left in a rehearsal");
}

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
    assert!(harness.query_by_label_contains("fell").is_none() && harness.query_by_label_contains("released").is_none());
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
    assert!(until(&mut harness, |h| !h.state().rehearsal.runs()));
}

#[test]
fn a_hand_that_lets_go_locks_again() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 4.0);
    assert!(until(&mut harness, |h| h.state().rehearsal.runs()));
    harness.key_down(Key::A);
    let armed =
        |h: &Harness<'_, Editor>| matches!(h.state().rehearsal.run.as_ref().unwrap().locks[0], ReleaseStatus::Armed(_));
    assert!(until(&mut harness, armed));
    harness.key_up(Key::A);
    assert!(until(&mut harness, |h| matches!(
        h.state().rehearsal.run.as_ref().unwrap().locks[0],
        ReleaseStatus::Closed(Some(_))
    )));
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("NOT SENT: nobody held it open").count() > 0));
    look(&mut harness, "not-sent");
    assert!(!fake.sent.lock().unwrap().iter().any(|b| *b == [0x9f, 60, 127]));
    stop_all(&mut harness);
    assert!(until(&mut harness, |h| !h.state().rehearsal.runs()));
}

/// The first Esc locks an armed release at once and says so, and the run goes on; the hand that is still down arms nothing more. A
/// second Esc stops all.
#[test]
fn the_first_escape_locks_and_the_second_stops() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 6.0);
    harness.key_down(Key::A);
    let armed =
        |h: &Harness<'_, Editor>| matches!(h.state().rehearsal.run.as_ref().unwrap().locks[0], ReleaseStatus::Armed(_));
    assert!(until(&mut harness, armed));
    harness.key_press(Key::Escape);
    assert!(until(&mut harness, |h| !armed(h)));
    assert!(harness.state().rehearsal.runs());
    assert!(harness.query_all_by_label_contains("Every release is locked").count() > 0);
    assert!(until(&mut harness, |h| matches!(
        h.state().rehearsal.run.as_ref().unwrap().locks[0],
        ReleaseStatus::NotSent(_)
    )));
    harness.key_up(Key::A);
    stop_all(&mut harness);
    assert!(until(&mut harness, |h| !h.state().rehearsal.runs()));
    assert!(!fake.sent.lock().unwrap().iter().any(|b| *b == [0x9f, 60, 127]));
}

/// Leaving a performance is asked, with what is armed named; while a hand is on a release it is refused. The show stays either way.
#[test]
fn leaving_a_performance_is_asked() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 6.0);
    let title = harness.state().document.show.title.clone();
    harness.key_down(Key::A);
    let armed =
        |h: &Harness<'_, Editor>| matches!(h.state().rehearsal.run.as_ref().unwrap().locks[0], ReleaseStatus::Armed(_));
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
    harness.get_by_label("Go on performing").click();
    harness.run_steps(2);
    assert!(harness.state().rehearsal.performs() && harness.state().document.show.title == title);
    harness.state_mut().command(Command::New);
    harness.run_steps(2);
    harness.get_by_label("Stop it and leave").click();
    assert!(until(&mut harness, |h| h.state().document.show.title != title));
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
    assert!(until(&mut harness, |h| !h.state().rehearsal.runs()));
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
    before_release(&mut harness, 5.0);
    harness.get_by_label("Start from the playhead").click();
    assert!(until(&mut harness, |h| h.state().playback.is_playing() && h.state().rehearsal.runs()));
    // The guide is decoded beside the screen: the hand comes when it is heard.
    assert!(until(&mut harness, |h| h.query_by_label("HOLD to arm  (A)").is_some()));
    thread::sleep(Duration::from_millis(600));
    harness.run_steps(2);
    harness.key_down(Key::A);
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("message SENT: look at the fabric").count() > 0));
    harness.key_up(Key::A);
    assert!(fake.sent.lock().unwrap().iter().any(|b| *b == [0x93, 72, 127]));
    stop_all(&mut harness);
    assert!(until(&mut harness, |h| !h.state().rehearsal.runs()));
}

/// A window that lost the focus holds nothing.
#[test]
fn a_window_without_focus_lets_go() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 6.0);
    harness.key_down(Key::A);
    let armed =
        |h: &Harness<'_, Editor>| matches!(h.state().rehearsal.run.as_ref().unwrap().locks[0], ReleaseStatus::Armed(_));
    assert!(until(&mut harness, armed));
    harness.input_mut().focused = false;
    assert!(until(&mut harness, |h| !armed(h)));
    assert!(!harness.state().rehearsal.is_holding());
    harness.input_mut().focused = true;
    harness.key_up(Key::A);
    stop_all(&mut harness);
    assert!(until(&mut harness, |h| !h.state().rehearsal.runs()));
}

#[test]
fn what_was_timed_is_one_edit_with_its_leads() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = open(&desk, &fake);
    harness.get_by_label_contains("After the run").click();
    harness.run_steps(3);
    let before = (*harness.state().document.show).clone();
    let name = format!("Drop of {}, s", before.hangs[0].name);
    harness.get_by_label(&name).focus();
    harness.run_steps(1);
    harness.get_by_label(&name).type_text("0.91");
    harness.run_steps(2);
    let delay = format!("Delay of {}, ms", before.receivers[0].name);
    harness.get_by_label(&delay).focus();
    harness.run_steps(1);
    harness.get_by_label(&delay).type_text("33");
    harness.run_steps(3);
    harness.get_by_label("Leads, before and after");
    assert!(harness.get_all_by_label_contains("its message leaves").count() > 0);
    harness.get_by_label("Take all this into the show").click();
    harness.run_steps(3);
    let after = &harness.state().document.show;
    assert_eq!(after.hangs[0].measured.len(), before.hangs[0].measured.len() + 1);
    assert_eq!(after.receivers[0].latency.mean.micros(), 33_000);
    harness.state_mut().document.undo();
    assert_eq!(*harness.state().document.show, before);
}

/// Switching to another screen while the key is down lets go of the release, and no more frames are asked for.
#[test]
fn another_screen_lets_go_of_the_release() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = performing(&desk, &fake, 6.0);
    harness.key_down(Key::A);
    let armed =
        |h: &Harness<'_, Editor>| matches!(h.state().rehearsal.run.as_ref().unwrap().locks[0], ReleaseStatus::Armed(_));
    assert!(until(&mut harness, armed));
    harness.state_mut().screen = Screen::Score;
    harness.run_steps(1);
    assert!(!harness.state().rehearsal.is_holding());
    assert!(until(&mut harness, |h| matches!(
        h.state().rehearsal.run.as_ref().unwrap().locks[0],
        ReleaseStatus::Closed(Some(_)) | ReleaseStatus::NotSent(_)
    )));
    harness.key_up(Key::A);
    stop_all(&mut harness);
    assert!(until(&mut harness, |h| !h.state().rehearsal.runs()));
    assert!(!fake.sent.lock().unwrap().iter().any(|b| *b == [0x9f, 60, 127]));
}

#[test]
fn pads_become_cues() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = open(&desk, &fake);
    harness.get_by_label("What is struck becomes cues when the run stops").click();
    harness.run_steps(2);
    harness.get_by_label("on eighths").click();
    harness.get_by_label("Listen to").click();
    harness.run_steps(3);
    harness.get_by_label("Pads").click();
    harness.run_steps(3);
    let count = harness.state().document.current().unwrap().cues.len();
    harness.state_mut().document.playhead = SongTime::ZERO;
    harness.get_by_label("Start from the playhead").click();
    assert!(until(&mut harness, |h| h.state().rehearsal.runs()));
    for _ in 0..3 {
        thread::sleep(Duration::from_millis(400));
        if let Some(heard) = fake.heard.lock().unwrap().as_mut() {
            heard(&[0x90, 36, 100]);
        }
        harness.run_steps(1);
    }
    stop_all(&mut harness);
    assert!(until(&mut harness, |h| !h.state().rehearsal.runs()));
    harness.run_steps(3);
    assert_eq!(harness.state().document.current().unwrap().cues.len(), count + 3);
    harness.state_mut().document.undo();
    assert_eq!(harness.state().document.current().unwrap().cues.len(), count);
}

/// Two of the show's ports are connected to the same port of the machine, and a preset uses the release's message on the second
/// one. This is reported before the run, and the preset is not sent.
#[test]
fn what_would_let_a_fabric_go_by_these_ports_is_said() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut show = demo();
    let message = show.releases[0].message.clone();
    let mut apart = show.receiver(&show.releases[0].receiver).unwrap().clone();
    let other = show.ports.iter().find(|p| p.key != apart.port).unwrap().clone();
    (apart.key, apart.port) = ("apart".parse().unwrap(), other.key.clone());
    for preset in &mut show.presets {
        (preset.receiver, preset.message) = (apart.key.clone(), message.clone());
    }
    show.receivers.push(apart);
    let mut harness = open_with(show, &desk, &fake);
    let said =
        |h: &Harness<'_, Editor>| h.query_all_by_label_contains("By these ports it might let a fabric go").count();
    harness.get_by_label("Start from the playhead").click();
    assert!(until(&mut harness, |h| h.state().rehearsal.runs()));
    assert_eq!(said(&harness), 0);
    stop_all(&mut harness);
    assert!(until(&mut harness, |h| !h.state().rehearsal.runs()));
    let boxes = |h: &mut Harness<'_, Editor>| h.get_by_role_and_label(Role::ComboBox, &other.name).click();
    boxes(&mut harness);
    harness.run_steps(3);
    let wrong = if other.name.contains("Playback") { "Stage left MIDI out" } else { "Playback MIDI out" };
    harness.get_by_role_and_label(Role::Button, wrong).click();
    let there = format!("OK  {}: \"{wrong}\" is there", other.name);
    assert!(until(&mut harness, |h| h.query_by_label(&there).is_some()));
    harness.get_by_label("Start from the playhead").click();
    let told = "NOT SENT: it might let a fabric go";
    assert!(until(&mut harness, |h| h.query_all_by_label_contains(told).count() > 0));
    look(&mut harness, "held-back");
    assert!(said(&harness) > 0);
}

/// The small demo show in its own folder, so that its guide is found; high enough for the whole panel.
fn opener(desk: &Desk) -> (Harness<'static, Editor>, letfall_core::show::Show) {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows/first-opener.letfall");
    let show = letfall_core::file::read(&std::fs::read(&path).unwrap()).unwrap();
    let editor = Editor::with_recovery(show.clone(), Some(path), desk.folder.path().join("state"));
    (harness(editor, [1440.0, 1900.0]), show)
}

/// Bars found in one service's recording are not offered for another. Using the offer closes it, and is one step.
#[test]
fn bars_by_ear_are_offered_used_and_taken_back() {
    let desk = Desk::new();
    let (mut harness, show) = opener(&desk);
    harness.get_by_label("Song: bars, metre, tempo, sections…").click();
    harness.run_steps(4);
    harness.get_by_label("Find the bars in the recording").click();
    assert!(until(&mut harness, |h| h.query_by_label("Use these bars").is_some()));
    assert!(harness.query_all_by_label_contains("Found 16 bars in 4/4").count() > 0);
    assert_eq!(*harness.state().document.show, show);
    look_whole(&mut harness, "by-ear");
    harness.get_by_label("Half the tempo").click();
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("Found 8 bars").count() > 0));
    harness.get_by_label("Twice the tempo").click();
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("Found 16 bars").count() > 0));
    // Counted differently, and back again.
    let tempo = |h: &Harness<'_, Editor>| h.state().by_ear.found().map_or(0.0, letfall_sound::bars::Found::tempo);
    harness.get_by_label("3 beats for 2").click();
    assert!(until(&mut harness, |h| (115.0..195.0).contains(&tempo(h))));
    harness.get_by_label("2 beats for 3").click();
    assert!(until(&mut harness, |h| (tempo(h) - 100.0).abs() < 0.5));
    assert!(harness.query_all_by_label_contains("Found 16 bars").count() > 0);
    harness.get_by_label("Use these bars").click();
    harness.run_steps(4);
    assert!(harness.query_by_label("Use these bars").is_none());
    assert_eq!(harness.state().document.show.services[0].song.bars, 16);
    harness.state_mut().document.undo();
    assert_eq!(*harness.state().document.show, show);
}

/// The user gives one bar, from the score, the playhead or taps, and the others are found from it as given.
#[test]
fn bars_are_found_from_one_that_is_known() {
    let desk = Desk::new();
    let (mut harness, show) = opener(&desk);
    harness.get_by_label("Song: bars, metre, tempo, sections…").click();
    harness.run_steps(4);
    harness.state_mut().document.playhead = SongTime::from_micros(3_000_000).unwrap();
    harness.get_by_label("I know one of its bars").click();
    harness.run_steps(4);
    // The bar drawn under the playhead begins at 2.4 s.
    harness.get_by_label("Begins at the playhead").click();
    harness.run_steps(2);
    assert!(harness.query_by_label("Find the bars in the recording").is_none());
    let bar = harness.state().by_ear.known().unwrap();
    assert_eq!((bar.from, bar.to, bar.beats), (3.0, 4.8, Some(4)));
    harness.get_by_label("The bar drawn at the playhead").click();
    harness.run_steps(2);
    assert_eq!(harness.state().by_ear.known().unwrap().from, 2.4);
    // A bar that ends before it begins is reported, and no search starts.
    harness.state_mut().document.playhead = SongTime::from_micros(1_000_000).unwrap();
    harness.get_by_label("Ends at the playhead").click();
    harness.run_steps(2);
    harness.get_by_label("a bar must end 0.2 to 30 s after it begins");
    harness.get_by_label("Find the others from this one").click();
    harness.run_steps(4);
    assert!(harness.query_by_label("Stop listening").is_none());
    // Tapped in two, although the song is in four.
    for tap in [2.41, 3.58, 4.82] {
        harness.state_mut().playback.taps.tap(tap);
    }
    harness.run_steps(2);
    harness.get_by_label("The bar tapped").click();
    harness.run_steps(2);
    look_whole(&mut harness, "known-bar");
    harness.get_by_label("Find the others from this one").click();
    assert!(until(&mut harness, |h| h.query_by_label("Use these bars").is_some()));
    assert!(harness.query_all_by_label_contains("Found 16 bars in 2/4, 50.").count() > 0);
    look_whole(&mut harness, "known-bar-found");
    // Cues keep their bars, so none moves here. Half a bar off, all of them move, and this is reported before anything changes.
    assert_eq!(harness.query_all_by_label_contains("Cues keep their bars").count(), 0);
    harness.state_mut().playback.taps = letfall_sound::bars::Taps::default();
    for tap in [6.0, 6.6, 7.2, 7.8, 8.4] {
        harness.state_mut().playback.taps.tap(tap);
    }
    harness.run_steps(2);
    // Taps made while the bar is open are used for it without another button.
    let bar = harness.state().by_ear.known().unwrap();
    assert!((bar.from - 6.0).abs() < 1e-9 && (bar.to - 8.4).abs() < 1e-9 && bar.beats == Some(4));
    harness.get_by_label("Find the others from this one").click();
    assert!(until(&mut harness, |h| h.query_all_by_label_contains("Cues keep their bars").count() > 0));
    look_whole(&mut harness, "known-bar-moves");
    assert!(harness.query_all_by_label_contains("R1 from 0:19.200 to 0:20.").count() > 0);
    // In another song no bar is known yet, and what was found is not offered.
    assert!(harness.state_mut().document.change_song("No guide", |song| song.guide = None));
    harness.run_steps(2);
    assert!(harness.state().by_ear.known().is_none() && harness.state().by_ear.found().is_none());
    harness.state_mut().document.undo();
    harness.run_steps(2);
    assert_eq!(*harness.state().document.show, show);
}

/// Taps are pinned to the bars they were tapped in; the rest of the song stays.
#[test]
fn taps_pin_the_bars_they_were_tapped_in() {
    let desk = Desk::new();
    let (mut harness, show) = opener(&desk);
    for beat in 0..16 {
        harness.state_mut().playback.taps.tap(4.8 + 0.05 + 0.6 * f64::from(beat));
    }
    harness.get_by_label("Song: bars, metre, tempo, sections…").click();
    harness.run_steps(4);
    harness.get_by_label("16 taps, about 100 a minute");
    harness.get_by_label("Pin the bars tapped, keep the others").click();
    harness.run_steps(4);
    let song = &harness.state().document.show.services[0].song;
    let pins: Vec<(i32, i64)> = song.grid.pins.iter().map(|p| (p.bar, p.at.micros() / 10_000)).collect();
    assert_eq!(pins, [(1, 0), (3, 485), (4, 725), (5, 965), (6, 1205)]);
    harness.state_mut().document.undo();
    assert_eq!(*harness.state().document.show, show);
}

/// Pads count as taps while the song plays. Without a sound device it plays in silence and says so.
#[test]
fn pads_tap_too() {
    let (desk, fake) = (Desk::new(), Fake::default());
    let mut harness = open(&desk, &fake);
    harness.state_mut().screen = Screen::Score;
    harness.state_mut().document.selection.labels.clear();
    harness.run_steps(3);
    harness.get_by_label("Song: bars, metre, tempo, sections…").click();
    harness.set_size(egui::vec2(1440.0, 2400.0));
    harness.run_steps(4);
    harness.get_by_label("Pads or keys on a MIDI port tap too").click();
    harness.run_steps(3);
    harness.get_by_label("Play").click();
    harness.run_steps(2);
    for _ in 0..3 {
        thread::sleep(Duration::from_millis(150));
        if let Some(heard) = fake.heard.lock().unwrap().as_mut() {
            heard(&[0x90, 36, 100]);
            heard(&[0x80, 36, 0]);
        }
        harness.run_steps(1);
    }
    assert!(until(&mut harness, |h| h.state().playback.taps.len() == 3));
    harness.get_by_label("Stop").click();
    harness.run_steps(2);
    assert!(!harness.state().playback.is_playing());
}

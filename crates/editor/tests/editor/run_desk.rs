//! Rehearsing and performing on fake ports, for the tests of both.

use crate::desk::{Desk, demo, harness};
use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_core::show::Kind;
use letfall_editor::{Editor, Screen, rehearsal::ReleaseStatus};
use letfall_live::{Gone, InputCallback, PortInput, PortOut, Ports};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

#[derive(Clone, Default)]
pub struct Fake {
    pub sent: Arc<Mutex<Vec<Vec<u8>>>>,
    pub heard: Arc<Mutex<Option<InputCallback>>>,
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

pub fn open(desk: &Desk, fake: &Fake) -> Harness<'static, Editor> {
    open_with(demo(), desk, fake)
}

pub fn open_with(show: letfall_core::show::Show, desk: &Desk, fake: &Fake) -> Harness<'static, Editor> {
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
pub fn until(harness: &mut Harness<'_, Editor>, holds: impl Fn(&Harness<'_, Editor>) -> bool) -> bool {
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

/// Esc twice: the first locks every release, the second stops all. The run must stop.
pub fn stop_all(harness: &mut Harness<'_, Editor>) {
    harness.key_press(Key::Escape);
    harness.run_steps(2);
    harness.key_press(Key::Escape);
    harness.run_steps(1);
    assert!(until(harness, |h| !h.state().rehearsal.runs()));
}

/// What the board shows for the first release.
pub fn first_lock<'a>(harness: &'a Harness<'_, Editor>) -> &'a ReleaseStatus {
    &harness.state().rehearsal.run.as_ref().unwrap().locks[0]
}

/// Whether the first release is armed.
pub fn armed(harness: &Harness<'_, Editor>) -> bool {
    matches!(first_lock(harness), ReleaseStatus::Armed(_))
}

/// Saves a picture for a person to look at, if `LETFALL_LOOK` names a folder.
pub fn look(harness: &mut Harness<'_, Editor>, name: &str) {
    if std::env::var_os("LETFALL_LOOK").is_some() {
        harness.set_size(egui::vec2(1280.0, 800.0));
        harness.run_steps(2);
        look_whole(harness, name);
        harness.set_size(egui::vec2(1440.0, 1500.0));
        harness.run_steps(1);
    }
}

/// The same at the current size.
pub fn look_whole(harness: &mut Harness<'_, Editor>, name: &str) {
    if let Some(folder) = std::env::var_os("LETFALL_LOOK") {
        harness.render().unwrap().save(std::path::Path::new(&folder).join(name).with_extension("png")).unwrap();
    }
}

/// Moves the playhead this many seconds before the release.
pub fn before_release(harness: &mut Harness<'_, Editor>, secs: f64) {
    let plan = harness.state().document.plan().unwrap();
    let row = plan.schedule().rows.iter().find(|r| r.label.kind == Kind::Release).unwrap();
    harness.state_mut().document.playhead = row.send - letfall_core::time::SongSpan::from_secs_f64(secs);
}

/// Starts a performance this many seconds before the release, with the name of a holder.
pub fn performing(desk: &Desk, fake: &Fake, secs: f64) -> Harness<'static, Editor> {
    let mut harness = open(desk, fake);
    harness.get_by_label("Perform: a release is sent while it is held").click();
    harness.run_steps(3);
    "Robin".clone_into(&mut harness.state_mut().rehearsal.holder);
    before_release(&mut harness, secs);
    harness.get_by_label("Start from the playhead").click();
    harness
}

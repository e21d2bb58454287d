//! A whole session in the real window under a virtual display, from starting the program to the saved file and the exported
//! MIDI file. The mouse and keys are simulated by the X server's own test input.
//!
//! The real window has no labels to query. So a twin of it (the same editor at the same size, without a window) tells where
//! things are and goes through the same session; both must end with the same bytes.

#![allow(clippy::unwrap_used, dead_code, missing_docs)]

#[path = "../../editor/tests/editor/desk.rs"]
mod desk;
#[path = "../../editor/tests/editor/display.rs"]
mod display;

use desk::{Desk, centre, click, command, demo, drag, harness};
use egui::{Event, Key, Modifiers, Pos2};
use egui_kittest::kittest::Queryable as _;
use letfall_core::edit::{self, By};
use letfall_editor::Editor;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::sleep;
use std::time::Duration;

const SIZE: [f32; 2] = [1440.0, 900.0];

/// A program that is killed when the test ends.
struct Ends(Child);

impl Drop for Ends {
    fn drop(&mut self) {
        drop(self.0.kill());
        drop(self.0.wait());
    }
}

/// One test at a time: a window that is drawn without a graphics card takes all of a small machine.
static ALONE: Mutex<()> = Mutex::new(());

struct Hands {
    _alone: MutexGuard<'static, ()>,
    display: String,
    /// Where the display keeps what it shows.
    kept: tempfile::TempDir,
    _server: Ends,
}

impl Hands {
    /// Starts a virtual display and the tool that operates it; `None` if the machine lacks either.
    fn new(test: &str) -> Option<Hands> {
        let has = |tool: &str| Command::new(tool).arg("-help").output().is_ok();
        if !has("Xvfb") || !has("xdotool") {
            let why = "no Xvfb or xdotool is here; cargo xtask test installs them";
            letfall_testing::skip(&format!("window {test}"), why);
            return None;
        }
        let alone = ALONE.lock().unwrap_or_else(PoisonError::into_inner);
        let kept = tempfile::tempdir().unwrap();
        let (server, display) = display::start(Some(kept.path()));
        Some(Hands { _alone: alone, display, kept, _server: Ends(server) })
    }

    /// Starts an editor on a show, and waits for its window, which gets the keys. A variable says where its folder is.
    fn start(&self, show: &Path, folder: (&str, &Path)) -> (Ends, String) {
        let windows = || self.tool(&["search", "--onlyvisible", "--name", "Letfall"]).unwrap_or_default();
        let before = windows();
        let mut program = Ends(
            Command::new(letfall_testing::program(env!("CARGO_BIN_EXE_letfall")))
                .arg(show)
                .env_remove("LETFALL_STATE")
                .env(folder.0, folder.1)
                .env("DISPLAY", &self.display)
                // Without a session bus there is no dialog service, so paths are typed.
                .env("DBUS_SESSION_BUS_ADDRESS", "unix:path=/nonexistent")
                .env_remove("WAYLAND_DISPLAY")
                .env_remove("XDG_RUNTIME_DIR")
                .stderr(Stdio::null())
                .spawn()
                .unwrap(),
        );
        let window = (0..240).find_map(|_| {
            sleep(Duration::from_millis(250));
            assert!(program.0.try_wait().unwrap().is_none(), "the editor ended at once");
            windows().lines().find(|id| !before.lines().any(|other| other == *id)).map(str::to_owned)
        });
        let window = window.expect("the editor's window");
        self.to_front(&window);
        sleep(Duration::from_secs(1));
        (program, window)
    }

    /// The keys go to a window, and it stands before the others.
    fn to_front(&self, window: &str) {
        self.tool(&["windowmove", window, "0", "0"]);
        self.tool(&["windowraise", window]);
        self.tool(&["windowfocus", window]).unwrap();
    }

    fn tool(&self, words: &[&str]) -> Option<String> {
        let done = Command::new("xdotool").env("DISPLAY", &self.display).args(words).output().unwrap();
        sleep(Duration::from_millis(220));
        done.status.success().then(|| String::from_utf8(done.stdout).unwrap().trim().to_owned())
    }

    fn go(&self, at: Pos2) {
        let whole = |n: f32| format!("{n:.0}");
        self.tool(&["mousemove", &whole(at.x), &whole(at.y)]).unwrap();
    }

    fn click(&self, at: Pos2) {
        self.go(at);
        self.tool(&["mousedown", "1"]).unwrap();
        self.tool(&["mouseup", "1"]).unwrap();
    }

    fn drag(&self, from: Pos2, by: f32) {
        self.go(from);
        self.tool(&["mousedown", "1"]).unwrap();
        for part in 1..=4u8 {
            self.go(from + egui::vec2(by * f32::from(part) / 4.0, 0.0));
        }
        self.tool(&["mouseup", "1"]).unwrap();
    }

    fn key(&self, chord: &str) {
        self.tool(&["key", chord]).unwrap();
    }

    /// Presses a key that opens or closes something, and waits until that is seen: a busy machine draws late, and what is typed before that
    /// would go elsewhere.
    fn key_and_see(&self, chord: &str) {
        let before = display::picture(self.kept.path());
        self.key(chord);
        for _ in 0..80 {
            if display::picture(self.kept.path()) != before {
                return;
            }
            sleep(Duration::from_millis(100));
        }
    }

    fn command(&self, words: &str) {
        self.key_and_see("ctrl+f");
        self.tool(&["type", "--delay", "60", words]).unwrap();
        sleep(Duration::from_millis(300));
        self.key_and_see("Return");
    }
}

/// Waits up to a minute for a file, because the machine may be slow.
fn wait_for(path: &Path, differs_from: &[u8]) -> Vec<u8> {
    for _ in 0..600 {
        if let Ok(bytes) = std::fs::read(path)
            && !bytes.is_empty()
            && bytes != differs_from
        {
            return bytes;
        }
        sleep(Duration::from_millis(100));
    }
    panic!("{} was not written", path.display());
}

/// CPU time used by a process, in system ticks of 10 ms.
fn ticks(pid: u32) -> Option<u64> {
    let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).ok()?;
    let after = stat.rsplit_once(')')?.1;
    let fields: Vec<&str> = after.split_whitespace().collect();
    Some(fields.get(11)?.parse::<u64>().ok()? + fields.get(12)?.parse::<u64>().ok()?)
}

/// The window shows what its twin draws. They may be drawn by different drivers, so edges differ a little.
fn looks_alike(hands: &Hands, twin: &mut egui_kittest::Harness<'_, Editor>) {
    let drawn = twin.render().unwrap();
    let (wide, high, shown) = display::picture(hands.kept.path());
    assert_eq!((wide, high), (drawn.width() as usize, drawn.height() as usize));
    let apart = |(a, b): &([u8; 3], [u8; 3])| a.iter().zip(b).any(|(a, b)| a.abs_diff(*b) > 40);
    let others = shown.iter().copied().zip(drawn.pixels().map(|p| [p[0], p[1], p[2]])).filter(apart).count();
    let share = others as f64 / shown.len() as f64;
    println!("{:.3} % of the window's points differ from its twin's", share * 100.0);
    assert!(share < 0.01, "{:.2} % of the window's points differ from its twin's", share * 100.0);
}

#[test]
fn a_whole_session_in_the_real_window() {
    let Some(hands) = Hands::new("a_whole_session") else { return };
    let desk = Desk::new();
    std::fs::write(desk.path(), letfall_core::file::write(&demo())).unwrap();
    let state = desk.folder.path().join("state of the window");
    let (mut program, _) = hands.start(&desk.path(), ("LETFALL_STATE", &state));

    // The twin, on the same show and service.
    let twin_folder = desk.folder.path().join("twin");
    std::fs::create_dir(&twin_folder).unwrap();
    let twin_path = twin_folder.join("show.letfall");
    let mut twin = harness(Editor::with_recovery(demo(), Some(twin_path.clone()), twin_folder.join("state")), SIZE);

    looks_alike(&hands, &mut twin);
    // Drag L4 by two bars with snap; M1 and L1 are four bars apart.
    let bar = (centre(&twin, "M1").x - centre(&twin, "L1").x) / 4.0;
    let from = centre(&twin, "L4").round();
    hands.click(from);
    hands.drag(from, bar * 2.0);
    click(&mut twin, from);
    drag(&mut twin, from, bar * 2.0);
    // Copy, then paste where the ruler is clicked.
    hands.key("ctrl+c");
    twin.event(Event::Copy);
    twin.run_steps(2);
    let ruler = Pos2::new(centre(&twin, "M1").x - 4.0, twin.get_by_label("Score canvas").rect().top() + 30.0).round();
    hands.click(ruler);
    click(&mut twin, ruler);
    hands.key("ctrl+v");
    twin.event(Event::Paste(String::new()));
    twin.run_steps(3);
    // Repeat every four bars and offset by -120 ms, from the list of commands.
    hands.command("repeat every");
    hands.key("Return");
    command(&mut twin, "repeat every");
    twin.get_by_label("Repeat them").click();
    twin.run_steps(4);
    hands.command("offset");
    hands.key("Return");
    command(&mut twin, "offset");
    twin.get_by_label("Offset them").click();
    twin.run_steps(4);
    // Undo all, redo all.
    let steps = twin.state().document.history.depth();
    assert_eq!(steps, 4);
    for _ in 0..steps {
        hands.key("ctrl+z");
    }
    for _ in 0..steps {
        hands.key("ctrl+shift+z");
    }
    // Save.
    hands.key("ctrl+s");
    let saved = wait_for(&desk.path(), &letfall_core::file::write(&demo()));
    twin.key_press_modifiers(Modifiers::COMMAND, Key::S);
    for _ in 0..2000 {
        twin.run_steps(1);
        if !twin.state().document.history.is_changed() {
            break;
        }
        sleep(Duration::from_millis(5));
    }
    let by_twin = std::fs::read(&twin_path).unwrap();
    let lines =
        |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap().lines().map(str::to_owned).collect::<Vec<_>>();
    let (window, twins) = (lines(&saved), lines(&by_twin));
    let other: Vec<_> = window.iter().zip(&twins).filter(|(a, b)| a != b).take(6).collect();
    assert!(other.is_empty() && saved == by_twin, "window and twin differ: {other:#?}");
    // The first step gives the same result as the core does.
    let show = letfall_core::file::read(&saved).unwrap();
    let (name, moved) = (show.services[0].name.clone(), "L4".parse().unwrap());
    let mut by_core = demo();
    edit::shift(&by_core, &name, &[moved], By::Bars(2)).unwrap().apply(&mut by_core).unwrap();
    let place = |show: &letfall_core::show::Show| show.services[0].cues.get(moved).unwrap().at;
    assert_eq!(place(&show), place(&by_core));
    assert_eq!(show.services[0].cues.len(), demo().services[0].cues.len() + 2);
    // Export; the path is typed, because no dialog service is running. Windows has its own dialog, which proposes the same.
    hands.key("ctrl+e");
    sleep(Duration::from_millis(600));
    if letfall_testing::is_foreign() {
        let dialog = (0..80).find_map(|_| {
            sleep(Duration::from_millis(250));
            hands.tool(&["search", "--onlyvisible", "--name", "Export to"]).filter(|id| !id.is_empty())
        });
        hands.tool(&["windowfocus", &dialog.expect("the system's dialog")]).unwrap();
        sleep(Duration::from_millis(600));
    }
    hands.key("Return");
    let exported = wait_for(&desk.folder.path().join("show-early.mid"), b"");
    let plan = letfall_core::prepared::Prepared::hypothetical(Arc::new(show.clone()), 0).unwrap();
    let options = letfall_export::midi::MidiOptions::default();
    assert_eq!(exported, letfall_export::midi::write(&plan, options).unwrap().bytes);
    // When left alone, the window draws no frames and so uses no CPU time.
    sleep(Duration::from_secs(1));
    // Under Wine the window's loop turns without drawing, which says nothing about Windows.
    if let Some(before) = ticks(program.0.id()).filter(|_| !letfall_testing::is_foreign()) {
        sleep(Duration::from_secs(3));
        let used = ticks(program.0.id()).unwrap() - before;
        assert!(used <= 1, "idle, it used {used} ticks of processor time in 3 s");
    }
    // If it is killed in the middle of editing, at most ten seconds of work are lost, and the saved file is unchanged.
    hands.click(centre(&twin, "L12").round());
    hands.key("Right");
    let put_by = || {
        let folder = std::fs::read_dir(desk.folder.path().join("state of the window/letfall")).ok()?;
        let mut files = folder.filter_map(|f| Some(f.ok()?.path()));
        let file = files.find(|f| f.extension().is_some_and(|e| e == "letfall"))?;
        letfall_core::file::read(&std::fs::read(file).ok()?).ok()
    };
    let mut nudged = show.clone();
    edit::shift(&nudged, &name, &["L12".parse().unwrap()], By::Beats(1)).unwrap().apply(&mut nudged).unwrap();
    let kept = (0..100).any(|_| {
        sleep(Duration::from_millis(100));
        put_by().is_some_and(|put| put == nudged)
    });
    program.0.kill().unwrap();
    let places = |show: Option<letfall_core::show::Show>| {
        show.map(|s| s.services[0].cues.iter().map(|c| format!("{} {}", c.label, c.at)).collect::<Vec<_>>())
    };
    assert!(kept, "put by within ten seconds: {:?}, wanted {:?}", places(put_by()), places(Some(nudged)));
    assert_eq!(std::fs::read(desk.path()).unwrap(), saved);
}

/// The program's own folder where the system keeps such things, as a program sees it that is told nothing else: what is in it.
struct OwnFolder {
    /// On Linux this names it; Windows has a fixed place, whatever this says.
    state: tempfile::TempDir,
    /// A folder for what is copied out of the one that Windows has.
    copies: tempfile::TempDir,
}

impl OwnFolder {
    fn new() -> OwnFolder {
        let folder = OwnFolder { state: tempfile::tempdir().unwrap(), copies: tempfile::tempdir().unwrap() };
        if letfall_testing::is_foreign() {
            // What earlier tests have left.
            folder.shell("rd /s /q %LOCALAPPDATA%\\letfall");
        }
        folder
    }

    fn shell(&self, line: &str) {
        let shell = std::env::var_os("LETFALL_SHELL").expect("LETFALL_SHELL, the shell of Windows");
        let done = Command::new(shell).args(["/c", line]).current_dir(self.copies.path()).output().unwrap();
        drop(done);
    }

    /// The files in it that end so, with what is in them.
    fn files(&self, ending: &str) -> Vec<Vec<u8>> {
        let folder = if letfall_testing::is_foreign() {
            for old in std::fs::read_dir(self.copies.path()).unwrap() {
                std::fs::remove_file(old.unwrap().path()).unwrap();
            }
            self.shell(&format!("copy /y %LOCALAPPDATA%\\letfall\\*.{ending} ."));
            self.copies.path().to_owned()
        } else {
            self.state.path().join("letfall")
        };
        let files = std::fs::read_dir(folder).into_iter().flatten().filter_map(|f| Some(f.ok()?.path()));
        files.filter(|f| f.extension().is_some_and(|e| e == ending)).map(|f| std::fs::read(f).unwrap()).collect()
    }

    fn kept(&self) -> Vec<letfall_core::show::Show> {
        self.files("letfall").iter().filter_map(|bytes| letfall_core::file::read(bytes).ok()).collect()
    }
}

/// The demo show with some of its cues one beat later, in the service that the window opens with.
fn nudged(cues: &[&str]) -> letfall_core::show::Show {
    let mut show = demo();
    let labels: Vec<_> = cues.iter().map(|cue| cue.parse().unwrap()).collect();
    edit::shift(&show, &show.services[0].name.clone(), &labels, By::Beats(1)).unwrap().apply(&mut show).unwrap();
    show
}

/// Two programs on one file. Each keeps its unsaved work apart, in the folder that the system has for that; what one has saved the other
/// does not write over before somebody says so.
#[test]
fn two_editors_on_one_file() {
    let Some(hands) = Hands::new("two_editors_on_one_file") else { return };
    let desk = Desk::new();
    std::fs::write(desk.path(), letfall_core::file::write(&demo())).unwrap();
    let own = OwnFolder::new();
    let place = ("XDG_STATE_HOME", own.state.path());
    let twin = harness(Editor::with_recovery(demo(), None, desk.folder.path().join("state")), SIZE);
    let wait = |what: &str, holds: &dyn Fn() -> bool| {
        assert!(
            (0..300).any(|_| holds() || {
                sleep(Duration::from_millis(200));
                false
            }),
            "{what}"
        );
    };
    let on_disk = || letfall_core::file::read(&std::fs::read(desk.path()).unwrap()).unwrap();
    let (one, first) = hands.start(&desk.path(), place);
    hands.click(centre(&twin, "L4").round());
    hands.key("Right");
    wait("the first keeps its work", &|| own.kept() == [nudged(&["L4"])]);
    let (mut two, second) = hands.start(&desk.path(), place);
    hands.click(centre(&twin, "L12").round());
    hands.key("Right");
    wait("the second keeps its own", &|| own.kept().len() == 2 && own.kept().contains(&nudged(&["L12"])));
    assert!(own.kept().contains(&nudged(&["L4"])), "what the first has kept is still there");
    assert_eq!(on_disk(), demo());
    // The second saves; then the first saves too, which does not write over it.
    hands.key("ctrl+s");
    wait("the second saves", &|| on_disk() == nudged(&["L12"]));
    wait("what is saved is no longer kept", &|| own.kept() == [nudged(&["L4"])]);
    hands.to_front(&first);
    hands.key("ctrl+s");
    sleep(Duration::from_secs(3));
    assert_eq!(on_disk(), nudged(&["L12"]), "the first writes over nothing");
    // Esc goes back to work, and the second can go on saving.
    hands.key("Escape");
    hands.to_front(&second);
    hands.click(centre(&twin, "L4").round());
    hands.key("Right");
    hands.key("ctrl+s");
    wait("the second saves again", &|| on_disk() == nudged(&["L4", "L12"]));
    assert!(two.0.try_wait().unwrap().is_none());
    drop(one);
    // How its window is drawn is noted in the same folder.
    assert!(!own.files("log").is_empty());
}

//! A first show of one's own: from an empty window to a printed running order, a MIDI file and a rehearsal, with real keys and clicks. Every
//! one of them is counted; typing a name or a table is not.

use crate::desk::{Desk, harness, shot};
use crate::files::until;
use crate::run_desk::Fake;
use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, Pos2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_core::show::Show;
use letfall_editor::Editor;
use letfall_live::{InputCallback, PortInput, PortOut, Ports};

/// As many as a first show may take.
const MOST: u32 = 60;

/// A machine with the two ports that a new show names.
struct TwoPorts(Fake);

impl Ports for TwoPorts {
    fn outputs(&mut self) -> Result<Vec<String>, String> {
        Ok(vec!["MIDI out 1".to_owned(), "MIDI out 2".to_owned()])
    }

    fn inputs(&mut self) -> Result<Vec<String>, String> {
        Ok(Vec::new())
    }

    fn open(&mut self, name: &str) -> Result<Box<dyn PortOut>, String> {
        self.0.open(name)
    }

    fn listen(&mut self, name: &str, heard: InputCallback) -> Result<PortInput, String> {
        self.0.listen(name, heard)
    }
}

/// Somebody at keyboard and mouse, and how often they did something.
struct Hand<'a> {
    h: &'a mut Harness<'static, Editor>,
    actions: u32,
}

impl Hand<'_> {
    /// A click where a control stands, as a mouse does it.
    fn click(&mut self, at: Pos2) {
        self.actions += 1;
        self.h.hover_at(at);
        self.h.run_steps(1);
        self.h.drag_at(at);
        self.h.run_steps(1);
        self.h.drop_at(at);
        self.h.run_steps(3);
    }

    fn button(&mut self, role: Role, label: &str) {
        let rect = self.h.get_by_role_and_label(role, label).rect();
        self.click(rect.center());
    }

    fn double_click(&mut self, at: Pos2) {
        self.actions += 1;
        for _ in 0..2 {
            self.h.drag_at(at);
            self.h.run_steps(1);
            self.h.drop_at(at);
            self.h.run_steps(1);
        }
        self.h.run_steps(3);
    }

    fn key(&mut self, modifiers: Modifiers, key: Key) {
        self.actions += 1;
        self.h.key_press_modifiers(modifiers, key);
        self.h.run_steps(4);
    }

    /// Types into whatever has the focus.
    fn types(&mut self, text: &str) {
        self.h.event(Event::Text(text.to_owned()));
        self.h.run_steps(2);
    }

    fn cues(&self) -> usize {
        self.h.state().document.current().unwrap().cues.len()
    }
}

/// The cues of a song of four minutes, as somebody has them in a spreadsheet: lights and pictures, the reveal at bar 65.
fn table() -> String {
    let looks = ["Warm front", "Verse blue", "Silhouettes", "Chorus", "Cold", "Hush"];
    let look = |at: usize| {
        let bar = 9 + 4 * at + if at > 13 { 8 } else { 0 };
        format!("{bar}\t{}\tlook {}\n", looks[at % looks.len()], at + 1)
    };
    let pictures = [(9, "Harbour"), (25, "Boats"), (41, "Harbour"), (57, "Boats")];
    let pictures = pictures.map(|(bar, what)| format!("{bar}\t{what}\t\n")).concat();
    let reveal = "65\tFabric release\tthe fabric falls\n65 b2\tFabric: blank\t\n65 b3\tMain screen: pictures\t\n";
    format!("Bar\tWhat\tText\n{}{pictures}{reveal}", (0..16).map(look).collect::<String>())
}

#[test]
fn from_an_empty_window_to_paper_file_and_rehearsal_in_sixty_actions() {
    let desk = Desk::new();
    let fake = Fake::default();
    let mut editor = Editor::with_recovery(Show::empty("Nothing yet"), None, desk.folder.path().join("state"));
    let ports = fake.clone();
    editor.rehearsal.ports = Box::new(move || Box::new(TwoPorts(ports.clone())));
    let mut h = harness(editor, [1366.0, 768.0]);
    shot(&mut h, "first-0-empty");
    h.state_mut().rehearsal.keeper = Some("the program itself".into());
    let mut hand = Hand { h: &mut h, actions: 0 };
    // The show: title, tempo, how the release works, ten presets, two pictures.
    hand.button(Role::Button, "New show");
    shot(hand.h, "first-1-start");
    hand.button(Role::TextInput, "Title of the show");
    hand.types("Harvest evening");
    hand.button(Role::TextInput, "Tempo");
    hand.key(Modifiers::COMMAND, Key::A);
    hand.types("96");
    hand.actions += 1; // a figure is no name
    hand.button(Role::RadioButton, "when they get power");
    hand.button(Role::MultilineTextInput, "Lighting presets, one a line");
    hand.types("Blackout\nWarm front\nVerse blue\nSilhouettes\nChorus\nCold\nHush\nReveal\nCoda\nHouse");
    hand.button(Role::MultilineTextInput, "Pictures and films, one a line");
    hand.types("Harbour\nBoats");
    shot(hand.h, "first-2-answered");
    hand.button(Role::Button, "Make the show");
    hand.h.run_steps(4);
    let show = hand.h.state().document.show.clone();
    assert_eq!(
        (show.presets.len(), show.hangs.len(), show.receivers.len()),
        (10, 1, 4),
        "three receivers and the contact"
    );
    assert_eq!(hand.h.state().document.current().unwrap().song.bars, 96, "four minutes at 96 in fours");
    assert!(hand.h.state().document.history.is_changed(), "closing now would ask");
    assert!(hand.h.state().rehearsal.keeper.is_some(), "what opens contacts if the program dies is still there");
    // Seven cues by hand: a double click where each lands, part of a name, Enter.
    let canvas = hand.h.get_by_label("Score canvas").rect();
    for (at, name) in [
        (0.02, "house"),
        (0.06, "warm"),
        (0.75, "reveal"),
        (0.80, "coda"),
        (0.86, "cold"),
        (0.92, "hush"),
        (0.97, "blackout"),
    ] {
        let y = hand.h.get_by_label("Track Lighting").rect().center().y;
        let x = canvas.left() + 104.0 + (canvas.width() - 104.0) * at;
        hand.double_click(Pos2::new(x, y));
        hand.types(name);
        hand.key(Modifiers::NONE, Key::Enter);
    }
    assert_eq!(hand.cues(), 7);
    shot(hand.h, "first-3-by-hand");
    // The others from the spreadsheet, in one go.
    hand.actions += 1;
    hand.h.event(Event::Paste(table()));
    hand.h.run_steps(5);
    shot(hand.h, "first-4-table");
    hand.button(Role::Button, "Take over 23 cues");
    assert_eq!(hand.cues(), 30);
    shot(hand.h, "first-5-thirty");
    // Saved, printed, written as a MIDI file.
    let file = desk.folder.path().join("harvest.letfall");
    hand.key(Modifiers::COMMAND, Key::S);
    until(hand.h, "asked for a path", |h| h.query_by_label("Path of the file").is_some());
    hand.key(Modifiers::COMMAND, Key::A);
    hand.types(file.to_str().unwrap());
    hand.key(Modifiers::NONE, Key::Enter);
    until(hand.h, "saved", |h| h.state().document.path.as_deref() == Some(file.as_path()));
    hand.key(Modifiers::COMMAND, Key::Num5);
    for (key, ending) in [(Key::P, "pdf"), (Key::E, "mid")] {
        hand.key(Modifiers::COMMAND, key);
        until(hand.h, "asked for a path", |h| h.query_by_label("Path of the file").is_some());
        hand.key(Modifiers::NONE, Key::Enter);
        let written = |_: &Harness<'_, Editor>| {
            let files = std::fs::read_dir(desk.folder.path()).unwrap();
            files.flatten().any(|file| file.path().extension().is_some_and(|e| e == ending))
        };
        until(hand.h, ending, written);
        until(hand.h, "said", |h| h.state().document.said.as_ref().is_some_and(|s| s.text.starts_with("Wrote")));
    }
    // The rehearsal, from the beginning.
    hand.key(Modifiers::COMMAND, Key::Num4);
    hand.button(Role::Button, "Start from the playhead");
    until(hand.h, "runs", |h| h.state().rehearsal.runs());
    shot(hand.h, "first-6-rehearsal");
    until(hand.h, "sent", |_| !fake.sent.lock().unwrap().is_empty());
    println!("a first show took {} actions", hand.actions);
    assert!(hand.actions <= MOST, "{} actions", hand.actions);
    assert_eq!(hand.actions, 35, "if this falls, write down the new count; if it rises, look why");
}

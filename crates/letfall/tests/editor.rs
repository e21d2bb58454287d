//! The editor driven as a person drives it, by accessible label, without a window.

#![allow(clippy::unwrap_used, missing_docs)]

use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, Pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use letfall::editor::{Editor, Screen, theme};
use letfall_core::show::{Anchor, Label, Show};
use std::path::{Path, PathBuf};

fn demo() -> Show {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows/lantern-night.letfall");
    letfall_core::file::read(&std::fs::read(path).unwrap()).unwrap()
}

struct Desk {
    folder: tempfile::TempDir,
}

impl Desk {
    fn new() -> Desk {
        Desk { folder: tempfile::tempdir().unwrap() }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("show.letfall")
    }

    fn editor(&self, show: Show) -> Harness<'static, Editor> {
        std::fs::write(self.path(), letfall_core::file::write(&show)).unwrap();
        let mut editor = Editor::with_recovery(show, Some(self.path()), self.folder.path().join("state"));
        editor.document.service = 1;
        editor.document.derive();
        harness(editor, [1440.0, 900.0])
    }
}

fn harness(editor: Editor, size: [f32; 2]) -> Harness<'static, Editor> {
    let mut harness = Harness::builder()
        .with_size(size)
        .with_step_dt(0.05)
        .with_max_steps(40)
        .with_context_setup(|ctx| ctx.set_fonts(theme::fonts()))
        .build_ui_state(|ui, editor: &mut Editor| editor.frame(ui), editor);
    harness.run_steps(4);
    harness
}

fn label(text: &str) -> Label {
    text.parse().unwrap()
}

fn at(harness: &Harness<'_, Editor>, name: &str) -> String {
    let document = &harness.state().document;
    document.current().unwrap().cues.get(label(name)).unwrap().at.to_string()
}

fn centre(harness: &Harness<'_, Editor>, name: &str) -> Pos2 {
    let rect = harness.get_by_label(&format!("Cue {name}")).rect();
    // Near its left edge: long bodies overlap, their beginnings do not.
    Pos2::new(rect.left() + 4.0, rect.center().y)
}

fn click(harness: &mut Harness<'_, Editor>, at: Pos2) {
    harness.hover_at(at);
    harness.run_steps(2);
    harness.drag_at(at);
    harness.run_steps(1);
    harness.drop_at(at);
    harness.run_steps(3);
}

fn drag(harness: &mut Harness<'_, Editor>, from: Pos2, by: f32) {
    harness.hover_at(from);
    harness.run_steps(2);
    harness.drag_at(from);
    harness.run_steps(2);
    for part in 1..=4u8 {
        harness.hover_at(from + vec2(by * f32::from(part) / 4.0, 0.0));
        harness.run_steps(2);
    }
    harness.drop_at(from + vec2(by, 0.0));
    harness.run_steps(3);
}

fn command(harness: &mut Harness<'_, Editor>, words: &str) {
    harness.get_by_label("All commands").click();
    harness.run_steps(3);
    harness.get_by_role_and_label(Role::TextInput, "Type to search").type_text(words);
    harness.run_steps(3);
    harness.key_press(Key::Enter);
    harness.run_steps(4);
}

#[test]
fn a_session_from_first_click_to_saved_file() {
    let desk = Desk::new();
    let original = demo();
    let mut h = desk.editor(original.clone());
    // Select, and drag by two bars with snap: L4 stands on 25|1; M1 and L1 are four bars apart.
    let bar = (centre(&h, "M1").x - centre(&h, "L1").x) / 4.0;
    let from = centre(&h, "L4");
    click(&mut h, from);
    assert_eq!(h.state().document.selected(), [label("L4")]);
    drag(&mut h, from, bar * 2.0);
    assert_eq!(at(&h, "L4"), "27|1");
    // Copy, and paste at the playhead, which a click into the ruler sets.
    h.event(Event::Copy);
    h.run_steps(2);
    let ruler = Pos2::new(centre(&h, "M1").x - 4.0, h.get_by_label("Score canvas").rect().top() + 30.0);
    click(&mut h, ruler);
    let place = h.state().document.derived().unwrap().schedule.grid.place_of(h.state().document.playhead_tick());
    assert_eq!(place.bar, 5, "near 5|1");
    h.event(Event::Paste(String::new()));
    h.run_steps(3);
    assert_eq!(h.state().document.selected(), [label("L14")]);
    // Repeat every four bars through the list of commands, and offset by -120 ms.
    command(&mut h, "repeat every");
    h.get_by_label("Repeat them").click();
    h.run_steps(4);
    assert_eq!(h.state().document.selected(), [label("L15")]);
    let (first, copy) = (at(&h, "L14"), at(&h, "L15"));
    let bars = |text: &str| match text.parse::<Anchor>().unwrap() {
        Anchor::Grid { place, .. } => place.bar,
        Anchor::Clock(_) => panic!("it stays on the grid"),
    };
    assert_eq!(bars(&copy) - bars(&first), 4);
    command(&mut h, "offset");
    h.get_by_label("Offset them").click();
    h.run_steps(4);
    assert_eq!(at(&h, "L15"), format!("{copy} -0.12s"));
    // Undo all, redo all.
    let changed = h.state().document.show.clone();
    let steps = h.state().document.history.depth();
    assert_eq!(steps, 4);
    for _ in 0..steps {
        h.get_by_label("Undo").click();
        h.run_steps(3);
    }
    assert_eq!(h.state().document.show, original);
    for _ in 0..steps {
        h.get_by_label("Redo").click();
        h.run_steps(3);
    }
    assert_eq!(h.state().document.show, changed);
    // Save and open again: the file is what the core says.
    h.key_press_modifiers(Modifiers::COMMAND, Key::S);
    h.run_steps(3);
    assert!(!h.state().document.history.is_changed());
    let bytes = std::fs::read(desk.path()).unwrap();
    assert_eq!(letfall_core::file::read(&bytes).unwrap(), changed);
    assert_eq!(bytes, letfall_core::file::write(&changed));
}

#[test]
fn keys_nudge_and_problems_lead_to_their_cue() {
    let desk = Desk::new();
    let mut show = demo();
    show.safety.clear_signal.clear();
    let mut h = desk.editor(show);
    let from = centre(&h, "L2");
    click(&mut h, from);
    h.key_press(Key::ArrowRight);
    h.run_steps(2);
    h.key_press_modifiers(Modifiers::SHIFT, Key::ArrowRight);
    h.run_steps(2);
    h.key_press_modifiers(Modifiers::ALT, Key::ArrowLeft);
    h.run_steps(2);
    assert_eq!(at(&h, "L2"), "10|2 -0.01s");
    h.get_by_label_contains("R1 has no clear call").click();
    h.run_steps(3);
    assert_eq!(h.state().document.selected(), [label("R1")]);
    assert_eq!(h.state().document.playhead.to_string(), "2:28.930");
}

#[test]
fn the_stage_shows_the_fabric_up_falling_and_down() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let stage = |h: &mut Harness<'_, Editor>, millis: i64| {
        h.state_mut().document.playhead = letfall_core::time::SongTime::saturating(millis * 1000);
        h.run_steps(3);
        h.get_by_label_contains("Stage: ").accesskit_node().label().unwrap()
    };
    let up = stage(&mut h, 140_000);
    assert!(up.contains("Front fabric: up, “Tide turning”") && up.contains("House screen, blank"), "{up}");
    let falls = stage(&mut h, 148_300);
    assert!(falls.contains("Front fabric: falling"), "{falls}");
    let down = stage(&mut h, 152_000);
    assert!(down.contains("Front fabric: down") && down.contains("“Lanterns aloft”"), "{down}");
}

#[test]
fn a_projector_left_on_after_the_drop_is_seen() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    h.state_mut().document.selection = [label("O2")].into_iter().collect();
    h.run_steps(2);
    h.key_press(Key::Delete);
    h.state_mut().document.playhead = letfall_core::time::SongTime::saturating(152_000_000);
    h.run_steps(3);
    let said = h.get_by_label_contains("Stage: ").accesskit_node().label().unwrap();
    assert!(said.contains("falls on the people behind"), "{said}");
    assert!(h.query_by_label_contains("still lit").is_some());
}

#[test]
fn services_carry_and_rig_edits_are_single_steps() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let before = h.state().document.show.clone();
    h.get_by_label("Services").click();
    h.run_steps(4);
    h.get_by_label("Early").click();
    h.run_steps(3);
    h.get_by_label("replace theirs").click();
    h.run_steps(3);
    h.get_by_label("Carry all cues").click();
    h.run_steps(4);
    assert!(h.query_by_label_contains("Early: 22 carried").is_some());
    assert!(h.state().document.history.depth() <= 1, "one step, or none where all were equal");
    while h.state().document.history.depth() > 0 {
        h.state_mut().document.undo();
    }
    assert_eq!(h.state().document.show, before);
    h.get_by_label("Rig").click();
    h.run_steps(4);
    assert!(h.query_by_label_contains("To the sightline 1.05 s").is_some());
}

#[test]
fn every_screen_stands_up_in_both_themes_on_an_empty_show_too() {
    for show in [Show::empty("Nothing"), demo()] {
        let desk = Desk::new();
        let mut h = desk.editor(show);
        for _ in 0..2 {
            for name in ["Services", "Rig", "Paper", "Score"] {
                h.get_by_role_and_label(Role::Button, name).click();
                h.run_steps(3);
            }
            h.get_by_label("Dark or paper").click();
            h.run_steps(3);
        }
    }
}

#[test]
fn the_end_of_a_film_and_the_row_of_a_cue_are_dragged() {
    let desk = Desk::new();
    let mut h = desk.editor(demo());
    let body = h.get_by_label("Cue M5").rect();
    let bar = (centre(&h, "M1").x - centre(&h, "L1").x) / 4.0;
    drag(&mut h, Pos2::new(body.right() - 2.0, body.center().y), -bar * 4.0);
    let length = h.state().document.current().unwrap().cues.get(label("M5")).unwrap().length;
    assert!(
        matches!(length, Some(letfall_core::show::Length::Ticks(t)) if t.get() % 960 == 0 && t.quarters() > 30.0),
        "{length:?}"
    );
    assert_eq!(h.state().document.history.undo_name(), Some("Length of M5"));
    // L4 straight down to the backlight's row.
    let (from, to) = (centre(&h, "L4"), centre(&h, "L5"));
    h.hover_at(from);
    h.run_steps(2);
    h.drag_at(from);
    h.run_steps(2);
    h.hover_at(Pos2::new(from.x + 1.0, to.y));
    h.run_steps(2);
    h.drop_at(Pos2::new(from.x, to.y));
    h.run_steps(3);
    assert_eq!(h.state().document.current().unwrap().cues.get(label("L4")).unwrap().track.as_str(), "backlight");
    assert_eq!(at(&h, "L4"), "25|1");
}

#[test]
fn a_service_of_ones_own_from_an_empty_show() {
    let desk = Desk::new();
    let mut h = desk.editor(Show::empty("Nothing"));
    h.get_by_label("Services").click();
    h.run_steps(3);
    h.get_by_label("New service").click();
    h.run_steps(3);
    let service = h.state().document.current().unwrap();
    assert_eq!((service.name.as_str(), service.song.bars, service.cues.len()), ("New service", 64, 0));
    h.get_by_label("Undo").click();
    h.run_steps(3);
    assert!(h.state().document.show.services.is_empty());
}

/// Thousands of random verbs through the document, then all of them undone.
#[test]
fn a_random_walk_of_twenty_thousand_edits_is_undone_exactly() {
    use letfall_core::edit::{self, By};
    use letfall_core::time::{SongSpan, TickSpan};
    let mut document = letfall::editor::document::Document::new(letfall_core::stress::show(24, 6).unwrap(), None);
    let original = document.show.clone();
    let mut seed = 7u64;
    let mut next = |n: u64| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (seed >> 33) % n
    };
    let mut edits = 0;
    while document.history.depth() < 20_000 {
        let all: Vec<Label> = document.current().unwrap().cues.iter().map(|c| c.label).collect();
        document.selection = all.iter().copied().filter(|_| next(3) == 0).collect();
        match next(if all.len() > 40 { 7 } else { 9 }) {
            0 => {
                let by = By::Bars(i32::try_from(next(5)).unwrap() - 2);
                document.with_selected("Shift {}", |s, v, l| edit::shift(s, v, l, by));
            }
            1 => {
                let by = By::Time(SongSpan::from_millis(i64::try_from(next(400)).unwrap() - 200));
                document.with_selected("Shift {}", |s, v, l| edit::shift(s, v, l, by));
            }
            2 => {
                document.with_selected("Quantize {}", |s, v, l| edit::quantize(s, v, l, TickSpan::new(480)));
            }
            3 => {
                document.with_selected("Stretch {}", |s, v, l| edit::stretch(s, v, l, 1.02));
            }
            4 => {
                let by = By::Beats(i64::try_from(next(9)).unwrap() - 4);
                document.with_selected("Shift {}", |s, v, l| edit::shift(s, v, l, by));
            }
            5 if all.len() > 10 => {
                document.selection = [all[usize::try_from(next(all.len() as u64)).unwrap()]].into_iter().collect();
                document.with_selected("Delete {}", edit::delete);
            }
            6 => {
                let note = format!("note {}", next(1000));
                document.with_selected("Note {}", |s, v, l| edit::change(s, v, l, |c| c.note.clone_from(&note)));
            }
            7 => {
                document.copy();
                document.paste(true);
            }
            _ => document.repeat(2, 1),
        }
        edits += 1;
        assert!(edits < 200_000, "the walk goes on");
    }
    let end = document.show.clone();
    while document.history.depth() > 0 {
        document.undo();
    }
    assert_eq!(document.show, original);
    while document.history.redo_name().is_some() {
        document.redo();
    }
    assert_eq!(document.show, end);
}

/// Pictures of every screen in both themes, where `cargo xtask pictures` asks for them.
#[test]
fn pictures() {
    let Some(folder) = std::env::var_os("LETFALL_PICTURES").map(PathBuf::from) else { return };
    std::fs::create_dir_all(&folder).unwrap();
    let desk = Desk::new();
    let take = |show: Show, size: [f32; 2], name: &str, screen: Screen, paper: bool, playhead: i64, select: &str| {
        let mut editor = Editor::with_recovery(show, None, desk.folder.path().join("state"));
        editor.document.service = 1;
        editor.document.derive();
        editor.screen = screen;
        if paper {
            editor.theme = theme::Theme::Paper;
        }
        editor.document.playhead = letfall_core::time::SongTime::saturating(playhead * 1000);
        editor.document.selection = select.split_whitespace().map(label).collect();
        let mut h = harness(editor, size);
        if screen == Screen::Paper {
            for _ in 0..100 {
                std::thread::sleep(std::time::Duration::from_millis(30));
                h.run_steps(1);
            }
        }
        h.run_steps(3);
        h.render().unwrap().save(folder.join(format!("{name}.png"))).unwrap();
    };
    let large = [1440.0, 900.0];
    for (paper, theme) in [(false, "dark"), (true, "paper")] {
        take(demo(), large, &format!("score-{theme}"), Screen::Score, paper, 148_300, "R1");
        take(demo(), large, &format!("services-{theme}"), Screen::Services, paper, 0, "");
        take(demo(), large, &format!("rig-{theme}"), Screen::Rig, paper, 0, "");
        take(demo(), large, &format!("paper-{theme}"), Screen::Paper, paper, 0, "");
    }
    take(demo(), [1280.0, 720.0], "score-small", Screen::Score, false, 60_000, "L3 L4 M2");
    take(demo(), [2560.0, 1440.0], "score-large", Screen::Score, false, 60_000, "");
    take(Show::empty("Nothing yet"), [1280.0, 720.0], "score-empty", Screen::Score, false, 0, "");
}

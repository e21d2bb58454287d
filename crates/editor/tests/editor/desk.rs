//! The test desk: the demo show in a folder of its own, and helpers for input.

use egui::accesskit::Role;
use egui::{Key, Pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use letfall_core::show::{Label, Show};
use letfall_editor::{Editor, widgets::theme};
use std::path::{Path, PathBuf};

/// The tables of the Rig screen, and whether figures are typed into them.
pub const RIG_TABLES: [(&str, bool); 14] = [
    ("Show and tolerances", true),
    ("Tracks", false),
    ("Ports and receivers", true),
    ("Presets", true),
    ("Media", true),
    ("Outputs and routes", true),
    ("Hang", true),
    ("Releases", true),
    ("Safety sheet", false),
    ("Show-stop card", false),
    ("Crew", false),
    ("Between services", true),
    ("Papers and notes", false),
    ("Kit and cost", true),
];

pub fn demo() -> Show {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows/lantern-night.letfall");
    letfall_core::file::read(&std::fs::read(path).unwrap()).unwrap()
}

pub struct Desk {
    pub folder: tempfile::TempDir,
}

impl Desk {
    pub fn new() -> Desk {
        Desk { folder: tempfile::tempdir().unwrap() }
    }

    pub fn path(&self) -> PathBuf {
        self.folder.path().join("show.letfall")
    }

    pub fn editor(&self, show: Show) -> Harness<'static, Editor> {
        std::fs::write(self.path(), letfall_core::file::write(&show)).unwrap();
        let mut editor = Editor::with_recovery(show, Some(self.path()), self.folder.path().join("state"));
        editor.document.service = 1;
        editor.document.prepare();
        harness(editor, [1440.0, 900.0])
    }
}

pub fn harness(editor: Editor, size: [f32; 2]) -> Harness<'static, Editor> {
    let mut harness = Harness::builder()
        .with_size(size)
        .with_step_dt(0.05)
        .with_max_steps(40)
        .with_context_setup(|ctx| ctx.set_fonts(theme::fonts()))
        .build_ui_state(
            |ui, editor: &mut Editor| {
                // Use the whole window, as the program does; the harness would leave a margin.
                let whole = ui.ctx().content_rect();
                let mut inside = ui.new_child(egui::UiBuilder::new().max_rect(whole));
                inside.set_clip_rect(whole);
                editor.frame(&mut inside);
            },
            editor,
        );
    harness.run_steps(4);
    harness
}

pub fn label(text: &str) -> Label {
    text.parse().unwrap()
}

pub fn at(harness: &Harness<'_, Editor>, name: &str) -> String {
    let document = &harness.state().document;
    document.current().unwrap().cues.get(label(name)).unwrap().at.to_string()
}

pub fn centre(harness: &Harness<'_, Editor>, name: &str) -> Pos2 {
    let rect = harness.get_by_label(&format!("Cue {name}")).rect();
    // Near the left edge, because long bodies overlap each other but their beginnings do not.
    Pos2::new(rect.left() + 4.0, rect.center().y)
}

pub fn click(harness: &mut Harness<'_, Editor>, at: Pos2) {
    harness.hover_at(at);
    harness.run_steps(2);
    harness.drag_at(at);
    harness.run_steps(1);
    harness.drop_at(at);
    harness.run_steps(3);
}

pub fn drag(harness: &mut Harness<'_, Editor>, from: Pos2, by: f32) {
    drag_to(harness, from, from + vec2(by, 0.0));
}

pub fn drag_to(harness: &mut Harness<'_, Editor>, from: Pos2, to: Pos2) {
    harness.hover_at(from);
    harness.run_steps(2);
    harness.drag_at(from);
    harness.run_steps(2);
    for part in 1..=8u8 {
        harness.hover_at(from + (to - from) * (f32::from(part) / 8.0));
        harness.run_steps(2);
    }
    harness.drop_at(to);
    harness.run_steps(4);
}

pub fn command(harness: &mut Harness<'_, Editor>, words: &str) {
    harness.get_by_label("Find anything").click();
    harness.run_steps(3);
    harness.get_by_role_and_label(Role::TextInput, "Type to search").type_text(words);
    harness.run_steps(3);
    harness.key_press(Key::Enter);
    harness.run_steps(4);
}

/// Saves what is on the screen as a picture, if the folder LETFALL_SHOTS is given: for looking at what a test goes through.
pub fn shot(harness: &mut Harness<'_, Editor>, name: &str) {
    if let Some(folder) = std::env::var_os("LETFALL_SHOTS").map(PathBuf::from) {
        std::fs::create_dir_all(&folder).unwrap();
        harness.render().unwrap().save(folder.join(format!("{name}.png"))).unwrap();
    }
}

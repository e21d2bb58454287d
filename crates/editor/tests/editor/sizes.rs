//! Every screen at every size and interface scale: nothing that people press or read in the head and foot is cut off.

use crate::desk::{Desk, demo, harness, shot};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use letfall_editor::widgets::theme::Theme;
use letfall_editor::{Editor, Screen};

#[test]
fn nothing_is_cut_from_a_small_laptop_to_a_large_screen() {
    // A larger interface leaves fewer points to the same window.
    for (window, scale) in [
        ([1366.0, 768.0], 0.8),
        ([1366.0, 768.0], 1.0),
        ([1366.0, 768.0], 1.5),
        ([1366.0, 768.0], 2.0),
        ([1920.0, 1080.0], 1.0),
        ([3840.0, 2160.0], 1.0),
        ([3840.0, 2160.0], 2.0),
    ] {
        let size = window.map(|points: f32| points / scale);
        // The paper look has the same sizes; it is drawn where pictures are wanted.
        let looks = if std::env::var_os("LETFALL_SHOTS").is_some() {
            &[Theme::Dark, Theme::Paper][..]
        } else {
            &[Theme::Dark][..]
        };
        for ((screen, name), theme) in
            Screen::ALL.into_iter().flat_map(|screen| looks.iter().map(move |theme| (screen, *theme)))
        {
            let desk = Desk::new();
            std::fs::write(desk.path(), letfall_core::file::write(&demo())).unwrap();
            let mut editor = Editor::with_recovery(demo(), Some(desk.path()), desk.folder.path().join("state"));
            editor.document.service = 1;
            editor.document.prepare();
            editor.screen = screen;
            editor.theme = theme;
            if screen == Screen::Score {
                editor.document.selection = ["R1".parse().unwrap()].into_iter().collect();
            }
            let mut h = harness(editor, size);
            h.run_steps(6);
            shot(&mut h, &format!("size-{}-{scale}-{name}-{theme:?}", window[0]));
            let [width, height] = size;
            for words in [
                "Score",
                "Services",
                "Rig",
                "Rehearse",
                "Paper",
                "New show",
                "Open a show…",
                "Save",
                "Undo",
                "Redo",
                "Help",
                "Find anything",
            ] {
                for node in
                    h.get_all_by(|n| n.role() == egui::accesskit::Role::Button && n.label().as_deref() == Some(words))
                {
                    let rect = node.rect();
                    assert!(
                        rect.left() >= 0.0
                            && rect.top() >= 0.0
                            && rect.right() <= width + 0.5
                            && rect.bottom() <= height + 0.5,
                        "{name} at {size:?} and {scale}: “{words}” stands at {rect:?}"
                    );
                }
            }
            // No two buttons of the head stand on each other.
            let mut all: Vec<(String, egui::Rect)> = h
                .get_all_by(|n| n.role() == egui::accesskit::Role::Button)
                .filter(|n| n.rect().top() < 40.0)
                .map(|n| (n.accesskit_node().label().unwrap_or_default(), n.rect()))
                .collect();
            all.sort_by(|a, b| a.1.left().total_cmp(&b.1.left()));
            for pair in all.windows(2) {
                let over = pair[0].1.intersect(pair[1].1);
                assert!(!(over.width() > 1.0 && over.height() > 1.0), "{name} at {size:?} and {scale}: {pair:?}");
            }
        }
    }
}

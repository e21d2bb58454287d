//! Pictures of every screen.

use crate::desk::{Desk, demo, harness, label};
use egui_kittest::kittest::Queryable as _;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use letfall_core::show::Show;
use letfall_editor::commands::Command;
use letfall_editor::{Editor, Screen, widgets::theme};
use std::path::{Path, PathBuf};

/// Saves a picture as small as possible without loss, and without the alpha channel, which carries no information here.
fn save(picture: &image::RgbaImage, path: &Path) {
    let opaque = image::DynamicImage::ImageRgba8(picture.clone()).to_rgb8();
    let file = std::io::BufWriter::new(std::fs::File::create(path).unwrap());
    opaque.write_with_encoder(PngEncoder::new_with_quality(file, CompressionType::Best, FilterType::NoFilter)).unwrap();
}

/// Draws every screen in both themes when `cargo xtask pictures` asks for it.
#[test]
fn pictures() {
    let Some(folder) = std::env::var_os("LETFALL_PICTURES").map(PathBuf::from) else {
        return letfall_testing::skip("editor pictures", "they are drawn by cargo xtask pictures");
    };
    std::fs::create_dir_all(&folder).unwrap();
    let desk = Desk::new();
    let take = |show: Show, size: [f32; 2], name: &str, screen: Screen, paper: bool, playhead: i64, then: &str| {
        // Opened from its own folder, so that the guide is found.
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-shows/lantern-night.letfall");
        let path = (show == demo()).then_some(path);
        let mut editor = Editor::with_recovery(show, path, desk.folder.path().join("state"));
        editor.document.service = 1;
        editor.document.prepare();
        editor.screen = screen;
        if paper {
            editor.theme = theme::Theme::Paper;
        }
        editor.document.playhead = letfall_core::time::SongTime::saturating(playhead * 1000);
        let mut h = harness(editor, size);
        if screen == Screen::Score {
            for _ in 0..30 {
                std::thread::sleep(std::time::Duration::from_millis(30));
                h.run_steps(1);
            }
        }
        if screen == Screen::Paper {
            for _ in 0..100 {
                std::thread::sleep(std::time::Duration::from_millis(30));
                h.run_steps(1);
            }
        }
        if let Some(fit) = then.strip_prefix("fit ") {
            h.state_mut().document.selection = [label(fit)].into_iter().collect();
            h.run_steps(2);
            h.state_mut().command(Command::FitSelection);
            (0..3).for_each(|_| h.state_mut().command(Command::Wider));
        } else if then.chars().nth(1).is_some_and(|c| c.is_ascii_digit()) {
            h.state_mut().document.selection = then.split_whitespace().map(label).collect();
        } else if !then.is_empty() {
            h.get_by_label(then).click();
        }
        h.run_steps(4);
        if screen == Screen::Paper {
            for _ in 0..60 {
                std::thread::sleep(std::time::Duration::from_millis(30));
                h.run_steps(1);
            }
        }
        save(&h.render().unwrap(), &folder.join(format!("{name}.png")));
    };
    let large = [1440.0, 900.0];
    for (paper, theme) in [(false, "dark"), (true, "paper")] {
        take(demo(), large, &format!("score-{theme}"), Screen::Score, paper, 148_300, "R1");
        take(demo(), large, &format!("services-{theme}"), Screen::Services, paper, 0, "");
        take(demo(), large, &format!("rig-{theme}"), Screen::Rig, paper, 0, "Outputs and routes");
        take(demo(), large, &format!("rehearse-{theme}"), Screen::Rehearse, paper, 148_300, "");
        take(demo(), large, &format!("room-{theme}"), Screen::Room, paper, 0, "Seats");
        take(demo(), large, &format!("paper-{theme}"), Screen::Paper, paper, 0, "Call sheet");
    }
    take(demo(), large, "score-reveal", Screen::Score, false, 148_700, "fit R1");
    take(demo(), large, "rig-releases", Screen::Rig, false, 0, "Releases");
    take(demo(), large, "rig-hang", Screen::Rig, false, 0, "Hang");
    take(demo(), large, "rig-safety", Screen::Rig, false, 0, "Safety sheet");
    take(demo(), large, "rig-devices", Screen::Rig, true, 0, "Ports and receivers");
    take(demo(), large, "rig-kit", Screen::Rig, true, 0, "Kit and cost");
    take(demo(), large, "commands", Screen::Score, false, 60_000, "Find anything");
    take(demo(), [1280.0, 720.0], "score-small", Screen::Score, false, 60_000, "L3 L4 M2");
    take(demo(), [1280.0, 720.0], "score-song", Screen::Score, true, 60_000, "Song: bars, metre, tempo, sections…");
    take(demo(), [2560.0, 1440.0], "score-large", Screen::Score, false, 60_000, "");
    take(Show::empty("Nothing yet"), [1280.0, 720.0], "score-empty", Screen::Score, false, 0, "");
}

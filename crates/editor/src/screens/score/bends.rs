//! Where the song may bend: waits, vamps, cuts and bars that are played freely, with what the caller says for each.

use super::heading::head;
use crate::widgets::fields::Fields;
use crate::widgets::label_list::labels;
use egui::Ui;
use letfall_core::limits;
use letfall_core::show::{BendMark, SongBend};

/// The marks of a song, and buttons to add one at the playhead's bar.
pub fn show(ui: &mut Ui, fields: &mut Fields, marks: &mut Vec<BendMark>, here: i32) {
    head(ui, "Where it may bend");
    let mut gone = None;
    for (at, mark) in marks.iter_mut().enumerate() {
        let name = |part: &str| format!("{part} of bend {}", at + 1);
        ui.horizontal(|ui| {
            let what = match mark.does {
                SongBend::Wait {} => "wait at bar",
                SongBend::Vamp { .. } => "vamp from bar",
                SongBend::Free { .. } => "free from bar",
                SongBend::Cut { .. } => "cut from bar",
            };
            ui.label(what);
            fields.whole(ui, &mut mark.bar, &limits::BEND_BAR, &name("Bar"));
            match &mut mark.does {
                SongBend::Wait {} => {}
                SongBend::Vamp { bars, .. } | SongBend::Free { bars } => {
                    ui.label("bars");
                    fields.whole(ui, bars, &limits::VAMP_BARS, &name("Bars"));
                }
                SongBend::Cut { to } => {
                    ui.label("to bar");
                    fields.whole(ui, to, &limits::CUT_TO, &name("Where it goes on"));
                }
            }
            if fields.remove(ui, &format!("bend {}", at + 1)) {
                gone = Some(at);
            }
        });
        ui.horizontal(|ui| {
            ui.label("caller says");
            fields.text(ui, &mut mark.words, 200.0, &name("What the caller says"));
        });
        if let SongBend::Vamp { once, .. } = &mut mark.does {
            ui.horizontal(|ui| {
                ui.label("sent in the first round only");
                labels(ui, fields, once, 96.0, &name("Cues sent in the first round only"));
            });
        }
        ui.add_space(6.0);
    }
    if let Some(at) = gone {
        marks.remove(at);
    }
    ui.horizontal_wrapped(|ui| {
        let new = [
            ("Wait at the playhead", SongBend::Wait {}),
            ("Vamp from the playhead", SongBend::Vamp { bars: 4, once: Vec::new() }),
            ("Cut from the playhead", SongBend::Cut { to: here.saturating_add(8) }),
            ("Played freely from the playhead", SongBend::Free { bars: 1 }),
        ];
        for (words, does) in new {
            if fields.add(ui, words) {
                marks.push(BendMark { bar: here, does, words: String::new() });
                marks.sort_by_key(|mark| mark.bar);
            }
        }
    });
}

//! Where the song may bend: waits, vamps, cuts and bars that are played freely, with what the caller says for each.

use super::heading::head;
use crate::widgets::fields::{Fields, heads};
use crate::widgets::label_list::labels;
use egui::{Grid, Ui};
use letfall_core::limits;
use letfall_core::show::{BendMark, SongBend};

/// The marks of a song, and buttons to add one at the playhead's bar.
pub fn show(ui: &mut Ui, fields: &mut Fields, marks: &mut Vec<BendMark>, here: i32) {
    head(ui, "Where it may bend");
    let mut gone = None;
    Grid::new("bends").spacing([8.0, 4.0]).show(ui, |ui| {
        if !marks.is_empty() {
            heads(ui, &["Bar", "", "", "What the caller says", ""]);
        }
        for (at, mark) in marks.iter_mut().enumerate() {
            let name = |part: &str| format!("{part} of bend {}", at + 1);
            fields.whole(ui, &mut mark.bar, &limits::BEND_BAR, &name("Bar"));
            match &mut mark.does {
                SongBend::Wait {} => {
                    ui.label("wait");
                    ui.label("");
                }
                SongBend::Vamp { bars, .. } => {
                    ui.label("vamp, bars");
                    fields.whole(ui, bars, &limits::VAMP_BARS, &name("Bars"));
                }
                SongBend::Free { bars } => {
                    ui.label("free, bars");
                    fields.whole(ui, bars, &limits::VAMP_BARS, &name("Bars"));
                }
                SongBend::Cut { to } => {
                    ui.label("cut to bar");
                    fields.whole(ui, to, &limits::CUT_TO, &name("Where it goes on"));
                }
            }
            fields.text(ui, &mut mark.words, 130.0, &name("What the caller says"));
            if fields.remove(ui, &format!("bend {}", at + 1)) {
                gone = Some(at);
            }
            ui.end_row();
            if let SongBend::Vamp { once, .. } = &mut mark.does {
                ui.label("");
                ui.label("sent once");
                labels(ui, fields, once, 72.0, &name("Cues sent in the first round only"));
                ui.end_row();
            }
        }
    });
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

//! The recording panel: whether hits become cues, and how.

use crate::document::Document;
use crate::rehearsal::{Recorder, RecorderOptions};
use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};
use letfall_core::time::TickSpan;

/// Shows the panel. Returns the options if they were changed.
pub fn show(ui: &mut Ui, recorder: &Recorder, document: &Document) -> Option<RecorderOptions> {
    let mut options = recorder.options.clone();
    ui.add_space(8.0);
    ui.label(RichText::new("Play cues in").font(FontId::new(15.5, bold())));
    ui.checkbox(&mut options.on, "What is struck becomes cues when the run stops");
    if options.on {
        ways(ui, &mut options, document);
        if recorder.hits() > 0 {
            ui.label(format!("{} struck", recorder.hits()));
        }
    }
    (options != recorder.options).then_some(options)
}

fn ways(ui: &mut Ui, options: &mut RecorderOptions, document: &Document) {
    let tracks = &document.show.tracks;
    let chosen = options.track.as_ref().and_then(|key| document.show.track(key)).or(tracks.first());
    let label = ui.label("On track");
    let shown = chosen.map_or("", |t| &t.name);
    let combo = egui::ComboBox::from_id_salt("record track").width(200.0).selected_text(shown).show_ui(ui, |ui| {
        for track in tracks {
            if ui.selectable_label(chosen.is_some_and(|c| c.key == track.key), &track.name).clicked() {
                options.track = Some(track.key.clone());
            }
        }
    });
    combo.response.labelled_by(label.id);
    ui.horizontal_wrapped(|ui| {
        for (step, words) in [(None, "free"), (Some(960), "on quarters"), (Some(480), "on eighths")] {
            ui.selectable_value(&mut options.step, step.map(TickSpan::new), words);
        }
    });
    ui.horizontal(|ui| {
        let label = ui.label("Hands and wire are late by");
        let drag = egui::DragValue::new(&mut options.late_ms).range(0.0..=500.0).suffix(" ms");
        ui.add(drag).labelled_by(label.id);
    });
}

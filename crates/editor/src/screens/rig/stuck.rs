//! The plan for a stuck fabric: who says what, which cues wait, what the outputs show.

use super::courses::{Things, said, sent};
use crate::widgets::fields::Fields;
use crate::widgets::label_list::labels;
use crate::widgets::theme::bold;
use egui::{FontId, Grid, RichText, Ui};
use letfall_core::limits;
use letfall_core::show::{HangUp, Release};

/// The fields of the plan.
pub fn hang_up(ui: &mut Ui, release: &mut Release, things: &Things<'_>, fields: &mut Fields) {
    let whose = release.name.clone();
    let name = |part: &str| format!("{part} of the plan for a stuck fabric of {whose}");
    let mut known = release.hang_up.is_some();
    fields.tick(
        ui,
        &mut known,
        "Plan for a stuck fabric: what happens if part of it, or all, does not fall",
        &name("Presence"),
    );
    if !known {
        release.hang_up = None;
        return;
    }
    let plan = release.hang_up.get_or_insert_with(HangUp::default);
    Grid::new(("hang-up", &whose)).num_columns(2).spacing([10.0, 6.0]).show(ui, |ui| {
        said(ui, fields, &name, [&mut plan.caller, &mut plan.words, &mut plan.told_by, &mut plan.then]);
        ui.label("Cues that wait");
        labels(ui, fields, &mut plan.hold, 320.0, &name("Cues that wait"));
        ui.end_row();
        sent(ui, fields, things, &name, (&mut plan.lights, &mut plan.media, &mut plan.show));
        ui.label("Wait before trying again (0: never)");
        fields.seconds(ui, &mut plan.wait, &limits::HANG_UP_WAIT, &name("Wait"));
        ui.end_row();
    });
    ui.add_space(4.0);
    ui.label(
        RichText::new("Nobody goes under a fabric that may still fall; the competent person says when.")
            .font(FontId::new(14.0, bold())),
    );
}

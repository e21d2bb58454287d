//! The fields of a bar that the user knows: its two ends, and the number of beats in it.

use crate::by_ear::KnownBar;
use crate::widgets::fields::name_it;
use egui::accesskit::Role;
use egui::{DragValue, Ui};
use letfall_sound::bars::GivenBar;

/// Sources from which the bar can be taken.
pub struct Places {
    /// Seconds at the playhead.
    pub playhead: f64,
    /// The bar drawn at the playhead.
    pub drawn: Option<GivenBar>,
    /// The bar that was tapped.
    pub tapped: Option<GivenBar>,
    /// The length of the recording in seconds.
    pub ends: f64,
}

/// Shows the panel. Returns whether the search can start: the bar is valid, or none is given.
pub fn show(ui: &mut Ui, known: &mut KnownBar, places: &Places) -> bool {
    if ui.checkbox(&mut known.says, "I know one of its bars").clicked()
        && known.says
        && let Some(bar) = places.tapped.or(places.drawn)
    {
        known.bar = bar;
    }
    if !known.says {
        return true;
    }
    // Taps made while this panel is open are meant for this bar.
    if places.tapped != known.tapped {
        known.tapped = places.tapped;
        known.bar = places.tapped.unwrap_or(known.bar);
    }
    ui.indent("known bar", |ui| fields(ui, known, places)).inner
}

/// Shows the fields and the sources. Returns whether the bar is valid.
fn fields(ui: &mut Ui, known: &mut KnownBar, places: &Places) -> bool {
    let before = known.bar;
    egui::Grid::new("known bar").num_columns(3).spacing([8.0, 6.0]).show(ui, |ui| {
        for (words, at) in [("Begins", &mut known.bar.from), ("Ends", &mut known.bar.to)] {
            ui.label(words);
            let drag = DragValue::new(at).range(0.0..=places.ends).speed(0.005).fixed_decimals(3).suffix(" s");
            name_it(&ui.add(drag), Role::SpinButton, &format!("{words}: seconds of the known bar"));
            let button = ui.button("at the playhead");
            name_it(&button, Role::Button, &format!("{words} at the playhead"));
            if button.clicked() {
                *at = places.playhead;
            }
            ui.end_row();
        }
        ui.label("Beats");
        let words = |beats: Option<u8>| beats.map_or_else(|| "by ear".to_owned(), |b| b.to_string());
        let combo = egui::ComboBox::from_id_salt("known beats").width(64.0).selected_text(words(known.bar.beats));
        let shown = combo.show_ui(ui, |ui| {
            for beats in (2..=7).map(Some).chain([None]) {
                ui.selectable_value(&mut known.bar.beats, beats, words(beats));
            }
        });
        name_it(&shown.response, Role::ComboBox, "Beats in the known bar");
        ui.end_row();
    });
    // If the beginning is moved past the end, the end moves along.
    if before.from < known.bar.from && known.bar.to - known.bar.from < *GivenBar::LASTS.start() {
        known.bar.to = (known.bar.from + before.to - before.from).min(places.ends);
    }
    ui.horizontal_wrapped(|ui| {
        for (words, bar) in [("The bar drawn at the playhead", places.drawn), ("The bar tapped", places.tapped)] {
            if ui.add_enabled(bar.is_some(), egui::Button::new(words)).clicked()
                && let Some(bar) = bar
            {
                known.bar = bar;
            }
        }
    });
    ui.label("To tap it: play, then T on each of its beats and on the next downbeat.");
    let wrong = known.bar.check(places.ends).err();
    if let Some(why) = &wrong {
        ui.colored_label(ui.visuals().error_fg_color, why.to_string());
    }
    wrong.is_none()
}

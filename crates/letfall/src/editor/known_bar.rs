//! A bar of the recording that a person knows, from which all others are found: its two ends, and how many beats it has.

use super::fields::name_it;
use egui::accesskit::Role;
use egui::{DragValue, Ui};
use letfall_sound::bars::GivenBar;

/// Where such a bar can be taken from.
pub struct Places {
    /// Seconds at the playhead.
    pub playhead: f64,
    /// The bar that stands there, as it is drawn.
    pub drawn: Option<GivenBar>,
    /// The bar that was tapped.
    pub tapped: Option<GivenBar>,
    /// Seconds of the recording.
    pub ends: f64,
}

/// What a person says of one bar.
pub struct KnownBar {
    /// Whether they say anything.
    says: bool,
    bar: GivenBar,
    /// The bar that was tapped when it was last looked.
    tapped: Option<GivenBar>,
}

impl Default for KnownBar {
    fn default() -> KnownBar {
        KnownBar { says: false, tapped: None, bar: GivenBar { from: 0.0, to: 2.0, beats: Some(4) } }
    }
}

impl KnownBar {
    /// The bar, where one is said.
    pub fn bar(&self) -> Option<GivenBar> {
        self.says.then_some(self.bar)
    }

    /// Shows it; whether it can be looked from, or nothing is said.
    pub fn show(&mut self, ui: &mut Ui, places: &Places) -> bool {
        if ui.checkbox(&mut self.says, "I know one of its bars").clicked()
            && self.says
            && let Some(bar) = places.tapped.or(places.drawn)
        {
            self.bar = bar;
        }
        if !self.says {
            return true;
        }
        // What is tapped while this is open is meant for it.
        if places.tapped != self.tapped {
            self.tapped = places.tapped;
            self.bar = places.tapped.unwrap_or(self.bar);
        }
        ui.indent("known bar", |ui| self.fields(ui, places)).inner
    }

    /// What is said of it, and where it can be taken from; whether it can be a bar.
    fn fields(&mut self, ui: &mut Ui, places: &Places) -> bool {
        let before = self.bar;
        egui::Grid::new("known bar").num_columns(3).spacing([8.0, 6.0]).show(ui, |ui| {
            for (words, at) in [("Begins", &mut self.bar.from), ("Ends", &mut self.bar.to)] {
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
            let combo = egui::ComboBox::from_id_salt("known beats").width(64.0).selected_text(words(self.bar.beats));
            let shown = combo.show_ui(ui, |ui| {
                for beats in (2..=7).map(Some).chain([None]) {
                    ui.selectable_value(&mut self.bar.beats, beats, words(beats));
                }
            });
            name_it(&shown.response, Role::ComboBox, "Beats in the known bar");
            ui.end_row();
        });
        // A bar that is begun later than it ended is carried along.
        if before.from < self.bar.from && self.bar.to - self.bar.from < *GivenBar::LASTS.start() {
            self.bar.to = (self.bar.from + before.to - before.from).min(places.ends);
        }
        ui.horizontal_wrapped(|ui| {
            for (words, bar) in [("The bar drawn at the playhead", places.drawn), ("The bar tapped", places.tapped)] {
                if ui.add_enabled(bar.is_some(), egui::Button::new(words)).clicked()
                    && let Some(bar) = bar
                {
                    self.bar = bar;
                }
            }
        });
        ui.label("To tap it: play, then T on each of its beats and on the next downbeat.");
        let wrong = self.bar.check(places.ends).err();
        if let Some(why) = &wrong {
            ui.colored_label(ui.visuals().error_fg_color, why.to_string());
        }
        wrong.is_none()
    }
}

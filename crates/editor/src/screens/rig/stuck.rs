//! The plan for a stuck fabric: who says what, which cues wait, what the outputs show.

use crate::widgets::fields::Fields;
use crate::widgets::theme::bold;
use egui::{FontId, Grid, RichText, Ui};
use letfall_core::limits;
use letfall_core::show::{HangUp, Label, Output, OutputKey, Release, Route};
use std::fmt;
use std::str::FromStr;

fn output_name<'a>(outputs: &'a [Output], key: &'a OutputKey) -> &'a str {
    outputs.iter().find(|o| o.key == *key).map_or(key.as_str(), |o| o.name.as_str())
}

/// The fields of the plan.
pub fn hang_up(ui: &mut Ui, release: &mut Release, routes: &[Route], outputs: &[Output], fields: &mut Fields) {
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
        for (words, text) in
            [("Who says so", &mut plan.caller), ("The words", &mut plan.words), ("What is done next", &mut plan.then)]
        {
            ui.label(words);
            if words == "What is done next" {
                fields.long_text(ui, text, 520.0, &name(words));
            } else {
                fields.text(ui, text, 520.0, &name(words));
            }
            ui.end_row();
        }
        ui.label("Cues that wait");
        let mut hold = Labels(plan.hold.clone());
        fields.parsed(ui, &mut hold, 320.0, "L12 M5", &name("Cues that wait"));
        plan.hold = hold.0;
        ui.end_row();
        ui.label("Outputs show");
        ui.horizontal_wrapped(|ui| {
            for route in routes {
                let mut on = plan.show.contains(&route.key);
                let before = on;
                let words = format!("{}: {}", output_name(outputs, &route.output), route.name);
                fields.tick(ui, &mut on, &words, &name(&words));
                if on && !before {
                    plan.show.push(route.key.clone());
                } else if before && !on {
                    plan.show.retain(|k| *k != route.key);
                }
            }
        });
        ui.end_row();
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

/// A list of labels as text.
#[derive(Clone, PartialEq)]
struct Labels(Vec<Label>);

impl fmt::Display for Labels {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words: Vec<String> = self.0.iter().map(ToString::to_string).collect();
        f.write_str(&words.join(" "))
    }
}

impl FromStr for Labels {
    type Err = <Label as FromStr>::Err;

    fn from_str(text: &str) -> Result<Labels, Self::Err> {
        let words = text.split([' ', ',']).filter(|word| !word.is_empty());
        words.map(str::parse).collect::<Result<_, _>>().map(Labels)
    }
}

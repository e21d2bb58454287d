//! What a release does other than fall when planned: which cues depend on it, who says what, what is sent at once.

use crate::widgets::fields::Fields;
use crate::widgets::label_list::labels;
use egui::{Grid, Ui};
use letfall_core::show::{Branch, MediaItem, MediaKey, Output, OutputKey, Preset, PresetKey, Release, Route, RouteKey};

/// What can be sent when a release takes another course.
pub struct Things<'a> {
    /// Routes.
    pub routes: &'a [Route],
    /// Outputs, for the names of routes.
    pub outputs: &'a [Output],
    /// Lighting presets.
    pub presets: &'a [Preset],
    /// Media.
    pub media: &'a [MediaItem],
}

/// The fields of a release's other courses.
pub fn show(ui: &mut Ui, release: &mut Release, things: &Things<'_>, fields: &mut Fields) {
    let whose = release.name.clone();
    Grid::new(("depends", &whose)).num_columns(2).spacing([10.0, 6.0]).show(ui, |ui| {
        ui.label("Cues that make no sense unless it falls, besides those of its handover");
        labels(ui, fields, &mut release.depends, 320.0, &format!("Cues that depend on {whose}"));
        ui.end_row();
    });
    for (branch, words, name) in [
        (&mut release.stays, "The fabric stays: nobody armed it in time, or let go", "fabric stays"),
        (&mut release.early, "Early: it fell before its time. People come before pictures", "early"),
    ] {
        let name = |part: &str| format!("{part} for {name} of {whose}");
        let mut known = branch.is_some();
        fields.tick(ui, &mut known, words, &name("Presence"));
        if !known {
            *branch = None;
            continue;
        }
        let branch = branch.get_or_insert_with(Branch::default);
        Grid::new(name("course")).num_columns(2).spacing([10.0, 6.0]).show(ui, |ui| {
            said(ui, fields, &name, [&mut branch.caller, &mut branch.words, &mut branch.told_by, &mut branch.then]);
            sent(ui, fields, things, &name, (&mut branch.lights, &mut branch.media, &mut branch.show));
        });
    }
}

/// Who says it, the words, who tells those without a headset, and what is done next.
pub(super) fn said(ui: &mut Ui, fields: &mut Fields, name: &dyn Fn(&str) -> String, texts: [&mut String; 4]) {
    let words = ["Who says so", "The words", "Who tells those without a headset", "What is done next"];
    for (at, (words, text)) in words.into_iter().zip(texts).enumerate() {
        ui.label(words);
        if at == 3 {
            fields.long_text(ui, text, 520.0, &name(words));
        } else {
            fields.text(ui, text, 520.0, &name(words));
        }
        ui.end_row();
    }
}

/// What is sent at once: presets, media, and what outputs show.
pub(super) fn sent(
    ui: &mut Ui,
    fields: &mut Fields,
    things: &Things<'_>,
    name: &dyn Fn(&str) -> String,
    (lights, media, show): (&mut Vec<PresetKey>, &mut Vec<MediaKey>, &mut Vec<RouteKey>),
) {
    ui.label("Lights, at once");
    ui.horizontal_wrapped(|ui| {
        for preset in things.presets {
            ticked(ui, fields, lights, &preset.key, &preset.name, name);
        }
    });
    ui.end_row();
    ui.label("Media, at once");
    ui.horizontal_wrapped(|ui| {
        for item in things.media {
            ticked(ui, fields, media, &item.key, &item.name, name);
        }
    });
    ui.end_row();
    ui.label("Outputs show");
    ui.horizontal_wrapped(|ui| {
        for route in things.routes {
            let words = format!("{}: {}", output_name(things.outputs, &route.output), route.name);
            ticked(ui, fields, show, &route.key, &words, name);
        }
    });
    ui.end_row();
}

/// A tick for one thing of a list.
fn ticked<K: Clone + PartialEq>(
    ui: &mut Ui,
    fields: &mut Fields,
    list: &mut Vec<K>,
    key: &K,
    words: &str,
    name: &dyn Fn(&str) -> String,
) {
    let before = list.contains(key);
    let mut on = before;
    fields.tick(ui, &mut on, words, &name(words));
    if on && !before {
        list.push(key.clone());
    } else if before && !on {
        list.retain(|known| known != key);
    }
}

fn output_name<'a>(outputs: &'a [Output], key: &'a OutputKey) -> &'a str {
    outputs.iter().find(|o| o.key == *key).map_or(key.as_str(), |o| o.name.as_str())
}

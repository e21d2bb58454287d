//! Bars by ear, in the song's panel: the offer and what can be done with it, the known bar, the taps.

use super::known_bar_panel::{self, Places};
use crate::by_ear::{ByEar, EarRequest};
use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};
use letfall_sound::bars::{Found, GivenBar, Taps};

/// What was found and tapped.
#[derive(Clone, Copy)]
pub struct Ear<'a> {
    /// The offer of bars found in the recording.
    pub by_ear: &'a ByEar,
    /// The taps so far.
    pub taps: &'a Taps,
    /// Whether pads or keys also count as taps.
    pub pads: bool,
}

/// Facts about the song.
pub struct About {
    /// The length of its recording in seconds, if it has one.
    pub recording: Option<f64>,
    /// The song time at the playhead, in seconds.
    pub playhead: f64,
    /// The bar of its grid at the playhead.
    pub here: Option<GivenBar>,
}

/// Shows the panel. Returns the user's requests.
pub fn show(ui: &mut Ui, ear: &Ear<'_>, song: &About) -> Vec<EarRequest> {
    let Ear { by_ear, taps, pads } = *ear;
    let mut pads = pads;
    let mut asked = Vec::new();
    ui.add_space(8.0);
    ui.label(RichText::new("Bars by ear").font(FontId::new(15.5, bold())));
    if let Some((share, step)) = by_ear.listening() {
        ui.horizontal(|ui| {
            ui.add(egui::ProgressBar::new(share).desired_width(140.0));
            ui.label(step);
        });
        if ui.button("Stop listening").clicked() {
            asked.push(EarRequest::StopListening);
        }
    } else if let Some(ends) = song.recording {
        let drawn = by_ear.offered(song.playhead).or(song.here);
        let tapped = taps.bar(None).or_else(|| taps.bar(Some(by_ear.beats())));
        let mut known = *by_ear.known_bar();
        let can = known_bar_panel::show(ui, &mut known, &Places { playhead: song.playhead, drawn, tapped, ends });
        if known != *by_ear.known_bar() {
            asked.push(EarRequest::Known(known));
        }
        let words =
            if known.bar().is_some() { "Find the others from this one" } else { "Find the bars in the recording" };
        if ui.add_enabled(can, egui::Button::new(words)).clicked() {
            asked.push(EarRequest::Find);
        }
    } else {
        ui.label("Choose a recording, and its bars can be found in it.");
    }
    if let Some(found) = by_ear.found() {
        asked.extend(tried(ui, found, by_ear.remarks(), by_ear.is_fresh()));
        if by_ear.is_fresh() {
            asked.push(EarRequest::Shown);
        }
    }
    ui.add_space(4.0);
    ui.label("Or tap: play the song and press T on every beat, the first time on a downbeat.");
    let mut beats = by_ear.beats();
    ui.horizontal(|ui| {
        let label = ui.label("Beats in a bar");
        let combo = egui::ComboBox::from_id_salt("tapped beats").width(56.0).selected_text(beats.to_string());
        let shown = combo.show_ui(ui, |ui| {
            for count in 2..=7 {
                ui.selectable_value(&mut beats, count, count.to_string());
            }
        });
        shown.response.labelled_by(label.id);
    });
    if beats != by_ear.beats() {
        asked.push(EarRequest::TappedBeats(beats));
    }
    if ui.checkbox(&mut pads, "Pads or keys on a MIDI port tap too").clicked() {
        asked.push(EarRequest::Pads);
    }
    if !taps.is_empty() {
        let about = taps.tempo().map_or_else(String::new, |bpm| format!(", about {bpm:.0} a minute"));
        ui.label(format!("{}{about}", many(taps.len(), "tap")));
        if ui.button("Pin the bars tapped, keep the others").clicked() {
            asked.push(EarRequest::PinTaps);
        }
        ui.horizontal(|ui| {
            if ui.button("Use them for the whole song").clicked() {
                asked.push(EarRequest::UseTaps);
            }
            if ui.button("Forget them").clicked() {
                asked.push(EarRequest::ForgetTaps);
            }
        });
    }
    asked
}

/// A number of things, in words.
fn many(n: usize, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

/// Shows the bars that were found, and what can be done with them.
fn tried(ui: &mut Ui, found: &Found, remarks: &[String], fresh: bool) -> Option<EarRequest> {
    let mut action = None;
    let metres: Vec<String> = found.plan.metres.iter().map(|m| m.metre.to_string()).collect();
    let beat = if found.compound { "dotted quarters" } else { "beats" };
    let head = ui.label(format!(
        "Found {} in {}, {:.1} {beat} a minute: {}, {}.",
        many(found.bars as usize, "bar"),
        metres.join(", "),
        found.tempo(),
        many(found.plan.tempos.len(), "tempo mark"),
        many(found.plan.pins.len(), "pin")
    ));
    if fresh {
        // Scroll so that all of it is visible, down to the last button.
        let below = egui::vec2(head.rect.width(), 260.0);
        ui.scroll_to_rect(egui::Rect::from_min_size(head.rect.min, below), None);
    }
    for words in remarks {
        ui.colored_label(ui.visuals().warn_fg_color, words);
    }
    let mut row = |ui: &mut Ui, buttons: &[(&str, EarRequest)]| {
        ui.horizontal(|ui| {
            for (words, what) in buttons {
                if ui.button(*words).clicked() {
                    action = Some(*what);
                }
            }
        });
    };
    row(ui, &[("Half the tempo", EarRequest::Half), ("Twice the tempo", EarRequest::Double)]);
    row(ui, &[("3 beats for 2", EarRequest::Recount(3, 2)), ("2 beats for 3", EarRequest::Recount(2, 3))]);
    row(ui, &[("Half a beat later", EarRequest::HalfBeat)]);
    row(ui, &[("Bars a beat earlier", EarRequest::Shift(-1)), ("A beat later", EarRequest::Shift(1))]);
    row(ui, &[("Use these bars", EarRequest::Use), ("Leave them", EarRequest::Leave)]);
    ui.horizontal_wrapped(|ui| {
        ui.label("Beats in a bar");
        for beats in 2..=7u8 {
            let chosen = found.beats.iter().filter(|b| b.of == beats).count() * 2 > found.beats.len();
            if ui.add(egui::Button::new(beats.to_string()).selected(chosen)).clicked() {
                action = Some(EarRequest::Bars(beats));
            }
        }
    });
    let spots = found.weak_spots();
    let spot = |(from, to): &(i32, i32)| if from == to { from.to_string() } else { format!("{from} to {to}") };
    let mut words: Vec<String> = spots.iter().take(5).map(spot).collect();
    if spots.len() > words.len() {
        words.push("and others".to_owned());
    }
    if !words.is_empty() {
        let words = format!("Hard to hear, look at them: bars {}.", words.join(", "));
        ui.colored_label(ui.visuals().warn_fg_color, words);
    }
    action
}

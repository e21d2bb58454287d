//! How the lead of one cue is made up.

use crate::document::Document;
use egui::{RichText, Ui};
use letfall_core::schedule::{certainty, describe, first_upper, message_words, place_words};
use letfall_core::show::{Kind, Label};
use letfall_core::time::SongSpan;

/// Shows the parts of the lead.
pub fn show(ui: &mut Ui, document: &Document, label: Label) {
    let (Ok(plan), Some(service)) = (document.plan(), document.current()) else { return };
    let (Some(row), Some(cue)) = (plan.row(label), service.cues.get(label)) else { return };
    let grid = &plan.grid();
    let sure = certainty(&document.show, cue, row);
    ui.label(RichText::new(describe(&document.show, cue)).strong());
    egui::Grid::new("lead").num_columns(2).spacing([10.0, 3.0]).show(ui, |ui| {
        let mut line = |name: &str, value: String| {
            ui.label(name);
            ui.monospace(value);
            ui.end_row();
        };
        line("lands", format!("{}  {}", place_words(cue, grid), row.land));
        line("sent", row.send.to_string());
        if let Some(decision) = plan.decision(label).filter(|_| label.kind == Kind::Release) {
            line("settled by", format!("{}  {}", grid.beat_text(decision.at), decision.at));
        }
        line("lead", row.lead.total().to_string());
        line("  device", row.lead.device.to_string());
        line("  action", row.lead.action.to_string());
        line("  wire", format!("{:.2} ms", row.lead.wire.micros() as f64 / 1000.0));
        if row.lead.adjust != SongSpan::ZERO {
            line("  adjusted by hand", row.lead.adjust.to_string());
        }
        if row.lead.sound == SongSpan::ZERO {
            line("  sound to the seats", "off".to_owned());
        } else {
            line("  sound to the seat", format!("-{}", row.lead.sound));
        }
        line("may be early by", row.early.to_string());
        line("may be late by", row.late.to_string());
        line("in time (timing only)", sure.chance_words());
        if let Some(receiver) = row.receiver {
            line("to", document.show.receivers[receiver as usize].name.clone());
        }
        if row.waits > SongSpan::ZERO {
            line("waits for its port", format!("{:.2} ms", row.waits.micros() as f64 / 1000.0));
        }
    });
    if let Some(seats) = plan.seats_in_time(label) {
        ui.label(first_upper(&seats.words()));
    }
    let settings = &document.show.settings;
    if !sure.assumed.is_empty() {
        ui.label(RichText::new(first_upper(&sure.assumed)).italics());
    }
    if let Some((term, share)) = sure.dominating() {
        ui.label(format!(
            "In time means {} early to {} late (the show's choice; usual are 125 and 45 ms, ITU-R BT.1359-1). {:.0} % of the spread is {}. To improve it: {}.",
            settings.early,
            settings.late,
            share * 100.0,
            term.name(),
            term.remedy()
        ));
    }
    if let Some(message) = document.show.message_of(&cue.does) {
        ui.label(format!("Message: {}", message_words(message)));
    }
    if label.kind == Kind::Release {
        ui.label("A message that was sent does not show that the fabric fell. Clear signal first; the holder of the arm decides; local codes and the competent person for the rig come first.");
    }
}

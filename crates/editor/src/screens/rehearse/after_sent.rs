//! After a run: how late each port was, and what was not sent.

use super::headings::head;
use crate::widgets::theme::bold;
use egui::{FontId, Grid, RichText, Ui};
use letfall_live::Summary;

/// Why something was not sent, in words.
fn why(outcome: &str) -> &str {
    match outcome {
        "locked" => "nobody held it open",
        "other-course" => "it depends on a release that took another course",
        "too-late" => "it was too late",
        "no-port" => "its port was not there",
        "jumped-over" => "jumped over",
        "rehearsed" => "a rehearsal, and it has no stand-in",
        "would-release" => "it might let a fabric go",
        "twice" => "it was sent before in this run",
        "withdrawn" => "the run stopped or went elsewhere first",
        "too-long" => "too long on the wire of a release that might have left",
        "port-stuck" => "its port took nothing at the moment",
        other => other,
    }
}

/// How late each port was, and what was not sent.
pub fn show(ui: &mut Ui, summary: Option<&Summary>) {
    head(ui, "What was sent");
    let Some(summary) = summary else {
        ui.label("Nothing has been sent since the program was started. After a run, what came of it is shown here.");
        return;
    };
    if !summary.ports.is_empty() {
        Grid::new("lateness").spacing([24.0, 4.0]).striped(true).show(ui, |ui| {
            for words in ["Port", "Messages", "Half within", "99 of 100 within", "Latest"] {
                ui.label(RichText::new(words).font(FontId::new(14.5, bold())));
            }
            ui.end_row();
            for (port, late) in &summary.ports {
                ui.label(port);
                ui.label(late.sent.to_string());
                for micros in [late.median, late.most, late.worst] {
                    ui.label(format!("{:.2} ms", micros.micros() as f64 / 1e3));
                }
                ui.end_row();
            }
        });
    }
    for (label, by) in &summary.releases {
        ui.label(format!(
            "{label}: its message was sent, held open by {by}. Whether the fabric fell is for people to say."
        ));
    }
    if summary.unsent.is_empty() {
        ui.label("Nothing was left unsent.");
    } else {
        let mut unsent = summary.unsent.clone();
        // Releases come first, because they matter most.
        unsent.sort_by_key(|(label, _)| !label.starts_with('R'));
        let words: Vec<String> = unsent.iter().map(|(label, outcome)| format!("{label} ({})", why(outcome))).collect();
        ui.colored_label(ui.visuals().warn_fg_color, format!("Not sent: {}", words.join(", ")));
    }
}

//! The problems of the service on screen, worst first; a click goes to the place.

use crate::document::Document;
use crate::request::{Requests, UiRequest};
use crate::widgets::theme::bold;
use egui::{RichText, Ui};
use letfall_core::check::{Problem, Severity, not_checked};

/// Shows the list, or only how many they are.
pub fn show(ui: &mut Ui, document: &Document, only_count: bool, requests: &mut Requests) {
    let Ok(plan) = document.plan() else { return };
    let count = plan.problem_count();
    let empty = document.current().is_some_and(|s| s.cues.is_empty());
    let words = if count == 0 && empty {
        "No cues yet: there is nothing to check".to_owned()
    } else if count == 0 {
        "No problems found".to_owned()
    } else {
        format!("{count} problem{}", if count == 1 { "" } else { "s" })
    };
    ui.horizontal(|ui| {
        ui.label(RichText::new(words).font(egui::FontId::new(14.5, bold())));
        if count > 0 || !empty {
            // Nobody should take “no problems” for more than it is.
            ui.menu_button("What was not checked", |ui| {
                for line in not_checked(plan.show()) {
                    ui.label(line);
                }
            });
        }
    });
    if count == 0 || only_count {
        return;
    }
    // Worst first, whether it is about the rig or about cues.
    let rig = plan.prepared_show().rig_problems();
    let mut all: Vec<&Problem> = rig.iter().chain(plan.problems()).collect();
    all.sort_by_key(|problem| problem.severity());
    let mut go: Option<&Problem> = None;
    egui::ScrollArea::vertical().auto_shrink(false).show_rows(ui, 24.0, count, |ui, range| {
        for at in range {
            let problem = all[at];
            if ui.add(egui::Button::new(line(ui, problem)).frame(false).truncate()).clicked() {
                go = Some(problem);
            }
        }
    });
    if let Some(cues) = go.map(|problem| &problem.cues).filter(|cues| !cues.is_empty()) {
        if let Some(row) = plan.row(cues[0]) {
            requests.playhead(row.land);
            requests.push(UiRequest::Reveal(row.land));
        }
        requests.select(cues.iter().copied());
    }
}

fn line(ui: &Ui, problem: &Problem) -> RichText {
    let sign = match problem.severity() {
        Severity::Stop => "STOP",
        Severity::Fix => "FIX",
        Severity::Note => "NOTE",
    };
    let text = RichText::new(format!("{sign}  {problem}"));
    if problem.severity() == Severity::Stop { text.color(ui.visuals().error_fg_color).strong() } else { text }
}

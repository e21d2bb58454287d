//! The foot of the window: what goes on, or what was said last; and the caution, which never makes room for it.

use crate::document::Document;
use crate::jobs::{Job, JobResult};
use crate::widgets::theme::Theme;
use egui::{RichText, Ui};

/// What stands there whatever is said beside it.
const CAUTION: &str = "Planning figures only. Sent is not fallen; competent people and local codes decide.";

/// Shows it; whether the work that goes on is to be given up.
pub fn show(ui: &mut Ui, job: Option<&Job<Result<JobResult, String>>>, document: &Document, theme: Theme) -> bool {
    let right = egui::Layout::right_to_left(egui::Align::Center);
    let left = egui::Layout::left_to_right(egui::Align::Center);
    ui.horizontal(|ui| {
        ui.with_layout(right, |ui| {
            let caution = RichText::new(CAUTION).color(theme.palette().quiet);
            ui.add(egui::Label::new(caution).extend());
            ui.with_layout(left, |ui| said(ui, job, document)).inner
        })
        .inner
    })
    .inner
}

/// What goes on, or what was said last.
fn said(ui: &mut Ui, job: Option<&Job<Result<JobResult, String>>>, document: &Document) -> bool {
    if let Some(job) = job {
        // First in the row, so that it does not move while the words beside it change.
        let stop = ui.button("Stop").clicked();
        ui.label(format!("{} {}", job.words, job.step()).trim_end());
        let bar = ui.add(egui::ProgressBar::new(job.share()).desired_width(140.0).desired_height(14.0));
        bar.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::ProgressIndicator, true, "How far"));
        return stop;
    }
    if document.is_preparing() {
        ui.label("Working out the schedule…");
        return false;
    }
    match &document.said {
        Some(said) if said.failed => {
            let words = RichText::new(format!("Not done: {}", said.text)).color(ui.visuals().error_fg_color);
            ui.add(egui::Label::new(words).wrap());
        }
        Some(said) => {
            ui.add(egui::Label::new(&said.text).wrap());
        }
        None => {}
    }
    false
}

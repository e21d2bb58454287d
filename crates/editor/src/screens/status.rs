//! The foot of the window: the job that is running or the latest message, beside a caution that is always visible.

use crate::document::Document;
use crate::jobs::{Job, JobResult};
use crate::widgets::theme::Theme;
use egui::{RichText, Ui};

/// The caution that is always shown.
const CAUTION: &str =
    "Planning figures only. Sending a cue does not mean that the fabric fell. Competent people and local codes decide.";

/// Shows the foot. Returns whether the user wants to stop the running job.
pub fn show(ui: &mut Ui, job: Option<&Job<Result<JobResult, String>>>, document: &Document, theme: Theme) -> bool {
    let right = egui::Layout::right_to_left(egui::Align::Center);
    let left = egui::Layout::left_to_right(egui::Align::Center);
    if ui.available_width() < 1000.0 {
        // In a narrow window the caution has a line of its own.
        ui.add(egui::Label::new(RichText::new(CAUTION).color(theme.palette().quiet)).wrap());
        let nothing = job.is_none() && document.said.is_none() && !document.is_preparing();
        return !nothing && ui.horizontal(|ui| said(ui, job, document)).inner;
    }
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

/// Shows the running job or the latest message. Returns whether the user wants to stop the job.
fn said(ui: &mut Ui, job: Option<&Job<Result<JobResult, String>>>, document: &Document) -> bool {
    if let Some(job) = job {
        // The button comes first, so that it does not move while the words beside it change.
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

//! Which leads will change once measured times are in the show. Worked out when the figures change, in the background if there are very
//! many cues.

use crate::document::{BESIDE, Document};
use crate::jobs::Job;
use crate::widgets::theme::bold;
use egui::{FontId, Grid, RichText, Ui};
use letfall_core::edit::Edit;
use letfall_core::prepared::Prepared;
use letfall_core::show::Label;
use letfall_core::time::SongSpan;
use std::sync::Arc;

/// The most leads that are shown.
const MOST: usize = 40;

/// A cue whose lead changes: before and after.
type Changed = (Label, SongSpan, SongSpan);

/// The changed leads, as last worked out. `K` is what was measured, as far as the leads depend on it.
pub struct Leads<K> {
    /// The revision of the show, the service, and what was measured.
    of: Option<(u64, usize, K)>,
    changed: Option<Vec<Changed>>,
    coming: Option<Job<Vec<Changed>>>,
}

impl<K> Default for Leads<K> {
    fn default() -> Leads<K> {
        Leads { of: None, changed: None, coming: None }
    }
}

impl<K: PartialEq + Clone> Leads<K> {
    /// Shows them, if `edit` were made.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, measured: &K, edit: &Edit) {
        let of = (document.revision, document.service, measured.clone());
        if self.of.as_ref() != Some(&of) {
            self.of = Some(of);
            self.begin(ui.ctx(), document, edit);
        }
        if let Some(done) = self.coming.as_mut().and_then(Job::poll) {
            (self.coming, self.changed) = (None, done.ok());
        }
        ui.add_space(10.0);
        ui.label(RichText::new("Leads, before and after").font(FontId::new(18.0, bold())));
        match &self.changed {
            None => ui.label("Working them out…"),
            Some(none) if none.is_empty() => ui.label("No lead changes: every message leaves when it did before."),
            Some(changed) => table(ui, changed),
        };
    }

    fn begin(&mut self, ctx: &egui::Context, document: &Document, edit: &Edit) {
        (self.changed, self.coming) = (None, None);
        let Ok(plan) = document.plan() else { return };
        if plan.schedule().rows.len() <= BESIDE {
            self.changed = Some(changed(&plan, edit));
            return;
        }
        let (ctx, edit) = (ctx.clone(), edit.clone());
        let wake = Arc::new(move || ctx.request_repaint());
        self.coming = Job::start("Leads", 1, wake, move |_| changed(&plan, &edit)).ok();
    }
}

fn changed(plan: &Prepared, edit: &Edit) -> Vec<Changed> {
    let mut after = (**plan.show()).clone();
    if edit.apply(&mut after).is_err() {
        return Vec::new();
    }
    let Ok(new) = Prepared::hypothetical(Arc::new(after), plan.service_at()) else { return Vec::new() };
    let lead = |row: &letfall_core::schedule::Row| {
        let (before, after) = (row.lead.total(), new.row(row.label)?.lead.total());
        (before != after).then_some((row.label, before, after))
    };
    plan.schedule().rows.iter().filter_map(lead).collect()
}

fn table(ui: &mut Ui, changed: &[Changed]) -> egui::Response {
    let grid = Grid::new("leads").spacing([24.0, 4.0]).striped(true).show(ui, |ui| {
        for (label, old, new) in changed.iter().take(MOST) {
            ui.label(label.to_string());
            ui.label(format!("{:.3} s", old.secs_f64()));
            ui.label(format!("to {:.3} s", new.secs_f64()));
            let by = (*new - *old).secs_f64() * 1e3;
            ui.label(format!("{by:+.0} ms: its message leaves {}", if by > 0.0 { "earlier" } else { "later" }));
            ui.end_row();
        }
    });
    if changed.len() > MOST {
        ui.label(format!("and {} more", changed.len() - MOST));
    }
    grid.response
}

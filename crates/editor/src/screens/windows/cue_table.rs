//! Cues from a table: rows are pasted or typed, and before anything happens each one says what would become of it.

use crate::document::Document;
use crate::jobs::FilePurpose;
use crate::request::{Requests, Then, UiRequest};
use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};
use letfall_core::edit::{Clash, CueTable, RowOutcome, take_cue_table};
use letfall_core::schedule::{describe, place_words};
use letfall_core::show::Label;
use letfall_export::cue_table;

/// The window's state.
pub struct CueTableWindow {
    text: String,
    clash: Clash,
    read: Option<Read>,
}

/// The table as it was read, and what it was read from.
struct Read {
    text: String,
    clash: Clash,
    revision: u64,
    service: usize,
    result: Result<(CueTable, Vec<String>), String>,
}

impl CueTableWindow {
    /// A window with this text in it.
    pub const fn new(text: String) -> CueTableWindow {
        CueTableWindow { text, clash: Clash::Keep, read: None }
    }

    /// Whether anything is in it.
    pub fn has_text(&self) -> bool {
        !self.text.trim().is_empty()
    }

    /// Shows it; `false` once it is closed.
    pub fn show(&mut self, ctx: &egui::Context, document: &Document, requests: &mut Requests) -> bool {
        let (mut open, mut done) = (true, false);
        let window = egui::Window::new("Cues from a table").collapsible(false).open(&mut open).resizable(false);
        window.anchor(egui::Align2::CENTER_TOP, egui::vec2(0.0, 50.0)).show(ctx, |ui| {
            ui.set_width(760.0);
            let label = ui.label(
                "Paste rows from a spreadsheet: bar, label, kind, what, text. With headings the columns may stand in any \
                 order, and only bar and what are needed.",
            );
            egui::ScrollArea::vertical().id_salt("rows").max_height(130.0).show(ui, |ui| {
                let edit = egui::TextEdit::multiline(&mut self.text).desired_rows(6).desired_width(f32::INFINITY);
                let edit = edit.hint_text("33 b1\t\tlighting\tWarm front\tas she turns");
                let field = ui.add(edit).labelled_by(label.id);
                if self.text.is_empty() && !ui.memory(|m| m.focused().is_some()) {
                    field.request_focus();
                }
            });
            self.read(document);
            if self.text.trim().is_empty() {
                if ui.button("Read a file…").clicked() {
                    requests.push(UiRequest::File(FilePurpose::Table));
                }
                return;
            }
            match self.read.as_ref().map(|read| &read.result) {
                Some(Ok((table, unused))) => done = preview(ui, document, table, unused, &mut self.clash, requests),
                Some(Err(why)) => {
                    ui.colored_label(ui.visuals().error_fg_color, why);
                }
                None => {}
            }
        });
        open && !done
    }

    /// Reads the table anew if it, or the show, has changed.
    fn read(&mut self, document: &Document) {
        let now = (document.revision, document.service);
        let fresh = self.read.as_ref().is_some_and(|read| {
            read.text == self.text && read.clash == self.clash && (read.revision, read.service) == now
        });
        if fresh {
            return;
        }
        let result = (|| {
            let service = document.current().ok_or("this show has no service yet; add one on the Services screen")?;
            let read = cue_table::read(&self.text).map_err(|why| why.to_string())?;
            let table = take_cue_table(&document.show, &service.name, &read.rows, self.clash);
            Ok((table.map_err(|why| why.to_string())?, read.unused))
        })();
        let (revision, service) = now;
        self.read = Some(Read { text: self.text.clone(), clash: self.clash, revision, service, result });
    }
}

/// What would become of each row. Returns whether the table was taken over.
fn preview(
    ui: &mut Ui,
    document: &Document,
    table: &CueTable,
    unused: &[String],
    clash: &mut Clash,
    requests: &mut Requests,
) -> bool {
    let count = |like: fn(&RowOutcome) -> bool| table.count(like);
    let new = count(|row| matches!(row, RowOutcome::New(_)));
    let changes = count(|row| matches!(row, RowOutcome::Changes(_)));
    let kept = count(|row| matches!(row, RowOutcome::Kept(_)));
    let same = count(|row| matches!(row, RowOutcome::Same(_)));
    let unreadable = count(|row| matches!(row, RowOutcome::Unreadable(_)));
    ui.add_space(4.0);
    let words =
        format!("{new} new, {changes} changed, {kept} kept as they are, {same} there already, {unreadable} unreadable");
    ui.label(RichText::new(words).font(FontId::new(15.5, bold())));
    ui.horizontal_wrapped(|ui| {
        ui.label("Where a cue is there already and another one:");
        ui.radio_value(clash, Clash::Keep, "keep mine");
        ui.radio_value(clash, Clash::Replace, "take the table's");
        ui.radio_value(clash, Clash::Both, "keep both");
    });
    for heading in unused {
        ui.label(format!("Nothing is taken from the column “{heading}”."));
    }
    egui::ScrollArea::vertical()
        .id_salt("preview")
        .max_height(260.0)
        .min_scrolled_height(260.0)
        .auto_shrink(false)
        .show_rows(ui, 22.0, table.rows.len(), |ui, range| {
            for (line, outcome) in &table.rows[range] {
                let text = RichText::new(format!("line {line}  {}", row_words(document, table, outcome)));
                let bad = matches!(outcome, RowOutcome::Unreadable(_));
                let text = if bad { text.color(ui.visuals().error_fg_color) } else { text };
                ui.add(egui::Label::new(text).truncate());
            }
        });
    let taken = new + changes;
    let cues = |n: usize| if n == 1 { "1 cue".to_owned() } else { format!("{n} cues") };
    let words = match (taken, unreadable) {
        (_, 0) => format!("Take over {}", cues(taken)),
        (_, 1) => format!("Take over {}, leave 1 line out", cues(taken)),
        (_, out) => format!("Take over {}, leave {out} lines out", cues(taken)),
    };
    let clicked = ui.add_enabled(taken > 0, egui::Button::new(words)).clicked();
    if clicked {
        let labels = table.labels().collect();
        requests.commit_then(format!("Take over {} from a table", cues(taken)), Ok(table.edit()), Then::Select(labels));
    }
    clicked
}

/// What becomes of a row, in words.
fn row_words(document: &Document, table: &CueTable, outcome: &RowOutcome) -> String {
    let there = |label: Label| document.current().and_then(|service| service.cues.get(label));
    let said = |cue: Option<&letfall_core::show::Cue>| match (cue, document.plan()) {
        (Some(cue), Ok(plan)) => format!("{}, {}", place_words(cue, plan.grid()), describe(&document.show, cue)),
        _ => String::new(),
    };
    match outcome {
        RowOutcome::New(label) => format!("new {label}: {}", said(table.cue(*label))),
        RowOutcome::Changes(label) => {
            format!("{label} changes: {}, to {}", said(there(*label)), said(table.cue(*label)))
        }
        RowOutcome::Same(label) => format!("{label} is there already"),
        RowOutcome::Kept(label) => format!("{label} stays: {}", said(there(*label))),
        RowOutcome::Unreadable(why) => why.clone(),
    }
}

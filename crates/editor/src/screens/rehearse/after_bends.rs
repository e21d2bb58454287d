//! After a run: how it bent, beside the plan. What was made on the spot can be kept as marks on the song.

use super::headings::head;
use crate::document::Document;
use crate::rehearsal::Run;
use crate::rehearsal::choices::bar_at;
use crate::request::{Requests, UiRequest};
use egui::{Grid, RichText, Ui};
use letfall_core::edit::Edit;
use letfall_core::show::{BendMark, CueList, Service, SongBend};
use letfall_core::time::SongTime;
use letfall_live::{LogRecord, bend_words};

/// The bends of a run that are not marked on its song yet, as marks.
pub fn made(run: &Run, marked: &[BendMark]) -> Vec<BendMark> {
    let grid = &run.plan.grid;
    let bar = |micros: i64| bar_at(grid, SongTime::saturating(micros));
    let mut found: Vec<BendMark> = Vec::new();
    for record in &run.records {
        let LogRecord::Bend { what, answer, at_us: Some(at), to_us, .. } = record else { continue };
        if answer == "refused" {
            continue;
        }
        let does = match (what.as_str(), to_us) {
            ("wait", _) => SongBend::Wait {},
            ("vamp", Some(to)) => {
                let bars = u32::try_from(bar(*to) - bar(*at)).unwrap_or(1).max(1);
                SongBend::Vamp { bars, once: Vec::new() }
            }
            ("cut", Some(to)) => SongBend::Cut { to: bar(*to) },
            _ => continue,
        };
        let mark = BendMark { bar: bar(*at), does, words: String::new() };
        let known = |of: &BendMark| {
            of.bar == mark.bar && std::mem::discriminant(&of.does) == std::mem::discriminant(&mark.does)
        };
        if !marked.iter().chain(&found).any(known) {
            found.push(mark);
        }
    }
    found
}

/// A line of the list, in words: when, by the run's clock, and what.
fn line(run: &Run, record: &LogRecord, began: i64) -> Option<(String, String)> {
    let (at, words) = bend_words(record, &run.plan.grid)?;
    let since = (at - began).max(0);
    Some((format!("{}:{:02}", since / 60_000_000, since / 1_000_000 % 60), words))
}

/// Shows how a run bent, and offers to keep what was made on the spot.
pub fn show(ui: &mut Ui, document: &Document, run: Option<&Run>, requests: &mut Requests) {
    let Some(run) = run else { return };
    head(ui, "How it went beside the plan");
    let began = run.records.iter().find_map(|record| match record {
        LogRecord::Started { wall_us, .. } => Some(*wall_us),
        _ => None,
    });
    if began.is_some() && ui.button("Fill in the report of the performance").clicked() {
        requests.push(UiRequest::Report(Box::new(run.performed())));
    }
    let lines: Vec<_> = run.records.iter().filter_map(|record| line(run, record, began.unwrap_or(0))).collect();
    if lines.is_empty() {
        ui.label("It went in a straight line, as planned.");
        return;
    }
    Grid::new("bends of the run").spacing([18.0, 3.0]).striped(true).show(ui, |ui| {
        for (at, words) in lines.iter().take(200) {
            ui.label(RichText::new(at).monospace());
            ui.label(words);
            ui.end_row();
        }
    });
    let Some(service) = document.current() else { return };
    let made = made(run, &service.song.bends);
    if made.is_empty() {
        return;
    }
    let names: Vec<String> = made.iter().map(BendMark::name).collect();
    if ui.button(format!("Keep as marks on the song: {}", names.join("; "))).clicked() {
        let before = Service { cues: CueList::default(), ..service.clone() };
        let mut after = before.clone();
        after.song.bends.extend(made);
        after.song.bends.sort_by_key(|mark| mark.bar);
        let edit = Edit::Facts { before: Box::new(before), after: Box::new(after) };
        requests.commit("Keep what was made on the spot", Ok(edit));
    }
}

//! Carrying cues from the service on screen to other services.

use crate::document::Document;
use crate::request::{Requests, Then};
use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};
use letfall_core::edit::{self, Carried, Clash, Edit, Match, Selection};
use letfall_core::show::Label;
use std::collections::BTreeSet;

/// Options for carrying cues.
pub struct Carry {
    /// What counts as the same position in two songs.
    pub matching: Match,
    clash: Clash,
    to: BTreeSet<String>,
    /// What carrying would do, and what was asked for.
    previewed: Option<(Asked, Vec<String>)>,
}

/// What a preview depends on.
#[derive(PartialEq)]
struct Asked {
    revision: u64,
    service: usize,
    selection: Selection,
    to: BTreeSet<String>,
    how: (Match, Clash),
}

impl Default for Carry {
    fn default() -> Carry {
        Carry { matching: Match::Sections, clash: Clash::Keep, to: BTreeSet::new(), previewed: None }
    }
}

impl Carry {
    /// Shows the options: which cues to carry, to which services, and how.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, requests: &mut Requests) {
        let Some(here) = document.current().map(|s| s.name.clone()) else { return };
        // A service that was renamed, removed or is now on screen itself is no target any more.
        self.to.retain(|name| *name != here && document.show.service(name).is_some());
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new(format!("Carry from {here} to")).font(FontId::new(15.5, bold())));
            for service in document.show.services.iter().filter(|s| s.name != here) {
                let mut on = self.to.contains(&service.name);
                if ui.checkbox(&mut on, &service.name).changed() {
                    if on {
                        self.to.insert(service.name.clone())
                    } else {
                        self.to.remove(&service.name)
                    };
                }
            }
        });
        ui.horizontal_wrapped(|ui| {
            ui.label("Places by");
            for (matching, words) in [(Match::Sections, "section"), (Match::Bars, "bar"), (Match::Clock, "clock")] {
                ui.radio_value(&mut self.matching, matching, words);
            }
            ui.add_space(16.0);
            ui.label("On a clash");
            for (clash, words) in
                [(Clash::Keep, "keep theirs"), (Clash::Replace, "replace theirs"), (Clash::Both, "keep both")]
            {
                ui.radio_value(&mut self.clash, clash, words);
            }
            ui.add_space(16.0);
            let none = document.selection.labels.is_empty();
            let what = if none { "all cues".to_owned() } else { document.selection_words() };
            let button = egui::Button::new(format!("Carry {what}"));
            if ui.add_enabled(!self.to.is_empty(), button).clicked() {
                let to: Vec<String> = self.to.iter().cloned().collect();
                self.carry(document, &chosen(document), &to, requests);
            }
        });
        self.preview(ui, document, &here);
    }

    /// What carrying would do, before it is done.
    fn preview(&mut self, ui: &mut Ui, document: &Document, here: &str) {
        if self.to.is_empty() {
            ui.label("Choose services above to see what carrying would do. Or drag cues from this row onto another.");
            return;
        }
        let now = Asked {
            revision: document.revision,
            service: document.service,
            selection: document.selection.clone(),
            to: self.to.clone(),
            how: (self.matching, self.clash),
        };
        if self.previewed.as_ref().is_none_or(|(asked, _)| *asked != now) {
            let labels = chosen(document);
            let line = |to: &String| {
                let found = edit::carry(&document.show, here, to, &labels, self.matching, self.clash);
                found
                    .map_or_else(|why| format!("{to}: {why}"), |(_, carried)| summary(to, &carried, "would be carried"))
            };
            self.previewed = Some((now, self.to.iter().map(line).collect()));
        }
        for line in self.previewed.iter().flat_map(|(_, lines)| lines) {
            ui.label(line);
        }
    }

    /// Requests to carry cues of the service on screen to others.
    pub fn carry(&self, document: &Document, labels: &[Label], to: &[String], requests: &mut Requests) {
        let Some(from) = document.current().map(|service| service.name.clone()) else { return };
        let (mut edits, mut lines) = (Vec::new(), Vec::new());
        for to in to {
            match edit::carry(&document.show, &from, to, labels, self.matching, self.clash) {
                Ok((edit, carried)) => {
                    edits.push(edit);
                    lines.push(summary(to, &carried, "carried"));
                }
                Err(why) => return requests.fail(why.to_string()),
            }
        }
        let name = match to {
            [one] => format!("Carry to {one}"),
            many => format!("Carry to {} services", many.len()),
        };
        requests.commit_then(name, Ok(Edit::All(edits)), Then::Carried(lines));
    }
}

/// The selected cues, or all if none are selected.
fn chosen(document: &Document) -> Vec<Label> {
    let labels = document.selected();
    if labels.is_empty() {
        return document.current().map_or_else(Vec::new, |s| s.cues.iter().map(|c| c.label).collect());
    }
    labels
}

fn summary(to: &str, carried: &Carried, done: &str) -> String {
    let mut words = vec![format!("{to}: {} {done}", carried.carried.len() + carried.relabelled.len())];
    for (labels, what) in [
        (&carried.replaced, "of theirs replaced"),
        (&carried.kept, "kept as they have them"),
        (&carried.no_section, "have no such section there"),
        (&carried.no_bar, "have no such bar there"),
    ] {
        if !labels.is_empty() {
            let names: Vec<String> = labels.iter().take(10).map(ToString::to_string).collect();
            words.push(format!(
                "{} {what} ({}{})",
                labels.len(),
                names.join(", "),
                if labels.len() > 10 { " …" } else { "" }
            ));
        }
    }
    words.join("; ")
}

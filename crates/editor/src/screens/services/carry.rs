//! Carrying cues from the service on screen to other services.

use crate::document::Document;
use crate::request::{Requests, Then};
use crate::widgets::theme::bold;
use egui::{FontId, RichText, Ui};
use letfall_core::edit::{self, Carried, Clash, Edit, Match};
use std::collections::BTreeSet;

/// Options for carrying cues.
pub struct Carry {
    /// What counts as the same position in two songs.
    pub matching: Match,
    clash: Clash,
    to: BTreeSet<String>,
}

impl Default for Carry {
    fn default() -> Carry {
        Carry { matching: Match::Sections, clash: Clash::Keep, to: BTreeSet::new() }
    }
}

impl Carry {
    /// Shows the options: which cues to carry, to which services, and how.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, requests: &mut Requests) {
        let Some(here) = document.current().map(|s| s.name.clone()) else { return };
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
                self.carry(document, &here, requests);
            }
        });
    }

    fn carry(&self, document: &Document, from: &str, requests: &mut Requests) {
        let mut labels = document.selected();
        if labels.is_empty() {
            labels = document.current().map_or_else(Vec::new, |s| s.cues.iter().map(|c| c.label).collect());
        }
        let (mut edits, mut lines) = (Vec::new(), Vec::new());
        for to in &self.to {
            match edit::carry(&document.show, from, to, &labels, self.matching, self.clash) {
                Ok((edit, carried)) => {
                    edits.push(edit);
                    lines.push(summary(to, &carried));
                }
                Err(why) => return requests.fail(why.to_string()),
            }
        }
        let name = format!("Carry to {} services", self.to.len());
        requests.commit_then(name, Ok(Edit::All(edits)), Then::Carried(lines));
    }
}

fn summary(to: &str, carried: &Carried) -> String {
    let mut words = vec![format!("{to}: {} carried", carried.carried.len() + carried.relabelled.len())];
    for (labels, what) in [
        (&carried.replaced, "replaced"),
        (&carried.kept, "kept theirs"),
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

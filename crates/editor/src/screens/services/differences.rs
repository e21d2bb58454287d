//! The differences between the service on screen and the others, side by side: one side can be taken over for a cue or for all, and what was
//! looked at and kept is put away.

use super::lane::All;
use crate::document::Document;
use crate::request::Requests;
use crate::widgets::theme::bold;
use egui::{FontId, Grid, RichText, Ui};
use letfall_core::edit::{self, Clash, Difference, Edit, EditError, Field, Match};
use letfall_core::schedule::{describe, place_words};
use letfall_core::show::{Label, Service};

/// How many rows are shown for each service.
const MOST: usize = 200;

/// The state of the list.
#[derive(Default)]
pub struct Differences {
    /// Differences that were looked at and are meant: service on screen, other service, and what differs. One that changes comes back.
    kept: Vec<(String, String, Difference)>,
}

const fn label_of(difference: &Difference) -> Label {
    match difference {
        Difference::OnlyFirst(label) | Difference::OnlySecond(label) | Difference::Differs(label, _) => *label,
    }
}

impl Differences {
    /// Shows the differences to each other service.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, lanes: &All, matching: Match, requests: &mut Requests) {
        let Some(here) = document.current() else { return };
        for (other, lane) in document.show.services.iter().zip(lanes) {
            let Some(found) = lane.as_ref().and_then(|lane| lane.found.as_ref()) else { continue };
            let of = |difference: &Difference| (here.name.clone(), other.name.clone(), difference.clone());
            let is_kept = |difference: &&Difference| self.kept.contains(&of(difference));
            let open: Vec<Difference> = found.iter().filter(|d| !is_kept(d)).cloned().collect();
            let kept = found.len() - open.len();
            ui.horizontal_wrapped(|ui| {
                let words = match open.len() {
                    0 if kept > 0 => format!("{}: nothing new that is not as in {}", other.name, here.name),
                    0 => format!("{} is as {}", other.name, here.name),
                    1 => format!("{}: 1 cue is not as in {}", other.name, here.name),
                    many => format!("{}: {many} cues are not as in {}", other.name, here.name),
                };
                ui.label(RichText::new(words).font(FontId::new(15.5, bold())));
                if !open.is_empty() {
                    ui.add_space(12.0);
                    if ui.button(format!("Take all of {}", other.name)).clicked() {
                        take(document, here, other, &open, matching, requests);
                    }
                    if ui.button(format!("Keep all as in {}", here.name)).clicked() {
                        self.kept.extend(open.iter().map(of));
                    }
                }
                if kept > 0 && ui.button(format!("Show {kept} that were kept")).clicked() {
                    self.kept.retain(|(own, theirs, _)| *own != here.name || *theirs != other.name);
                }
            });
            if open.is_empty() {
                ui.add_space(10.0);
                continue;
            }
            Grid::new(("differences", &other.name)).striped(true).num_columns(4).spacing([18.0, 6.0]).show(ui, |ui| {
                for words in ["", &format!("{} (on screen)", here.name), &other.name, ""] {
                    ui.label(RichText::new(words).font(FontId::new(13.5, bold())));
                }
                ui.end_row();
                for difference in open.iter().take(MOST) {
                    let label = label_of(difference);
                    ui.label(RichText::new(label.to_string()).font(FontId::new(13.5, bold())));
                    let (ours, theirs) = sides(document, here, other, difference);
                    ui.label(ours);
                    ui.label(theirs);
                    ui.horizontal(|ui| {
                        let name = format!("Take {label} of {}", other.name);
                        let button = ui.button("Take theirs");
                        button.widget_info(|| named(&name));
                        if button.clicked() {
                            take(document, here, other, std::slice::from_ref(difference), matching, requests);
                        }
                        let name = format!("Keep {label} as in {}", here.name);
                        let button = ui.button("Keep ours");
                        button.widget_info(|| named(&name));
                        if button.clicked() {
                            self.kept.push(of(difference));
                        }
                    });
                    ui.end_row();
                }
            });
            if open.len() > MOST {
                ui.label(format!("and {} more", open.len() - MOST));
            }
            ui.add_space(10.0);
        }
    }
}

fn named(name: &str) -> egui::WidgetInfo {
    egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, name)
}

/// Makes the cues of the service on screen as they are in another service: as one step.
fn take(
    document: &Document,
    here: &Service,
    other: &Service,
    differences: &[Difference],
    matching: Match,
    requests: &mut Requests,
) {
    let of = |wanted: fn(&Difference) -> bool| -> Vec<Label> {
        differences.iter().filter(|d| wanted(d)).map(label_of).collect()
    };
    let (gone, come) = (of(|d| matches!(d, Difference::OnlyFirst(_))), of(|d| !matches!(d, Difference::OnlyFirst(_))));
    let made = || -> Result<Edit, EditError> {
        let mut edits = Vec::new();
        let mut after = (*document.show).clone();
        // Ours make room for theirs by label alone: another cue of ours at the same time on the same track stays, as it stands with them.
        let replaced = come.iter().copied().filter(|label| here.cues.get(*label).is_some());
        let out: Vec<Label> = gone.iter().copied().chain(replaced).collect();
        if !out.is_empty() {
            let removed = edit::delete(&after, &here.name, &out)?;
            removed.apply(&mut after)?;
            edits.push(removed);
        }
        if !come.is_empty() {
            let (carried, told) = edit::carry(&after, &other.name, &here.name, &come, matching, Clash::Both)?;
            let lost: Vec<String> = told.no_section.iter().chain(&told.no_bar).map(ToString::to_string).collect();
            if !lost.is_empty() {
                let words = format!("{} has no place here: this song has no such bar", lost.join(", "));
                return Err(EditError::Figure(words));
            }
            edits.push(carried);
        }
        Ok(Edit::All(edits))
    };
    let count = differences.len();
    let what = if count == 1 { label_of(&differences[0]).to_string() } else { format!("{count} cues") };
    requests.commit(format!("Take {what} of {}", other.name), made());
}

/// The two sides of a difference in words.
fn sides(document: &Document, here: &Service, other: &Service, difference: &Difference) -> (String, String) {
    let said = |service: &Service, label: Label| {
        let cue = service.cues.get(label)?;
        let place = match document.plan() {
            // Places of the service on screen are shown as everywhere else.
            Ok(plan) if service.name == plan.service().name => place_words(cue, plan.grid()),
            _ => cue.at.to_string(),
        };
        Some(format!("{place}: {}", describe(&document.show, cue)))
    };
    let label = label_of(difference);
    let none = || "not there".to_owned();
    let (mut ours, mut theirs) = (said(here, label).unwrap_or_else(none), said(other, label).unwrap_or_else(none));
    if let Difference::Differs(_, fields) = difference {
        for field in fields {
            if let Some(name) = beside(field) {
                let value =
                    |text: &str| if text.is_empty() || text == "null" { "nothing".to_owned() } else { text.to_owned() };
                ours = format!("{ours}; {name}: {}", value(&field.first));
                theirs = format!("{theirs}; {name}: {}", value(&field.second));
            }
        }
    }
    (ours, theirs)
}

/// The name of a field that does not stand in the words of a cue anyway.
fn beside(field: &Field) -> Option<&'static str> {
    Some(match field.name {
        "desk" => "desk number",
        "track" => "track",
        "length" => "plays for",
        "lead" => "sent earlier by",
        "call" => "how it is called",
        "note" => "note",
        "resting" => "resting",
        _ => return None,
    })
}

//! Name, day, start and timecode of the service on screen.

use crate::document::Document;
use crate::request::Requests;
use crate::widgets::fields::Fields;
use egui::Ui;
use letfall_core::edit::Edit;
use letfall_core::show::{CueList, Service, TimecodeStart};
use letfall_core::time::FrameRate;

/// The draft of the service, with the revision and the service it belongs to.
#[derive(Default)]
pub struct Facts {
    draft: Option<(u64, usize, Service)>,
}

impl Facts {
    /// Discards input that was not committed.
    pub fn forget_draft(&mut self) {
        self.draft = None;
    }

    /// Shows the fields.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, requests: &mut Requests) {
        let Some(service) = document.current() else { return };
        let before = Service { cues: CueList::default(), ..service.clone() };
        let now = (document.revision, document.service);
        if self.draft.as_ref().is_none_or(|(r, s, _)| (*r, *s) != now) {
            self.draft = Some((now.0, now.1, before.clone()));
        }
        let Some((_, _, draft)) = &mut self.draft else { return };
        let mut fields = Fields::default();
        ui.horizontal_wrapped(|ui| {
            ui.label("Service on screen");
            fields.text(ui, &mut draft.name, 200.0, "Service on screen: name");
            ui.label("day");
            let day = egui::TextEdit::singleline(&mut draft.date).hint_text("2026-12-12").desired_width(96.0);
            let response = ui.add_sized([96.0, 26.0], day);
            response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::TextInput, true, "Day"));
            fields.look(&response);
            ui.label("song starts at");
            fields.parsed_or_none(ui, &mut draft.starts, 90.0, "19:30", "Song starts at");
            ui.label("doors open at");
            fields.parsed_or_none(ui, &mut draft.doors, 90.0, "19:00", "Doors open at");
            ui.label("timecode there");
            let mut at = draft.timecode.as_ref().map(|t| Address(t.at.clone()));
            fields.parsed_or_none(ui, &mut at, 104.0, "01:00:00:00", "Timecode of the song's start");
            let mut rate = draft.timecode.as_ref().map_or(FrameRate::F25, |t| t.rate);
            if at.is_some() {
                let rates = [
                    (FrameRate::F24, "24"),
                    (FrameRate::F25, "25"),
                    (FrameRate::F2997Drop, "29.97 drop"),
                    (FrameRate::F30, "30"),
                ];
                let rates: Vec<_> = rates.into_iter().map(|(r, words)| (r, words.to_owned())).collect();
                fields.choice(ui, &mut rate, &rates, 96.0, "Frame rate");
            }
            draft.timecode = at.map(|at| TimecodeStart { at: at.0, rate });
        });
        if let Some(why) = &fields.refused {
            ui.colored_label(ui.visuals().error_fg_color, why);
        }
        if fields.done && *draft != before {
            let after = Service { name: draft.name.trim().to_owned(), ..draft.clone() };
            let name = format!("Change {}", after.name);
            requests.commit(name, Ok(Edit::Facts { before: Box::new(before), after: Box::new(after) }));
        }
    }
}

/// A timecode address as text. Whether it is valid at the service's frame rate is checked with the whole service.
#[derive(Clone, PartialEq)]
struct Address(String);

impl std::fmt::Display for Address {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::str::FromStr for Address {
    type Err = letfall_core::time::TimeError;

    fn from_str(text: &str) -> Result<Address, Self::Err> {
        // Whether frames 24 and up are valid depends on the frame rate; at 30 all of them are.
        letfall_core::time::Timecode::parse(text, FrameRate::F30).map(|_| Address(text.to_owned()))
    }
}

//! One search over everything: commands, cues, what is in the rig, services, problems, help.

use crate::commands::Command;
use crate::document::Document;
use crate::help;
use crate::request::{Requests, UiRequest};
use crate::widgets::pick_list::{PickList, PickRow, has_words};
use letfall_core::edit::{self, Selection};
use letfall_core::schedule::{describe, place_words};
use letfall_core::show::{Kind, Label, Show};

/// How many rows are shown.
const MOST: usize = 60;
const SIZE: (f32, f32) = (560.0, 400.0);

/// Where a row leads.
#[derive(Clone)]
enum To {
    Command(Command),
    Cues(Vec<Label>),
    Table(&'static str),
    Service(usize),
    Page(&'static str),
    Field(&'static str, &'static str),
}

struct Found {
    row: PickRow,
    to: To,
}

/// The window's state.
#[derive(Default)]
pub struct Find {
    open: bool,
    list: PickList,
    /// What was found, for the text and the revision of the show.
    found: Option<(String, u64, Vec<Found>)>,
}

impl Find {
    /// Whether it is open.
    pub const fn is_open(&self) -> bool {
        self.open
    }

    /// Opens it with an empty search, or closes it.
    pub fn toggle(&mut self) {
        self.open = !self.open;
        self.list.clear();
        self.found = None;
    }

    /// Shows it if it is open.
    pub fn show(&mut self, ctx: &egui::Context, document: &Document, requests: &mut Requests) {
        if !self.open {
            return;
        }
        let (mut open, mut taken) = (true, None);
        let window = egui::Window::new("Find anything").collapsible(false).resizable(false).open(&mut open);
        window.anchor(egui::Align2::CENTER_TOP, egui::vec2(0.0, 60.0)).show(ctx, |ui| {
            self.list.field(ui, "Type to search", SIZE.0);
            let text = self.list.text();
            if self.found.as_ref().is_none_or(|(of, at, _)| of != text || *at != document.revision) {
                self.found = Some((text.to_owned(), document.revision, look(ctx, document, text)));
            }
            let Some((_, _, found)) = &self.found else { return };
            if found.is_empty() {
                ui.label("Nothing has these words. Type less, or another word.");
            }
            let rows: Vec<PickRow> = found.iter().map(|found| found.row.clone()).collect();
            taken = self.list.rows(ui, &rows, SIZE).and_then(|at| found.get(at)).map(|found| found.to.clone());
        });
        self.open = open && taken.is_none();
        if let Some(to) = taken {
            go(to, document, requests);
        }
    }
}

fn go(to: To, document: &Document, requests: &mut Requests) {
    match to {
        To::Command(command) => requests.command(command),
        To::Table(table) => requests.push(UiRequest::RigTable(table)),
        To::Service(at) => requests.push(UiRequest::ShowService(at)),
        To::Page(page) => requests.push(UiRequest::HelpPage(page)),
        To::Field(table, field) => requests.push(UiRequest::HelpField(table, field)),
        To::Cues(labels) => {
            requests.command(Command::ShowScore);
            let land = labels.first().and_then(|label| document.plan().ok()?.row(*label).map(|row| row.land));
            if let Some(land) = land {
                requests.playhead(land);
                requests.push(UiRequest::Reveal(land));
            }
            requests.push(UiRequest::Select(labels.into_iter().collect::<Selection>()));
        }
    }
}

/// Everything that has the words, commands first if nothing was typed.
fn look(ctx: &egui::Context, document: &Document, text: &str) -> Vec<Found> {
    let mut all = Vec::new();
    let mut add = |words: String, also: &str, (kind, hint): (&str, &str), to: To| {
        if has_words(&format!("{words} {also} {kind}"), text) {
            let row = PickRow { words, right: kind.to_owned(), hint: hint.to_owned() };
            all.push(Found { row, to });
        }
    };
    for command in Command::ALL {
        let keys = command.shortcut().map_or_else(String::new, |s| ctx.format_shortcut(&s));
        add(command.words().to_owned(), "command", (&keys, command.help()), To::Command(*command));
    }
    if !text.trim().is_empty() {
        if let (Ok(plan), Some(service)) = (document.plan(), document.current()) {
            for cue in &service.cues {
                let words =
                    format!("{} at {}: {}", cue.label, place_words(cue, plan.grid()), describe(plan.show(), cue));
                add(words, &cue.note, ("cue", &cue.note), To::Cues(vec![cue.label]));
            }
            for problem in plan.prepared_show().rig_problems().iter().chain(plan.problems()) {
                add(problem.to_string(), "", ("problem", ""), To::Cues(problem.cues.clone()));
            }
        }
        rig(&document.show, &mut add);
        for page in help::pages() {
            add(page.title.to_owned(), &page.paragraphs.join(" "), ("help", ""), To::Page(page.title));
        }
        for field in help::fields() {
            let name = field.field.trim_end_matches(" of");
            let to = To::Field(field.table, field.field);
            add(format!("{name}: {}", field.what), field.table, ("help", field.source), to);
        }
    }
    // What begins with the text, such as a cue's label, is meant first.
    let typed = text.trim().to_lowercase();
    all.sort_by_key(|found| {
        let words = found.row.words.to_lowercase();
        let whole = words.strip_prefix(&typed).is_some_and(|rest| !rest.starts_with(char::is_alphanumeric));
        (!whole || typed.is_empty(), !words.starts_with(&typed))
    });
    all.truncate(MOST);
    all
}

/// What is in the rig and in the list of services.
fn rig(show: &Show, add: &mut impl FnMut(String, &str, (&str, &str), To)) {
    for (kind, words, table) in [
        (Kind::Lighting, "preset", "Presets"),
        (Kind::Media, "picture or film", "Media"),
        (Kind::Output, "route", "Outputs and routes"),
    ] {
        for choice in edit::choices(show, kind) {
            add(choice.name, &choice.also.join(" "), (words, ""), To::Table(table));
        }
    }
    for release in &show.releases {
        add(release.name.clone(), "", ("release", ""), To::Table("Releases"));
    }
    for hang in &show.hangs {
        add(hang.name.clone(), "fabric", ("hang", ""), To::Table("Hang"));
    }
    for receiver in &show.receivers {
        add(receiver.name.clone(), &receiver.answers, ("receiver", ""), To::Table("Ports and receivers"));
    }
    for port in &show.ports {
        add(port.name.clone(), "", ("port", ""), To::Table("Ports and receivers"));
    }
    for (at, service) in show.services.iter().enumerate() {
        add(service.name.clone(), &service.song.title, ("service", ""), To::Service(at));
    }
}

//! Services side by side, what differs between them, and carrying cues across.

use super::document::Document;
use super::fields::Fields;
use super::theme::{Palette, Theme, bold};
use egui::{Align2, FontId, Pos2, Rect, RichText, Sense, Stroke, Ui, vec2};
use letfall_core::edit::{self, Carried, Clash, Difference, Edit, EditError, Match, Selection};
use letfall_core::show::{CueList, Kind, Label, Service, Song, TimecodeStart};
use letfall_core::time::{FrameRate, Grid, GridPlan, Metre, SongTime, Tempo};
use std::collections::{BTreeMap, BTreeSet};

/// The screen's state.
pub struct Services {
    matching: Match,
    clash: Clash,
    to: BTreeSet<String>,
    told: Vec<String>,
    /// What is drawn, of which revision and matching.
    cache: Option<Drawn>,
    draft: Option<(u64, usize, Service)>,
    /// Where a box is being drawn from.
    boxed: Option<Pos2>,
}

impl Default for Services {
    fn default() -> Services {
        Services {
            matching: Match::Sections,
            clash: Clash::Keep,
            to: BTreeSet::new(),
            told: Vec::new(),
            cache: None,
            draft: None,
            boxed: None,
        }
    }
}

/// A lane a service (none where its grid cannot be built), and the revision and matching they are of.
type Drawn = ((u64, Match), Vec<Option<Lane>>);

/// A service's grid and where its cues stand on it.
struct Lane {
    grid: Grid,
    cues: Vec<(Label, SongTime)>,
    differs: BTreeSet<Label>,
}

impl Services {
    /// Shows the screen.
    pub fn show(&mut self, ui: &mut Ui, document: &mut Document, theme: Theme) {
        self.controls(ui, document);
        ui.separator();
        self.lanes(ui, document, theme);
        ui.separator();
        egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            for line in &self.told {
                ui.label(line);
            }
            differences(ui, document, self.matching);
        });
    }

    fn controls(&mut self, ui: &mut Ui, document: &mut Document) {
        if document.show.services.is_empty() {
            ui.label("This show has no service yet: no performance to plan for.");
        }
        ui.horizontal(|ui| {
            if ui.button("New service").clicked() {
                add_service(document);
            }
            ui.label("takes the song of the service on screen, and no cues.");
            if document.current().is_some() {
                ui.add_space(16.0);
                if ui.button("Remove the service on screen").clicked() {
                    remove_service(document);
                }
            }
        });
        if document.show.services.is_empty() {
            return;
        }
        self.facts(ui, document);
        let here = document.current().map_or_else(String::new, |s| s.name.clone());
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new(format!("Carry from {here} to")).font(FontId::new(15.5, bold())));
            for service in &document.show.services {
                if service.name == here {
                    continue;
                }
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
            let what =
                if document.selection.labels.is_empty() { "all cues".to_owned() } else { document.selection_words() };
            let button = egui::Button::new(format!("Carry {what}"));
            if ui.add_enabled(!self.to.is_empty(), button).clicked() {
                self.carry(document, &here);
            }
        });
    }

    fn carry(&mut self, document: &mut Document, from: &str) {
        let mut labels = document.selected();
        if labels.is_empty() {
            labels = document.current().map_or_else(Vec::new, |s| s.cues.iter().map(|c| c.label).collect());
        }
        let mut edits = Vec::new();
        let mut told = Vec::new();
        for to in &self.to {
            match edit::carry(&document.show, from, to, &labels, self.matching, self.clash) {
                Ok((edit, carried)) => {
                    edits.push(edit);
                    told.push(summary(to, &carried));
                }
                Err(why) => return document.fail(why.to_string()),
            }
        }
        if document.commit(&format!("Carry to {} services", self.to.len()), Ok::<_, EditError>(Edit::All(edits))) {
            self.told = told;
        }
    }

    fn lanes(&mut self, ui: &mut Ui, document: &mut Document, theme: Theme) {
        let p = theme.palette();
        let now = (document.revision, self.matching);
        if self.cache.as_ref().is_none_or(|(then, _)| *then != now) {
            self.cache = Some((now, all_lanes(document, self.matching)));
        }
        let Some((_, lanes)) = &self.cache else { return };
        let height = (ui.available_height() * 0.6 / lanes.len().max(1) as f32).clamp(60.0, 150.0);
        let here = document.current().cloned();
        for (at, lane) in lanes.iter().enumerate() {
            let service = &document.show.services[at];
            let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::click_and_drag());
            let chosen = at == document.service;
            let mut touched = None;
            response.widget_info(|| {
                egui::WidgetInfo::selected(
                    egui::accesskit::Role::ListItem,
                    true,
                    chosen,
                    format!("Service {}", service.name),
                )
            });
            let painter = ui.painter_at(rect);
            painter.rect_filled(rect, 0.0, if chosen { p.hair } else { p.ground });
            let name = Rect::from_min_size(rect.min, vec2(170.0, height));
            let inside = painter.with_clip_rect(name.shrink2(vec2(6.0, 0.0)));
            inside.text(
                name.left_center() + vec2(8.0, -8.0),
                Align2::LEFT_CENTER,
                &service.name,
                FontId::new(14.5, bold()),
                p.text,
            );
            let facts = format!("{} cues, {} bars", service.cues.len(), service.song.bars);
            inside.text(
                name.left_center() + vec2(8.0, 9.0),
                Align2::LEFT_CENTER,
                facts,
                FontId::proportional(13.0),
                p.quiet,
            );
            let canvas = Rect::from_min_max(Pos2::new(name.right(), rect.top() + 3.0), rect.max - vec2(8.0, 3.0));
            match lane {
                None => {
                    painter.text(
                        canvas.left_center(),
                        Align2::LEFT_CENTER,
                        "its grid cannot be built",
                        FontId::proportional(14.0),
                        p.alarm,
                    );
                }
                Some(lane) => {
                    let chosen = chosen.then_some(&document.selection);
                    let marks = self.lane(&painter, canvas, service, lane, here.as_ref(), theme, chosen);
                    if chosen.is_some() {
                        touched = pick(&response, &mut self.boxed, &marks, &painter, &p);
                    }
                }
            }
            painter.line_segment([rect.left_bottom(), rect.right_bottom()], Stroke::new(1.0, p.hair));
            if let Some((labels, more)) = touched {
                if !more {
                    document.selection.labels.clear();
                }
                for label in labels {
                    if !more || !document.selection.labels.remove(&label) {
                        document.selection.labels.insert(label);
                    }
                }
                let words = document.selection_words();
                document.say(format!("Selected {words}"));
                return;
            }
            if response.clicked() && !chosen {
                document.service = at;
                document.selection.labels.clear();
                document.derive();
                return;
            }
        }
    }

    /// One service: its sections and its cues, aligned as carrying would. Says where its cues stand.
    #[allow(clippy::too_many_arguments)] // one drawing of one lane
    fn lane(
        &self,
        painter: &egui::Painter,
        canvas: Rect,
        service: &Service,
        lane: &Lane,
        here: Option<&Service>,
        theme: Theme,
        selection: Option<&Selection>,
    ) -> Vec<(Label, Rect)> {
        let p = theme.palette();
        let mut marks = Vec::with_capacity(lane.cues.len());
        let longest = here.map_or(service.song.bars, |h| h.song.bars.max(service.song.bars));
        let end = here
            .and_then(|h| Some(h.song.grid.build().ok()?.bar_time(h.song.end_bar())))
            .unwrap_or(SongTime::ZERO)
            .max(lane.grid.bar_time(service.song.end_bar()));
        #[allow(clippy::cast_possible_truncation)] // points on a screen
        let x = |time: SongTime| {
            let share = if self.matching == Match::Clock {
                time.secs_f64() / end.secs_f64().max(1.0)
            } else {
                let place = lane.grid.place_of(lane.grid.tick_at(time));
                let into = (lane.grid.tick_at(time) - lane.grid.bar_tick(place.bar)).get() as f64;
                let bar = f64::from(place.bar) + into / lane.grid.bar_length(place.bar).get() as f64;
                (self.aligned(bar, service, here) - 1.0) / f64::from(longest.max(1))
            };
            canvas.left() + (share as f32) * canvas.width()
        };
        for (at, section) in service.song.sections.iter().enumerate() {
            let last = section.bar + i32::try_from(section.bars).unwrap_or(0);
            // The end of a section belongs to it, not to whatever the other song has there.
            let from = x(lane.grid.bar_time(section.bar));
            let width = x(lane.grid.bar_time(last) - letfall_core::time::SongSpan::from_millis(1)) - from;
            let rect = Rect::from_min_size(Pos2::new(from, canvas.top()), vec2(width, canvas.height()));
            painter.rect(
                rect,
                0.0,
                if at % 2 == 0 { p.panel } else { p.row },
                Stroke::new(1.0, p.hair),
                egui::StrokeKind::Inside,
            );
            let inside = painter.with_clip_rect(rect.intersect(painter.clip_rect()).shrink2(vec2(3.0, 0.0)));
            inside.text(
                rect.left_top() + vec2(5.0, 9.0),
                Align2::LEFT_CENTER,
                &section.name,
                FontId::proportional(13.0),
                p.quiet,
            );
        }
        let mut taken: BTreeMap<(Kind, i32), f32> = BTreeMap::new();
        for (label, time) in &lane.cues {
            let at = x(*time);
            // Cues of one kind at one instant stand side by side, so that none hides another.
            #[allow(clippy::cast_possible_truncation)] // points on a screen
            let seat = taken.entry((label.kind, at as i32)).or_insert(at);
            let at = *seat;
            *seat += 8.0;
            // A lane a kind, so that cues of one instant do not hide each other.
            let room = canvas.height() - 20.0;
            let lane_of = [Kind::Media, Kind::Lighting, Kind::Release, Kind::Output];
            let place = lane_of.iter().position(|k| *k == label.kind).unwrap_or(0);
            let each = room / 4.0;
            let top = canvas.top() + 18.0 + each * f32::from(u8::try_from(place).unwrap_or(0));
            let mark = Rect::from_min_max(Pos2::new(at, top), Pos2::new(at + 6.0, top + each - 1.0));
            painter.rect_filled(mark, 1.0, theme.kind(label.kind));
            if theme == Theme::Paper {
                painter.rect_stroke(mark, 1.0, Stroke::new(1.0, p.text), egui::StrokeKind::Inside);
            }
            if selection.is_some_and(|s| s.labels.contains(label)) {
                painter.rect_stroke(mark.expand(2.0), 1.0, Stroke::new(2.5, p.chosen), egui::StrokeKind::Outside);
            }
            marks.push((*label, mark));
            if lane.differs.contains(label) {
                painter.rect_stroke(mark.expand(1.5), 1.0, Stroke::new(1.5, p.text), egui::StrokeKind::Outside);
                // Not by a line alone: "not equal" stands over it.
                painter.text(
                    mark.center_top() - vec2(0.0, 1.0),
                    Align2::CENTER_BOTTOM,
                    "≠",
                    FontId::new(14.0, bold()),
                    p.text,
                );
            }
        }
        names(painter, canvas, &marks, &p);
        marks
    }

    /// The bar of the service on screen that a bar of another stands under.
    fn aligned(&self, bar: f64, service: &Service, here: Option<&Service>) -> f64 {
        let Some(here) = here.filter(|h| h.name != service.name && self.matching == Match::Sections) else {
            return bar;
        };
        #[allow(clippy::cast_possible_truncation)] // bars
        let whole = libm::floor(bar) as i32;
        let section = service.song.section_at(whole);
        let other = section.and_then(|s| here.song.sections.iter().find(|o| o.name == s.name));
        match (section, other) {
            (Some(section), Some(other)) => bar - f64::from(section.bar) + f64::from(other.bar),
            _ => bar,
        }
    }
}

/// Labels beside their marks, where they have room.
fn names(painter: &egui::Painter, canvas: Rect, marks: &[(Label, Rect)], p: &Palette) {
    if marks.len() > 400 || marks.first().is_none_or(|m| m.1.height() < 14.0) {
        return;
    }
    let mut in_order: Vec<&(Label, Rect)> = marks.iter().collect();
    in_order.sort_by(|a, b| a.1.left().total_cmp(&b.1.left()));
    for (at, (label, mark)) in in_order.iter().map(|m| (m.0, m.1)).enumerate() {
        let next = in_order[at + 1..].iter().find(|n| n.0.kind == label.kind).map_or(canvas.right(), |n| n.1.left());
        if next - mark.right() > 30.0 {
            let at = mark.right_center() + vec2(4.0, 0.0);
            painter.text(at, Align2::LEFT_CENTER, label, FontId::new(13.0, bold()), p.text);
        }
    }
}

/// Cues that a click or a box has picked, and whether they are to be added.
fn pick(
    response: &egui::Response,
    boxed: &mut Option<Pos2>,
    marks: &[(Label, Rect)],
    painter: &egui::Painter,
    p: &Palette,
) -> Option<(Vec<Label>, bool)> {
    let at = response.interact_pointer_pos()?;
    let more = response.ctx.input(|i| i.modifiers.shift || i.modifiers.command);
    if response.clicked() {
        let hit: Vec<Label> = marks.iter().filter(|m| m.1.expand(3.0).contains(at)).map(|m| m.0).collect();
        return Some((hit, more));
    }
    if response.drag_started() {
        *boxed = response.ctx.input(|i| i.pointer.press_origin());
    }
    let area = Rect::from_two_pos((*boxed)?, at);
    let (fill, line) = (p.chosen.gamma_multiply(0.12), Stroke::new(1.0, p.chosen));
    painter.rect(area, 0.0, fill, line, egui::StrokeKind::Inside);
    response.drag_stopped().then(|| {
        *boxed = None;
        (marks.iter().filter(|m| m.1.intersects(area)).map(|m| m.0).collect(), more)
    })
}

fn all_lanes(document: &Document, matching: Match) -> Vec<Option<Lane>> {
    let here = document.current().map(|s| s.name.clone()).unwrap_or_default();
    document
        .show
        .services
        .iter()
        .map(|service| {
            let grid = service.song.grid.build().ok()?;
            let cues = service.cues.iter().map(|c| (c.label, c.at.time(&grid))).collect();
            let found = if service.name == here {
                Vec::new()
            } else {
                edit::compare(&document.show, &here, &service.name, matching).ok()?
            };
            let differs = found
                .into_iter()
                .filter_map(|d| match d {
                    Difference::OnlySecond(label) | Difference::Differs(label, _) => Some(label),
                    Difference::OnlyFirst(_) => None,
                })
                .collect();
            Some(Lane { grid, cues, differs })
        })
        .collect()
}

fn summary(to: &str, told: &Carried) -> String {
    let mut words = vec![format!("{to}: {} carried", told.carried.len() + told.relabelled.len())];
    for (labels, what) in [
        (&told.replaced, "replaced"),
        (&told.kept, "kept theirs"),
        (&told.no_section, "have no such section there"),
        (&told.no_bar, "have no such bar there"),
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

/// Adds a service with the song of the one on screen, or with 64 bars of 4/4 at 120.
pub fn add_service(document: &mut Document) {
    let song = document.current().map(|s| s.song.clone()).or_else(|| {
        let tempo = Tempo::quarters_per_minute(120.0).ok()?;
        let grid = GridPlan::steady(Metre::common(), tempo);
        Some(Song { title: "Song".to_owned(), bars: 64, grid, sections: Vec::new(), guide: None })
    });
    let Some(song) = song else { return };
    let taken = |name: &str| document.show.service(name).is_some();
    let names = (1..).map(|n| if n == 1 { "New service".to_owned() } else { format!("New service {n}") });
    let Some(name) = names.into_iter().find(|n| !taken(n)) else { return };
    let at = document.show.services.len();
    let service = Box::new(Service::new(&name, song));
    if document.commit(&format!("Add {name}"), Ok(Edit::PutService { at, service, put: true })) {
        document.service = at;
        document.selection.labels.clear();
        document.derive();
    }
}

/// Takes the service on screen out, with its cues.
fn remove_service(document: &mut Document) {
    let Some(service) = document.current().cloned() else { return };
    let (at, name) = (document.service, service.name.clone());
    let edit = Edit::PutService { at, service: Box::new(service), put: false };
    document.selection.labels.clear();
    document.commit(&format!("Remove {name}"), Ok(edit));
}

impl Services {
    /// Name, day, start and timecode of the service on screen.
    fn facts(&mut self, ui: &mut Ui, document: &mut Document) {
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
            let edit = Edit::Facts { before: Box::new(before), after: Box::new(after) };
            if !document.commit(&name, Ok(edit)) {
                self.draft = None;
            }
        }
    }
}

/// A timecode address while it is typed; whether it fits its rate is looked at with the whole service.
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
        // Frames 24 and up depend on the rate; 30 takes them all.
        letfall_core::time::Timecode::parse(text, FrameRate::F30).map(|_| Address(text.to_owned()))
    }
}

/// What differs, in words, service by service.
fn differences(ui: &mut Ui, document: &Document, matching: Match) {
    let Some(here) = document.current() else { return };
    for other in document.show.services.iter().filter(|s| s.name != here.name) {
        let Ok(found) = edit::compare(&document.show, &here.name, &other.name, matching) else { continue };
        ui.collapsing(
            format!("{} against {}: {} differ or stand in one only", other.name, here.name, found.len()),
            |ui| {
                for difference in found.iter().take(400) {
                    ui.label(match difference {
                        Difference::OnlyFirst(label) => format!("{label}: only in {}", here.name),
                        Difference::OnlySecond(label) => format!("{label}: only in {}", other.name),
                        Difference::Differs(label, fields) => {
                            let words: Vec<String> =
                                fields.iter().map(|f| format!("{} {} | {}", f.name, f.first, f.second)).collect();
                            format!("{label}: {}", words.join("; "))
                        }
                    });
                }
            },
        );
    }
}

//! The song's marks: bars, metre, tempo, sections, pins. They can be edited when no cue is selected. Input is committed when a
//! field loses the focus; an impossible song is reported while the user types, and not committed.

use super::bends;
use super::ear_panel::{self, About, Ear};
use super::heading::head;
use crate::commands::Command;
use crate::document::Document;
use crate::request::{Requests, UiRequest};
use crate::widgets::fields::{Fields, heads};
use crate::widgets::quantity::plain;
use egui::{Grid, Ui};
use letfall_core::edit::Edit;
use letfall_core::limits::{self, Limit};
use letfall_core::show::{CueList, Heard, Section, Service};
use letfall_core::time::{
    BarBeat, GridPlan, MetreMark, Pin, Ramp, RampLaw, SongTime, Tempo, TempoMark, TickSpan, TimeError, round,
};
use letfall_sound::bars::GivenBar;
use std::fmt;
use std::str::FromStr;

/// The draft of the song, with the revision and the service it belongs to.
#[derive(Default)]
pub struct SongMarks {
    draft: Option<(u64, usize, Service)>,
}

impl SongMarks {
    /// Discards input that was not committed.
    pub fn forget_draft(&mut self) {
        self.draft = None;
    }

    /// Shows the marks of the song on screen.
    pub fn show(&mut self, ui: &mut Ui, document: &Document, ear: &Ear<'_>, requests: &mut Requests) {
        let Some(service) = document.current() else { return };
        let (revision, at) = (document.revision, document.service);
        if self.draft.as_ref().is_none_or(|(r, s, _)| (*r, *s) != (revision, at)) {
            self.draft = Some((revision, at, Service { cues: CueList::default(), ..service.clone() }));
        }
        let Some((_, _, draft)) = self.draft.as_mut() else { return };
        let mut fields = Fields::default();
        let before = Service { cues: CueList::default(), ..service.clone() };
        // The current bar lines, as starting points for new pins.
        let grid = document.plan().ok();
        let bar_time = |bar| grid.as_ref().map_or(SongTime::ZERO, |d| d.grid().bar_time(bar));
        let here = grid.as_ref().map_or(1, |d| d.grid().place_of(document.playhead_tick()).bar);
        let song = &mut draft.song;
        Grid::new("song").num_columns(2).spacing([10.0, 6.0]).show(ui, |ui| {
            ui.label("Title");
            fields.text(ui, &mut song.title, 200.0, "Song title");
            ui.end_row();
            ui.label("Bars");
            fields.whole(ui, &mut song.bars, &limits::SONG_BARS, "Bars of the song");
            ui.end_row();
            ui.label("Bar 1 at");
            time(ui, &mut fields, &mut song.grid.origin, &limits::ORIGIN, "Song time of bar 1");
            ui.end_row();
        });
        metres(ui, &mut fields, &mut song.grid, here);
        tempos(ui, &mut fields, &mut song.grid, here);
        sections(ui, &mut fields, &mut song.sections, here);
        heard(ui, &mut fields, &mut song.sections, &mut song.heard, place(document));
        bends::show(ui, &mut fields, &mut song.bends, place(document).bar);
        pins(ui, &mut fields, &mut song.grid.pins, here, bar_time(here));
        let wrong = song.grid.check().err().map(|why| why.to_string());
        if let Some(why) = fields.refused.as_ref().or(wrong.as_ref()) {
            ui.colored_label(ui.visuals().error_fg_color, why);
        }
        if ui.button("Take them from a MIDI file…").clicked() {
            requests.command(Command::TakeGrid);
        }
        head(ui, "Guide recording");
        if let Some(guide) = &song.guide {
            ui.label(format!("{}, {:.1} s", guide.path, guide.length.secs_f64()));
            if fields.remove_row(ui, "Take the guide out") {
                song.guide = None;
            }
        } else {
            ui.label("None. Song time 0 would be its first sample.");
        }
        if ui.button("Choose a recording…").clicked() {
            requests.command(Command::ChooseGuide);
        }
        let about = About {
            recording: song.guide.as_ref().map(|guide| guide.length.secs_f64()),
            playhead: document.playhead.secs_f64(),
            here: grid.as_ref().map(|d| bar_of(d.grid(), here)),
        };
        for asked in ear_panel::show(ui, ear, &about) {
            requests.push(UiRequest::Ear(asked));
        }
        if fields.done && fields.refused.is_none() && *draft != before {
            let edit = Edit::Facts { before: Box::new(before), after: Box::new(in_order(draft.clone())) };
            requests.commit("Change the song", Ok(edit));
        }
    }
}

/// A bar of the song's grid.
fn bar_of(grid: &letfall_core::time::Grid, bar: i32) -> GivenBar {
    let line = |bar| grid.bar_time(bar).secs_f64();
    GivenBar { from: line(bar), to: line(bar + 1), beats: u8::try_from(grid.beats_in(bar)).ok() }
}

/// Sorts marks by their bars, in whatever order they were entered.
fn in_order(mut service: Service) -> Service {
    let grid = &mut service.song.grid;
    grid.metres.sort_by_key(|m| m.bar);
    grid.tempos.sort_by_key(|t| t.at);
    grid.pins.sort_by_key(|p| p.bar);
    service.song.sections.sort_by_key(|s| s.bar);
    service
}

/// A field for a song time in seconds.
fn time(ui: &mut Ui, fields: &mut Fields, time: &mut SongTime, limit: &Limit, name: &str) {
    let mut since = *time - SongTime::ZERO;
    fields.seconds(ui, &mut since, limit, name);
    *time = SongTime::ZERO + since;
}

/// A length in quarter notes, as text.
#[derive(Clone, Copy, PartialEq)]
struct Quarters(f64);

impl fmt::Display for Quarters {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl FromStr for Quarters {
    type Err = String;

    fn from_str(text: &str) -> Result<Quarters, String> {
        let number = text.parse().ok().filter(|n| (1.0 / 960.0..=256.0).contains(n));
        number.map(Quarters).ok_or_else(|| format!("\"{text}\" is no length of a bar; write quarters, such as 1.5"))
    }
}

fn metres(ui: &mut Ui, fields: &mut Fields, grid: &mut GridPlan, here: i32) {
    head(ui, "Metre");
    let mut gone = None;
    Grid::new("metres").spacing([8.0, 4.0]).show(ui, |ui| {
        heads(ui, &["From bar", "Metre", "Cut to quarters", ""]);
        for (at, mark) in grid.metres.iter_mut().enumerate() {
            let name = |part: &str| format!("{part} of metre mark {}", at + 1);
            if at == 0 {
                ui.label(mark.bar.to_string());
            } else {
                fields.whole(ui, &mut mark.bar, &limits::METRE_BAR, &name("Bar"));
            }
            fields.parsed(ui, &mut mark.metre, 74.0, "4/4", &name("Metre"));
            let mut quarters = mark.cut.map(|cut| Quarters(cut.quarters()));
            fields.parsed_or_none(ui, &mut quarters, 62.0, "whole", &name("Cut"));
            mark.cut = quarters.map(|q| TickSpan::new(round::nearest(q.0 * 960.0)));
            if at > 0 && fields.remove(ui, &format!("metre mark {}", at + 1)) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    if let Some(at) = gone {
        grid.metres.remove(at);
    }
    if fields.add(ui, "Another metre at the playhead")
        && let Some(last) = grid.metres.iter().rfind(|m| m.bar < here).or(grid.metres.first())
        && !grid.metres.iter().any(|m| m.bar == here)
    {
        grid.metres.push(MetreMark { bar: here, metre: last.metre.clone(), cut: None });
    }
}

fn tempos(ui: &mut Ui, fields: &mut Fields, grid: &mut GridPlan, here: i32) {
    head(ui, "Tempo: quarter notes a minute, or 3/8=84");
    let mut gone = None;
    Grid::new("tempos").spacing([8.0, 4.0]).show(ui, |ui| {
        heads(ui, &["From", "Tempo", "moving to", ""]);
        for (at, mark) in grid.tempos.iter_mut().enumerate() {
            let name = |part: &str| format!("{part} of tempo mark {}", at + 1);
            if at == 0 {
                ui.label(mark.at.to_string());
            } else {
                fields.parsed(ui, &mut mark.at, 72.0, "33 b1", &name("Place"));
            }
            let mut shown = TempoText(mark.tempo);
            fields.parsed(ui, &mut shown, 92.0, "120", &name("Tempo"));
            mark.tempo = shown.0;
            let mut to = mark.ramp.map(|r| r.to);
            fields.parsed_or_none(ui, &mut to, 78.0, "stays", &name("Tempo reached"));
            mark.ramp = to.map(|to| Ramp { to, law: RampLaw::BpmLinearInBeats });
            if at > 0 && fields.remove(ui, &format!("tempo mark {}", at + 1)) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    if let Some(at) = gone {
        grid.tempos.remove(at);
    }
    let place = BarBeat::downbeat(here);
    if fields.add(ui, "Another tempo at the playhead")
        && let Some(last) = grid.tempos.iter().rfind(|t| t.at < place).or(grid.tempos.first())
        && !grid.tempos.iter().any(|t| t.at == place)
    {
        let tempo = last.ramp.map_or(last.tempo, |r| r.to);
        grid.tempos.push(TempoMark { at: place, tempo, ramp: None });
    }
}

/// A tempo as people write it: 96, 3/8=80, or, where a MIDI file gave the length of a quarter note that is no whole number of beats a minute,
/// rounded and marked as such. A field that was only visited keeps the tempo as it is.
#[derive(Clone, Copy)]
struct TempoText(Tempo);

impl PartialEq for TempoText {
    fn eq(&self, other: &TempoText) -> bool {
        let shown = |tempo: &TempoText| tempo.to_string().trim_start_matches('≈').to_owned();
        shown(self) == shown(other)
    }
}

impl fmt::Display for TempoText {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            Tempo::Beats { .. } => write!(f, "{}", self.0),
            Tempo::Quarter { .. } => f.write_str(&plain(self.0.quarter_bpm())),
        }
    }
}

impl FromStr for TempoText {
    type Err = TimeError;

    fn from_str(text: &str) -> Result<TempoText, Self::Err> {
        let text = text.trim().trim_start_matches('≈');
        let text = text.strip_suffix("bpm").or_else(|| text.strip_suffix("BPM")).unwrap_or(text);
        text.trim().replace(',', ".").parse().map(TempoText)
    }
}

fn sections(ui: &mut Ui, fields: &mut Fields, sections: &mut Vec<Section>, here: i32) {
    head(ui, "Sections");
    let mut gone = None;
    Grid::new("sections").spacing([8.0, 4.0]).show(ui, |ui| {
        if !sections.is_empty() {
            heads(ui, &["Name", "From bar", "Bars", ""]);
        }
        for (at, section) in sections.iter_mut().enumerate() {
            let name = |part: &str| format!("{part} of section {}", at + 1);
            fields.text(ui, &mut section.name, 104.0, &name("Name"));
            fields.whole(ui, &mut section.bar, &limits::SECTION_BAR, &name("First bar"));
            fields.whole(ui, &mut section.bars, &limits::SECTION_BARS, &name("Bars"));
            if fields.remove(ui, &format!("section {}", at + 1)) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    if let Some(at) = gone {
        sections.remove(at);
    }
    if fields.add(ui, "Another section at the playhead") {
        // If the playhead is within a section, the section is split there.
        let mut bars = 8;
        if let Some(section) = sections.iter_mut().find(|s| s.has(here) && s.bar < here) {
            let first = u32::try_from(here - section.bar).unwrap_or(1);
            bars = section.bars - first;
            section.bars = first;
        } else if let Some(next) = sections.iter().filter(|s| s.bar > here).map(|s| s.bar).min() {
            bars = u32::try_from(next - here).unwrap_or(8).min(8);
        }
        if !sections.iter().any(|s| s.has(here)) {
            sections.push(Section {
                name: format!("Section {}", sections.len() + 1),
                bar: here,
                bars,
                heard: String::new(),
            });
            sections.sort_by_key(|s| s.bar);
        }
    }
}

/// The counted beat at the playhead.
fn place(document: &Document) -> BarBeat {
    let here = document.plan().map(|plan| plan.grid().place_of(document.playhead_tick()));
    here.unwrap_or(BarBeat::downbeat(1))
}

/// What is heard or seen on the way, from which people call.
fn heard(ui: &mut Ui, fields: &mut Fields, sections: &mut [Section], marks: &mut Vec<Heard>, here: BarBeat) {
    head(ui, "Heard or seen");
    let mut gone = None;
    Grid::new("heard").spacing([8.0, 4.0]).show(ui, |ui| {
        if !(marks.is_empty() && sections.is_empty()) {
            heads(ui, &["Bar", "Beat", "What", ""]);
        }
        for (at, section) in sections.iter_mut().enumerate() {
            ui.label(section.bar.to_string());
            ui.label("1");
            fields.text(ui, &mut section.heard, 150.0, &format!("What is heard as section {} begins", at + 1));
            ui.end_row();
        }
        for (at, mark) in marks.iter_mut().enumerate() {
            let name = |part: &str| format!("{part} of mark {}", at + 1);
            fields.whole(ui, &mut mark.bar, &limits::HEARD_BAR, &name("Bar"));
            fields.whole(ui, &mut mark.beat, &limits::HEARD_BEAT, &name("Beat"));
            fields.text(ui, &mut mark.text, 150.0, &name("What is heard"));
            if fields.remove(ui, &format!("mark {}", at + 1)) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    if let Some(at) = gone {
        marks.remove(at);
    }
    if fields.add(ui, "Note what is heard at the playhead") {
        marks.push(Heard { bar: here.bar, beat: here.beat, text: String::new() });
        marks.sort_by_key(|mark| (mark.bar, mark.beat));
    }
}

fn pins(ui: &mut Ui, fields: &mut Fields, pins: &mut Vec<Pin>, here: i32, at_time: SongTime) {
    head(ui, "Pins: bar lines at known times");
    let mut gone = None;
    Grid::new("pins").spacing([8.0, 4.0]).show(ui, |ui| {
        if !pins.is_empty() {
            heads(ui, &["Bar", "at", ""]);
        }
        for (at, pin) in pins.iter_mut().enumerate() {
            let name = |part: &str| format!("{part} of pin {}", at + 1);
            fields.whole(ui, &mut pin.bar, &limits::PIN_BAR, &name("Bar"));
            time(ui, fields, &mut pin.at, &limits::PIN_AT, &name("Time"));
            if fields.remove(ui, &format!("pin {}", at + 1)) {
                gone = Some(at);
            }
            ui.end_row();
        }
    });
    if let Some(at) = gone {
        pins.remove(at);
    }
    if fields.add(ui, "Pin the playhead's bar where it is") && !pins.iter().any(|p| p.bar == here) {
        pins.push(Pin { bar: here, at: at_time });
    }
}

//! One cue or many: what is the same stands there, what differs says so, and what is edited is set on all.

use super::document::Document;
use super::handover::Planner;
use super::song::{Ear, SongMarks, Wish};
use super::theme::bold;
use egui::{RichText, Ui};
use letfall_core::edit;
use letfall_core::schedule::{certainty, describe, message_words, place_words, release_land_words};
use letfall_core::show::{Action, Anchor, Call, Cue, FadeShare, Instant, Kind, Label, TrackKey};
use letfall_core::time::SongSpan;

/// Text being typed, until it is taken.
#[derive(Default)]
pub struct Inspector {
    texts: [String; Field::ALL.len()],
    marks: SongMarks,
    planner: Planner,
    song_open: bool,
    shown: Option<Shown>,
}

/// What the selected cues have in common: looked up when the selection or the show changes, not every frame.
struct Shown {
    revision: u64,
    labels: Vec<Label>,
    /// Whether each field is the same in all, in the order of [`Field`].
    alike: [bool; Field::ALL.len()],
    track: Option<TrackKey>,
    /// `Some(None)`: all as their tracks say.
    #[allow(clippy::option_option)] // differs, as the track, yes or no
    called: Option<Option<bool>>,
    kind: Option<Kind>,
    does: Option<Action>,
    resting: bool,
}

impl Shown {
    fn of(document: &Document, labels: Vec<Label>) -> Shown {
        let cues = document.selected_cues();
        Shown {
            revision: document.revision,
            labels,
            alike: Field::ALL.map(|field| same(cues.iter().map(|c| field.read(c))).is_some()),
            track: same(cues.iter().map(|c| &c.track)).cloned(),
            called: same(cues.iter().map(|c| c.call.as_ref().and_then(|call| call.called))),
            kind: same(cues.iter().map(|c| c.label.kind)),
            does: same(cues.iter().map(|c| &c.does)).cloned(),
            resting: same(cues.iter().map(|c| c.resting)).unwrap_or(false),
        }
    }
}

/// What a field says where cues differ.
const DIFFERS: &str = "differs";
/// Width of a field, so that label and field fill the panel and no more.
const FIELD: f32 = 190.0;

fn same<T: PartialEq>(mut values: impl Iterator<Item = T>) -> Option<T> {
    let first = values.next()?;
    values.all(|v| v == first).then_some(first)
}

impl Inspector {
    /// Shows the selection, or the song where nothing is selected; and what is asked of it there.
    pub fn show(&mut self, ui: &mut Ui, document: &mut Document, ear: &mut Ear<'_>) -> Option<Wish> {
        let labels = document.selected();
        if labels.is_empty() {
            nothing(ui, document);
            document.current()?;
            ui.separator();
            let words = if self.song_open { "Close the song's marks" } else { "Song: bars, metre, tempo, sections…" };
            self.song_open ^= ui.button(words).clicked();
            return if self.song_open { self.marks.show(ui, document, ear) } else { None };
        }
        let fresh = self.shown.as_ref().is_some_and(|s| s.revision == document.revision && s.labels == labels);
        if !fresh {
            self.take_over(document);
            self.shown = Some(Shown::of(document, labels.clone()));
        }
        let words = match labels.as_slice() {
            [one] => format!("{one}, {}", one.kind),
            many => format!("{} cues", many.len()),
        };
        ui.label(RichText::new(words).font(egui::FontId::new(19.0, bold())));
        egui::Grid::new("inspector").num_columns(2).spacing([10.0, 8.0]).show(ui, |ui| {
            let kind = self.shown.as_ref().and_then(|s| s.kind);
            for field in Field::ALL.into_iter().filter(|f| f.fits(kind)) {
                self.field(ui, document, field);
            }
        });
        ui.add_space(4.0);
        if let Some(shown) = &self.shown {
            actions(ui, document, shown);
        }
        ui.separator();
        if let [one] = labels.as_slice() {
            lead(ui, document, *one);
            if one.kind == Kind::Release {
                self.planner.show(ui, document, *one);
            }
        }
        None
    }

    fn take_over(&mut self, document: &Document) {
        let cues = document.selected_cues();
        self.texts = Field::ALL.map(|field| same(cues.iter().map(|c| field.read(c))).unwrap_or_default());
    }

    fn field(&mut self, ui: &mut Ui, document: &mut Document, field: Field) {
        let label = ui.label(field.name());
        let alike = self.shown.as_ref().is_some_and(|s| s.alike[field as usize]);
        let hint = if alike { field.hint() } else { DIFFERS };
        let edit = egui::TextEdit::singleline(&mut self.texts[field as usize]).hint_text(hint).desired_width(FIELD);
        let response = ui.add_sized([FIELD, 26.0], edit).labelled_by(label.id);
        ui.end_row();
        if response.lost_focus() && response.ctx.input(|i| !i.key_pressed(egui::Key::Escape)) {
            let text = self.texts[field as usize].clone();
            if !alike && text.is_empty() {
                return; // they differ and nothing was typed
            }
            // A value that is not taken is said; nothing has changed then.
            let mut probe = document.selected_cues().first().map(|c| (*c).clone());
            if let Some(Err(why)) = probe.as_mut().map(|cue| field.write(cue, &text)) {
                return document.fail(why);
            }
            document.with_selected(field.step(), |show, service, labels| {
                edit::change(show, service, labels, |cue| drop(field.write(cue, &text)))
            });
        }
    }
}

/// What can be typed of a cue.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Field {
    At,
    Text,
    Fade,
    Length,
    Lead,
    Standby,
    StandbyWords,
    GoWords,
    Note,
}

impl Field {
    const ALL: [Field; 9] = [
        Field::At,
        Field::Text,
        Field::Fade,
        Field::Length,
        Field::Lead,
        Field::Standby,
        Field::StandbyWords,
        Field::GoWords,
        Field::Note,
    ];

    const fn name(self) -> &'static str {
        match self {
            Field::At => "Lands at",
            Field::Text => "What happens",
            Field::Fade => "Fade",
            Field::Length => "Plays for",
            Field::Lead => "Sent earlier by",
            Field::Standby => "Standby ahead",
            Field::StandbyWords => "Standby words",
            Field::GoWords => "Go words",
            Field::Note => "Note",
        }
    }

    /// What holds where nothing is typed.
    const fn hint(self) -> &'static str {
        match self {
            Field::Fade => "as the preset has it",
            Field::Length => "as the film has it",
            Field::Standby => "as the show has it",
            Field::StandbyWords | Field::GoWords => "the usual words",
            Field::At | Field::Text | Field::Lead | Field::Note => "",
        }
    }

    const fn step(self) -> &'static str {
        match self {
            Field::At => "Place {}",
            Field::Text => "Describe {}",
            Field::Fade => "Fade of {}",
            Field::Length => "Length of {}",
            Field::Lead => "Lead of {}",
            Field::Standby => "Standby of {}",
            Field::StandbyWords | Field::GoWords => "Words for {}",
            Field::Note => "Note on {}",
        }
    }

    /// Whether cues of this kind have it; of several kinds, whether all have it.
    fn fits(self, kind: Option<Kind>) -> bool {
        match self {
            Field::Fade => kind == Some(Kind::Lighting),
            Field::Length => kind == Some(Kind::Media),
            _ => true,
        }
    }

    fn read(self, cue: &Cue) -> String {
        let call = |of: &dyn Fn(&Call) -> String| cue.call.as_ref().map_or_else(String::new, |c| of(c));
        match self {
            Field::At => cue.at.to_string(),
            Field::Text => cue.text.clone(),
            Field::Fade => match &cue.does {
                Action::Lighting { fade: Some(fade), .. } => secs(*fade),
                _ => String::new(),
            },
            Field::Length => cue.length.map_or_else(String::new, |l| l.to_string()),
            Field::Lead => format!("{}ms", cue.lead_adjust.micros() as f64 / 1000.0),
            Field::Standby => call(&|c| c.standby.map_or_else(String::new, secs)),
            Field::StandbyWords => call(&|c| c.standby_words.clone()),
            Field::GoWords => call(&|c| c.go_words.clone()),
            Field::Note => cue.note.clone(),
        }
    }

    fn write(self, cue: &mut Cue, text: &str) -> Result<(), String> {
        let trimmed = text.trim();
        match self {
            Field::At => cue.at = trimmed.parse().map_err(|e: letfall_core::time::TimeError| e.to_string())?,
            Field::Text => text.clone_into(&mut cue.text),
            Field::Note => text.clone_into(&mut cue.note),
            Field::Fade => {
                let new = if trimmed.is_empty() { None } else { Some(span(trimmed)?) };
                if let Action::Lighting { fade, .. } = &mut cue.does {
                    *fade = new;
                }
            }
            Field::Length if trimmed.is_empty() => cue.length = None,
            Field::Length => {
                // Plain seconds are a length too.
                let plain = trimmed.parse::<f64>().is_ok();
                let text = if plain { format!("{trimmed}s") } else { trimmed.to_owned() };
                cue.length = Some(text.parse().map_err(|e: letfall_core::time::TimeError| e.to_string())?);
            }
            Field::Lead => cue.lead_adjust = span(trimmed)?,
            Field::Standby => {
                let standby = if trimmed.is_empty() { None } else { Some(span(trimmed)?) };
                with_call(cue, |call| call.standby = standby);
            }
            Field::StandbyWords => with_call(cue, |call| text.clone_into(&mut call.standby_words)),
            Field::GoWords => with_call(cue, |call| text.clone_into(&mut call.go_words)),
        }
        Ok(())
    }
}

/// Changes how a cue is called; a cue called the usual way says nothing of it.
fn with_call(cue: &mut Cue, change: impl FnOnce(&mut Call)) {
    let mut call = cue.call.take().map_or_else(Call::default, |c| *c);
    change(&mut call);
    cue.call = (call != Call::default()).then(|| Box::new(call));
}

/// "2s", "0.5s".
fn secs(span: SongSpan) -> String {
    format!("{}s", span.micros() as f64 / 1e6)
}

/// Reads "200ms", "2s" or plain seconds.
fn span(text: &str) -> Result<SongSpan, String> {
    let fail = || format!("\"{text}\" is no time; write 200ms, 2s or -0.5s");
    if let Ok(plain) = text.parse::<f64>() {
        return if plain.abs() <= 3600.0 { Ok(SongSpan::from_secs_f64(plain)) } else { Err(fail()) };
    }
    match text.parse::<edit::By>() {
        Ok(edit::By::Time(span)) => Ok(span),
        _ => Err(fail()),
    }
}

/// What to do when nothing is selected.
fn nothing(ui: &mut Ui, document: &mut Document) {
    ui.label(RichText::new("Nothing selected").font(egui::FontId::new(19.0, bold())));
    ui.label("Click a cue, or draw a box round some. Drag to move, Alt to move freely. Wheel moves the song, Ctrl and wheel zooms; over the names it moves the rows.");
    ui.separator();
    if document.current().is_none() {
        return;
    }
    ui.label("New cue at the playhead:");
    for kind in [Kind::Media, Kind::Lighting, Kind::Release, Kind::Output] {
        if ui.button(format!("New {kind} cue")).clicked() {
            new_cue(document, kind);
        }
    }
}

/// Puts a cue in on the beat nearest the playhead, doing the first thing of its kind in the rig.
pub fn new_cue(document: &mut Document, kind: Kind) {
    let (Ok(derived), Some(service)) = (document.derived(), document.current()) else { return };
    let show = &document.show;
    let Some(track) = show.tracks.iter().find(|t| t.kind == kind).map(|t| t.key.clone()) else {
        return document.fail(format!("there is no {kind} track; add one on the Rig screen"));
    };
    let does = match kind {
        Kind::Media => show.media.first().map(|m| Action::Media { item: m.key.clone() }),
        Kind::Lighting => show.presets.first().map(|p| Action::Lighting {
            preset: p.key.clone(),
            fade: None,
            share: FadeShare::Start,
        }),
        Kind::Release => {
            show.releases.first().map(|r| Action::Release { release: r.key.clone(), lands: Instant::Sightline })
        }
        Kind::Output => show.routes.first().map(|r| Action::Output { route: r.key.clone() }),
    };
    let Some(does) = does else {
        let steps = match kind {
            Kind::Media => "a picture or film",
            Kind::Lighting => "a lighting preset",
            Kind::Release => "a hang, then a release for it",
            Kind::Output => "an output, then a route to it",
        };
        return document.fail(format!("a {kind} cue needs something in the rig first: on the Rig screen add {steps}"));
    };
    let Some(label) = service.cues.free_label(kind) else { return document.fail("all labels are taken") };
    let grid = &derived.schedule.grid;
    let place = grid.place_of(document.playhead_tick());
    let tick = edit::snap(grid, grid.ticks_at(document.playhead.micros() as f64), grid.beat_length(place));
    let cue = Cue::new(label, track, Anchor::at(grid.place_of(tick)), does);
    let name = service.name.clone();
    if document
        .commit(&format!("New {label}"), Ok(edit::Edit::Cues { service: name, out: Vec::new(), into: vec![cue] }))
    {
        document.selection = [label].into_iter().collect();
    }
}

/// What the cues do, to be chosen from the rig.
fn actions(ui: &mut Ui, document: &mut Document, shown: &Shown) {
    let Some(kind) = shown.kind else {
        ui.label("Several kinds are selected.");
        return;
    };
    let current = shown.does.clone();
    let show = &document.show;
    let choices: Vec<(Action, String)> = match kind {
        Kind::Media => show.media.iter().map(|m| (Action::Media { item: m.key.clone() }, m.name.clone())).collect(),
        Kind::Lighting => show
            .presets
            .iter()
            .map(|p| (Action::Lighting { preset: p.key.clone(), fade: None, share: FadeShare::Start }, p.name.clone()))
            .collect(),
        Kind::Release => show
            .releases
            .iter()
            .flat_map(|r| {
                [Instant::LetGo, Instant::Sightline, Instant::Floor].map(|lands| {
                    (
                        Action::Release { release: r.key.clone(), lands },
                        format!("{}: {}", r.name, release_land_words(lands)),
                    )
                })
            })
            .collect(),
        Kind::Output => show
            .routes
            .iter()
            .map(|r| {
                let output = show.output(&r.output).map_or(r.output.as_str(), |o| o.name.as_str());
                (Action::Output { route: r.key.clone() }, format!("{output}: {}", r.name))
            })
            .collect(),
    };
    let words = current.as_ref().map_or_else(
        || DIFFERS.to_owned(),
        |c| {
            choices
                .iter()
                .find(|(a, _)| alike(a, c))
                .map_or_else(|| "not in the rig".to_owned(), |(_, words)| words.clone())
        },
    );
    let mut picked = None;
    ui.horizontal(|ui| {
        let label = ui.label("Does");
        let response =
            egui::ComboBox::from_id_salt("does").selected_text(words).width(FIELD).truncate().show_ui(ui, |ui| {
                for (action, words) in &choices {
                    let chosen = current.as_ref().is_some_and(|c| alike(action, c));
                    if ui.selectable_label(chosen, words).clicked() {
                        picked = Some(action.clone());
                    }
                }
            });
        response.response.labelled_by(label.id);
    });
    let (mut to, mut called) = (None, None);
    ui.horizontal(|ui| {
        let label = ui.label("Track");
        let tracks: Vec<_> = show.tracks.iter().filter(|t| t.kind == kind).collect();
        let name = |key: &TrackKey| show.track(key).map_or("no such track", |t| t.name.as_str());
        let words = shown.track.as_ref().map_or(DIFFERS, name);
        let combo = egui::ComboBox::from_id_salt("track").selected_text(words).width(110.0).truncate();
        let response = combo.show_ui(ui, |ui| {
            for track in tracks {
                if ui.selectable_label(shown.track.as_ref() == Some(&track.key), &track.name).clicked() {
                    to = Some(track.key.clone());
                }
            }
        });
        response.response.labelled_by(label.id);
        let label = ui.label("Called");
        let ways = [(None, "as its track"), (Some(true), "yes"), (Some(false), "no")];
        let words = shown.called.and_then(|now| ways.iter().find(|w| w.0 == now)).map_or(DIFFERS, |w| w.1);
        let combo = egui::ComboBox::from_id_salt("called").selected_text(words).width(84.0).truncate();
        let response = combo.show_ui(ui, |ui| {
            for (way, words) in ways {
                if ui.selectable_label(shown.called == Some(way), words).clicked() {
                    called = Some(way);
                }
            }
        });
        response.response.labelled_by(label.id);
    });
    if let Some(track) = to {
        document.with_selected("Move {} to another track", |show, service, labels| {
            edit::to_track(show, service, labels, &track)
        });
        return;
    }
    if let Some(way) = called {
        document.with_selected("Call {}", |show, service, labels| {
            edit::change(show, service, labels, |cue| with_call(cue, |call| call.called = way))
        });
        return;
    }
    let mut share = current.as_ref().and_then(|c| match c {
        Action::Lighting { share, .. } => Some(*share),
        _ => None,
    });
    if let Some(now) = share.as_mut() {
        let before = *now;
        ui.horizontal_wrapped(|ui| {
            ui.label("Fade on the beat");
            ui.radio_value(now, FadeShare::Start, "starts");
            ui.radio_value(now, FadeShare::Half, "half way");
            ui.radio_value(now, FadeShare::Done, "done");
        });
        if *now != before {
            let now = *now;
            document.with_selected("Fade of {}", |show, service, labels| {
                edit::change(show, service, labels, |cue| {
                    if let Action::Lighting { share, .. } = &mut cue.does {
                        *share = now;
                    }
                })
            });
            return;
        }
    }
    let mut resting = shown.resting;
    if ui.checkbox(&mut resting, "Resting: planned but not sent").changed() {
        super::commands::rest(document, resting);
        return;
    }
    if let Some(action) = picked {
        document.with_selected("Change what {} does", |show, service, labels| {
            edit::change(show, service, labels, |cue| replace(&mut cue.does, &action))
        });
    }
}

/// Sets what a cue does and keeps what it had of its own.
fn replace(does: &mut Action, new: &Action) {
    match (does, new) {
        (Action::Lighting { preset, .. }, Action::Lighting { preset: to, .. }) => preset.clone_from(to),
        (does, new) => does.clone_from(new),
    }
}

fn alike(a: &Action, b: &Action) -> bool {
    match (a, b) {
        (Action::Lighting { preset: a, .. }, Action::Lighting { preset: b, .. }) => a == b,
        _ => a == b,
    }
}

/// Where the time goes, for one cue.
fn lead(ui: &mut Ui, document: &Document, label: Label) {
    let (Ok(derived), Some(service)) = (document.derived(), document.current()) else { return };
    let (Some(row), Some(cue)) = (derived.row(label), service.cues.get(label)) else { return };
    let grid = &derived.schedule.grid;
    let sure = certainty(&document.show, cue, row);
    ui.label(RichText::new(describe(&document.show, cue)).strong());
    egui::Grid::new("lead").num_columns(2).spacing([10.0, 3.0]).show(ui, |ui| {
        let mut line = |name: &str, value: String| {
            ui.label(name);
            ui.monospace(value);
            ui.end_row();
        };
        line("lands", format!("{}  {}", place_words(cue, grid), row.land));
        line("sent", row.send.to_string());
        line("lead", row.lead.total().to_string());
        line("  device", row.lead.device.to_string());
        line("  action", row.lead.action.to_string());
        line("  wire", format!("{:.2} ms", row.lead.wire.micros() as f64 / 1000.0));
        line("may be early by", row.early.to_string());
        line("may be late by", row.late.to_string());
        line("lands in time", sure.chance_words());
        if let Some(receiver) = row.receiver {
            line("to", document.show.receivers[receiver as usize].name.clone());
        }
        if row.waits > SongSpan::ZERO {
            line("waits for its port", format!("{:.2} ms", row.waits.micros() as f64 / 1000.0));
        }
    });
    let settings = &document.show.settings;
    if let Some((term, share)) = sure.dominating() {
        ui.label(format!(
            "In time: {} early to {} late (the show's choice; usual are 125 and 45 ms, ITU-R BT.1359-1). {:.0} % of the spread is {}. To better it: {}.",
            settings.early,
            settings.late,
            share * 100.0,
            term.name(),
            term.remedy()
        ));
    }
    if let Some(message) = document.show.message_of(&cue.does) {
        ui.label(format!("Message: {}", message_words(message)));
    }
    if label.kind == Kind::Release {
        ui.label("A message that was sent does not show that the fabric fell. Clear signal first; the holder of the arm decides; local codes and the competent person for the rig come first.");
    }
}

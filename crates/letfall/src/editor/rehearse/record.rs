//! Cues played in: what is struck on pads or keys while the song runs becomes cues of a track, as one edit.

use crate::editor::document::Document;
use crate::editor::theme::bold;
use egui::{FontId, RichText, Ui};
use letfall_core::edit::Edit;
use letfall_core::show::{Action, Cue, FadeShare, Instant, Kind, Message, Show, TrackKey};
use letfall_core::time::{SongSpan, TickSpan};
use letfall_live::{Struck, place};
use std::sync::{Arc, Mutex, PoisonError};

type Came = Arc<Mutex<Vec<(Vec<u8>, i64)>>>;

/// What is struck, and what becomes of it.
pub struct Recorder {
    on: bool,
    track: Option<TrackKey>,
    step: Option<i64>,
    late_ms: f64,
    came: Came,
    struck: Vec<Struck>,
}

impl Default for Recorder {
    fn default() -> Recorder {
        Recorder { on: false, track: None, step: Some(960), late_ms: 0.0, came: Came::default(), struck: Vec::new() }
    }
}

/// The action of a kind that a key stands for: the one whose own message has that number, else the kind's first.
fn action(show: &Show, kind: Kind, key: u8) -> Option<Action> {
    let is = |message: &Message| match message {
        Message::Note { key: own, .. } => own.get() == key,
        Message::Program { number, .. } => number.get() == key,
        Message::Control { controller, .. } => controller.get() == key,
        _ => false,
    };
    let media = |m: &letfall_core::show::MediaItem| Action::Media { item: m.key.clone() };
    let light = |p: &letfall_core::show::Preset| Action::Lighting {
        preset: p.key.clone(),
        fade: None,
        share: FadeShare::Start,
    };
    let release =
        |r: &letfall_core::show::Release| Action::Release { release: r.key.clone(), lands: Instant::Sightline };
    let output = |r: &letfall_core::show::Route| Action::Output { route: r.key.clone() };
    match kind {
        Kind::Media => show.media.iter().find(|m| is(&m.message)).or(show.media.first()).map(media),
        Kind::Lighting => show.presets.iter().find(|p| is(&p.message)).or(show.presets.first()).map(light),
        Kind::Release => show.releases.iter().find(|r| is(&r.message)).or(show.releases.first()).map(release),
        Kind::Output => show.routes.iter().find(|r| is(&r.message)).or(show.routes.first()).map(output),
    }
}

impl Recorder {
    /// Takes what comes in, on the port's own thread.
    pub fn struck(&self) -> impl Fn(&[u8], i64) + Send + use<> {
        let came = self.came.clone();
        move |bytes, now| {
            // Clock and time code are many and no cue.
            if bytes.first().is_some_and(|b| (0x80..0xf0).contains(b)) {
                came.lock().unwrap_or_else(PoisonError::into_inner).push((bytes.to_vec(), now));
            }
        }
    }

    /// Forgets what was struck.
    pub fn clear(&mut self) {
        self.came.lock().unwrap_or_else(PoisonError::into_inner).clear();
        self.struck.clear();
    }

    /// Gives what was struck its song time, while it is known.
    pub fn gather(&mut self, song: impl Fn(i64) -> i64) {
        let came = std::mem::take(&mut *self.came.lock().unwrap_or_else(PoisonError::into_inner));
        if self.on {
            self.struck.extend(came.iter().filter_map(|(bytes, when)| Struck::read(bytes, song(*when))));
        }
    }

    /// The run is over: what was struck becomes cues.
    pub fn finish(&mut self, document: &mut Document) {
        let struck = std::mem::take(&mut self.struck);
        if struck.is_empty() || !self.on {
            return;
        }
        let (Ok(derived), Some(service)) = (document.derived(), document.current()) else { return };
        let chosen = self.track.as_ref().and_then(|key| document.show.track(key)).or(document.show.tracks.first());
        let Some(track) = chosen.cloned() else { return };
        let late = SongSpan::from_secs_f64(self.late_ms / 1e3);
        let labels = service.cues.free_labels(track.kind);
        let cues: Vec<Cue> = struck
            .iter()
            .zip(labels)
            .filter_map(|(struck, label)| {
                let at = place(&derived.schedule.grid, *struck, late, self.step.map(TickSpan::new));
                Some(Cue::new(label, track.key.clone(), at, action(&document.show, track.kind, struck.key)?))
            })
            .collect();
        let count = cues.len();
        let name = service.name.clone();
        let edit = Edit::Cues { service: name, out: Vec::new(), into: cues };
        let words = format!("Record {count} cue{} on {}", if count == 1 { "" } else { "s" }, track.name);
        document.commit(&words, Ok(edit));
    }

    /// How it records.
    pub fn show(&mut self, ui: &mut Ui, document: &Document) {
        ui.add_space(8.0);
        ui.label(RichText::new("Play cues in").font(FontId::new(15.5, bold())));
        ui.checkbox(&mut self.on, "What is struck becomes cues when the run stops");
        if !self.on {
            return;
        }
        let tracks = &document.show.tracks;
        let chosen = self.track.as_ref().and_then(|key| document.show.track(key)).or(tracks.first());
        let label = ui.label("On track");
        let shown = chosen.map_or_else(String::new, |t| t.name.clone());
        let combo = egui::ComboBox::from_id_salt("record track").width(200.0).selected_text(shown).show_ui(ui, |ui| {
            for track in tracks {
                if ui.selectable_label(chosen.is_some_and(|c| c.key == track.key), &track.name).clicked() {
                    self.track = Some(track.key.clone());
                }
            }
        });
        combo.response.labelled_by(label.id);
        ui.horizontal_wrapped(|ui| {
            for (step, words) in [(None, "free"), (Some(960), "on quarters"), (Some(480), "on eighths")] {
                ui.selectable_value(&mut self.step, step, words);
            }
        });
        ui.horizontal(|ui| {
            let label = ui.label("Hands and wire are late by");
            let drag = egui::DragValue::new(&mut self.late_ms).range(0.0..=500.0).suffix(" ms");
            ui.add(drag).labelled_by(label.id);
        });
        if !self.struck.is_empty() {
            ui.label(format!("{} struck", self.struck.len()));
        }
    }
}

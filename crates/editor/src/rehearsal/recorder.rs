//! Cues played in: what is hit on pads or keys while the song runs becomes cues of a track, as one edit.

use crate::document::Document;
use letfall_core::edit::Edit;
use letfall_core::midi::is_channel_message;
use letfall_core::show::{Action, Cue, FadeShare, Instant, Kind, Message, Show, TrackKey};
use letfall_core::time::{SongSpan, SongTime, TickSpan};
use letfall_live::{MachineTime, PadHit, place};
use std::sync::{Arc, Mutex, PoisonError};

/// Messages that came in on the port's own thread, and when.
type Came = Arc<Mutex<Vec<(Vec<u8>, MachineTime)>>>;

/// How hits become cues.
#[derive(Debug, Clone, PartialEq)]
pub struct RecorderOptions {
    /// Whether they do.
    pub on: bool,
    /// The track that they are put on; `None` is the first.
    pub track: Option<TrackKey>,
    /// The grid that they are put on; `None` leaves them where they were hit.
    pub step: Option<TickSpan>,
    /// How late hands and wire are, in milliseconds.
    pub late_ms: f64,
}

impl Default for RecorderOptions {
    fn default() -> RecorderOptions {
        RecorderOptions { on: false, track: None, step: Some(TickSpan::new(960)), late_ms: 0.0 }
    }
}

/// What is hit, and what becomes of it.
#[derive(Default)]
pub struct Recorder {
    /// How it records.
    pub options: RecorderOptions,
    came: Came,
    hits: Vec<PadHit>,
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
    pub fn input(&self) -> impl Fn(&[u8], MachineTime) + Send + use<> {
        let came = self.came.clone();
        move |bytes, now| {
            // Clock and time code are many and no cue.
            if is_channel_message(bytes) {
                came.lock().unwrap_or_else(PoisonError::into_inner).push((bytes.to_vec(), now));
            }
        }
    }

    /// Forgets what was hit.
    pub fn clear(&mut self) {
        self.came.lock().unwrap_or_else(PoisonError::into_inner).clear();
        self.hits.clear();
    }

    /// How many hits wait to become cues.
    pub const fn hits(&self) -> usize {
        self.hits.len()
    }

    /// Gives what was hit its song time, while it is known.
    pub fn gather(&mut self, song: impl Fn(MachineTime) -> SongTime) {
        let came = std::mem::take(&mut *self.came.lock().unwrap_or_else(PoisonError::into_inner));
        if self.options.on {
            self.hits.extend(came.iter().filter_map(|(bytes, when)| PadHit::read(bytes, song(*when))));
        }
    }

    /// The run is over: what was hit becomes cues.
    pub fn finish(&mut self, document: &mut Document) {
        let hits = std::mem::take(&mut self.hits);
        if hits.is_empty() || !self.options.on {
            return;
        }
        let (Ok(plan), Some(service)) = (document.plan(), document.current()) else { return };
        let chosen =
            self.options.track.as_ref().and_then(|key| document.show.track(key)).or(document.show.tracks.first());
        let Some(track) = chosen.cloned() else { return };
        let late = SongSpan::from_secs_f64(self.options.late_ms / 1e3);
        let labels = service.cues.free_labels(track.kind);
        let cues: Vec<Cue> = hits
            .iter()
            .zip(labels)
            .filter_map(|(hit, label)| {
                let at = place(plan.grid(), *hit, late, self.options.step);
                Some(Cue::new(label, track.key.clone(), at, action(&document.show, track.kind, hit.key)?))
            })
            .collect();
        let count = cues.len();
        let name = service.name.clone();
        let edit = Edit::Cues { service: name, out: Vec::new(), into: cues };
        let words = format!("Record {count} cue{} on {}", if count == 1 { "" } else { "s" }, track.name);
        document.commit(&words, Ok(edit));
    }
}

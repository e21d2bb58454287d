//! Recording cues: hits on pads or keys during a run become cues on a track, in one edit.

use crate::document::Document;
use letfall_core::edit::Edit;
use letfall_core::midi::is_channel_message;
use letfall_core::show::{Action, Cue, FadeShare, Instant, Kind, Message, Show, TrackKey};
use letfall_core::time::{SongSpan, SongTime, TickSpan};
use letfall_live::{MachineTime, PadHit, place};
use std::sync::{Arc, Mutex, PoisonError};

/// Messages received on the port's own thread, and when.
type Came = Arc<Mutex<Vec<(Vec<u8>, MachineTime)>>>;

/// Hits that are kept at most. Nobody plays more in a song; a stuck pad does.
const MOST_HITS: usize = 20_000;

/// How hits become cues.
#[derive(Debug, Clone, PartialEq)]
pub struct RecorderOptions {
    /// Whether hits become cues.
    pub on: bool,
    /// The track to put them on; `None` means the first one.
    pub track: Option<TrackKey>,
    /// The grid to snap them to; `None` leaves them where they were hit.
    pub step: Option<TickSpan>,
    /// How late the player and the connection are, in milliseconds.
    pub late_ms: f64,
}

impl Default for RecorderOptions {
    fn default() -> RecorderOptions {
        RecorderOptions { on: false, track: None, step: Some(TickSpan::new(960)), late_ms: 0.0 }
    }
}

/// Records hits and turns them into cues.
#[derive(Default)]
pub struct Recorder {
    /// How it records.
    pub options: RecorderOptions,
    came: Came,
    hits: Vec<PadHit>,
}

/// The action that a key stands for: the one of this kind whose message uses that number, otherwise the first of this kind.
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
    /// A function that takes incoming messages on the port's own thread.
    pub fn input(&self) -> impl Fn(&[u8], MachineTime) + Send + use<> {
        let came = self.came.clone();
        move |bytes, now| {
            // Clock and timecode messages come in large numbers and are never cues.
            if is_channel_message(bytes) {
                let mut came = came.lock().unwrap_or_else(PoisonError::into_inner);
                // A pad that is stuck must not fill the memory while the screen stands still.
                if came.len() < MOST_HITS {
                    came.push((bytes.to_vec(), now));
                }
            }
        }
    }

    /// Discards the hits.
    pub fn clear(&mut self) {
        self.came.lock().unwrap_or_else(PoisonError::into_inner).clear();
        self.hits.clear();
    }

    /// How many hits are waiting to become cues.
    pub const fn hits(&self) -> usize {
        self.hits.len()
    }

    /// Gives the hits their song times while the run's position is known.
    pub fn gather(&mut self, song: impl Fn(MachineTime) -> SongTime) {
        let came = std::mem::take(&mut *self.came.lock().unwrap_or_else(PoisonError::into_inner));
        if self.options.on && self.hits.len() < MOST_HITS {
            self.hits.extend(came.iter().filter_map(|(bytes, when)| PadHit::read(bytes, song(*when))));
        }
    }

    /// Turns the hits into cues at the end of a run.
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

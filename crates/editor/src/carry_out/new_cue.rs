//! Adding a cue.

use crate::document::Document;
use crate::editor::Editor;
use crate::screens::windows::ChooseCue;
use letfall_core::edit::{self, Choice, Edit};
use letfall_core::show::{Action, Anchor, Cue, Kind, TrackKey};
use letfall_core::time::Tick;

impl Editor {
    /// Adds a cue of this kind at the playhead. While the song plays it is added at once and calls up what the cue before it on its track
    /// does, because there is no time to choose.
    pub(super) fn new_cue(&mut self, kind: Kind) {
        let Some(tick) = beat_at_playhead(&self.document) else { return };
        let show = &self.document.show;
        // The track that was last worked on, if it is of this kind.
        let selected = self.document.selected_cues();
        let own =
            selected.last().map(|cue| cue.track.clone()).filter(|_| selected.iter().all(|c| c.label.kind == kind));
        let Some(track) = own.or_else(|| show.tracks.iter().find(|t| t.kind == kind).map(|t| t.key.clone())) else {
            return self.document.fail(format!("there is no {kind} track; add one on the Rig screen"));
        };
        if self.playback.is_playing() {
            let before = done_before(&self.document, &track, tick);
            let first = || edit::choices(&self.document.show, kind).into_iter().next().map(|choice| choice.does);
            if let Some(does) = before.or_else(first) {
                return put_cue(&mut self.document, track, tick, does);
            }
        }
        self.choose_cue(track, tick);
    }

    /// Adds a cue on the track of the selected cues, or of the last kind that was added.
    pub(super) fn new_cue_here(&mut self) {
        let selected = self.document.selected_cues();
        let kind = selected.last().map_or(Kind::Lighting, |cue| cue.label.kind);
        self.new_cue(kind);
    }

    /// Lets the user choose what a new cue on a track calls up; where there is no choice, it is added at once.
    pub(super) fn choose_cue(&mut self, track: TrackKey, tick: Tick) {
        let Some(kind) = self.document.show.track(&track).map(|t| t.kind) else { return };
        let mut choices: Vec<Choice> = edit::choices(&self.document.show, kind);
        match choices.len() {
            0 => {
                let steps = match kind {
                    Kind::Media => "a picture or film",
                    Kind::Lighting => "a lighting preset",
                    Kind::Release => "a hang, then a release for it",
                    Kind::Output => "an output, then a route to it",
                };
                let why = format!("a {kind} cue needs something in the rig first: on the Rig screen add {steps}");
                self.document.fail(why);
            }
            1 => put_cue(&mut self.document, track, tick, choices.remove(0).does),
            _ => self.screens.choose = Some(ChooseCue::new(kind, track, tick)),
        }
    }
}

/// The beat nearest the playhead.
fn beat_at_playhead(document: &Document) -> Option<Tick> {
    let plan = document.plan().ok()?;
    let grid = &plan.grid();
    let place = grid.place_of(document.playhead_tick());
    Some(edit::snap(grid, grid.ticks_at(document.playhead.micros() as f64), grid.beat_length(place)))
}

/// What the last cue on a track before a place does.
fn done_before(document: &Document, track: &TrackKey, tick: Tick) -> Option<Action> {
    let (plan, service) = (document.plan().ok()?, document.current()?);
    let land = plan.grid().time_at(tick);
    let on_track = service.cues.iter().filter(|cue| cue.track == *track);
    let lands = on_track.filter_map(|cue| plan.row(cue.label).map(|row| (row.land, cue)));
    lands.filter(|(at, _)| *at <= land).max_by_key(|(at, cue)| (*at, cue.label)).map(|(_, cue)| cue.does.clone())
}

/// Adds a cue and selects it.
pub(super) fn put_cue(document: &mut Document, track: TrackKey, tick: Tick, does: Action) {
    let (Ok(plan), Some(service)) = (document.plan(), document.current()) else { return };
    let Some(label) = service.cues.free_label(does.kind()) else { return document.fail("all labels are taken") };
    let place = plan.grid().place_of(tick);
    let name = service.name.clone();
    let cue = Cue::new(label, track, Anchor::at(place), does);
    if document.commit(&format!("New {label}"), Ok(Edit::Cues { service: name, out: Vec::new(), into: vec![cue] })) {
        document.selection = [label].into_iter().collect();
    }
}

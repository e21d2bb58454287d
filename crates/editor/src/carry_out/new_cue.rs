//! Adding a cue at the playhead.

use crate::document::Document;
use letfall_core::edit;
use letfall_core::show::{Action, Anchor, Cue, FadeShare, Instant, Kind};

/// Adds a cue on the beat nearest the playhead. It uses the rig's first entry of its kind.
pub(super) fn new_cue(document: &mut Document, kind: Kind) {
    let (Ok(plan), Some(service)) = (document.plan(), document.current()) else { return };
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
    let grid = &plan.grid();
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

//! How long each cue's effect lasts: where its body ends on the screen and on the wall sheet.

use super::{LightSlot, Stage, light_slot};
use crate::schedule::{Row, Schedule};
use crate::show::{Action, Label, OutputKey, Service, Show, TrackKey};
use crate::time::{SongSpan, SongTime};
use std::collections::BTreeMap;

/// When each cue's effect ends, by index of its row in the schedule.
///
/// A media cue ends after its length or, for a still, at the next cue on its track. A lighting cue ends at the next cue on its
/// track, an output cue at the next route on the same output, and a release at the last moment its fabric may still be falling.
pub fn ends(show: &Show, service: &Service, schedule: &Schedule, stage: &Stage) -> Vec<SongTime> {
    let song_end = schedule.grid.bar_time(service.song.end_bar());
    let falls: BTreeMap<Label, SongTime> =
        stage.falling.iter().map(|f| (f.by, f.let_go + SongSpan::from_secs_f64(f.to_floor.latest))).collect();
    let mut order: Vec<usize> = (0..schedule.rows.len()).collect();
    let key = |row: &Row| (row.land, row.label);
    order.sort_by_key(|at| key(&schedule.rows[*at]));
    let mut ends = vec![song_end; schedule.rows.len()];
    let mut track_next: BTreeMap<&TrackKey, SongTime> = BTreeMap::new();
    let mut output_next: BTreeMap<&OutputKey, SongTime> = BTreeMap::new();
    // Backwards, so that what follows is already known.
    for at in order.into_iter().rev() {
        let row = &schedule.rows[at];
        let cue = &service.cues.as_slice()[row.cue as usize];
        let next = track_next.get(&cue.track).copied();
        let output = match &cue.does {
            Action::Output { route } => show.route(route).map(|r| &r.output),
            _ => None,
        };
        ends[at] = match &cue.does {
            Action::Media { item } => {
                let own = show.media_item(item).map_or(SongSpan::ZERO, |m| m.length);
                match cue.length {
                    Some(length) => length.end(row.land, &schedule.grid),
                    None if own > SongSpan::ZERO => row.land + own,
                    None => next.unwrap_or(song_end),
                }
            }
            Action::Lighting { .. } => next.unwrap_or(song_end),
            Action::Release { .. } => falls.get(&row.label).copied().unwrap_or(row.land),
            Action::Output { .. } => output.and_then(|o| output_next.get(o).copied()).unwrap_or(song_end),
        }
        .max(row.land);
        track_next.insert(&cue.track, row.land);
        if let Some(output) = output {
            output_next.insert(output, row.land);
        }
    }
    ends
}

/// The light level before and after each row of the schedule, 0 to 1, of the state that the row sets: what a fade goes between. It
/// is dark before the first cue, and 0 for cues that are not lighting.
pub fn levels(show: &Show, service: &Service, schedule: &Schedule) -> Vec<[f32; 2]> {
    let mut order: Vec<usize> = (0..schedule.rows.len()).collect();
    order.sort_by_key(|at| (schedule.rows[*at].land, schedule.rows[*at].label));
    let mut levels = vec![[0.0; 2]; schedule.rows.len()];
    let mut now: BTreeMap<LightSlot, f32> = BTreeMap::new();
    for at in order {
        let cue = &service.cues.as_slice()[schedule.rows[at].cue as usize];
        let Action::Lighting { preset, .. } = &cue.does else { continue };
        let slot = light_slot(show, preset, &cue.track);
        let before = slot.and_then(|slot| now.get(&slot)).copied().unwrap_or(0.0);
        let after = show.preset(preset).map_or(1.0, |p| f32::from(p.level) / 100.0);
        levels[at] = [before, after];
        if let Some(slot) = slot.filter(|_| !cue.resting) {
            now.insert(slot, after);
        }
    }
    levels
}

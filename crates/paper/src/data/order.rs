//! The running order: everything that happens, in order of landing, under its section.

use super::changes::{Mark, Marks};
use super::words::{bound, gap, go_place, lead, split_place};
use letfall_core::schedule::{Schedule, calls, describe, place_words};
use letfall_core::show::{Service, Show};
use letfall_core::time::{Grid, SongTime};
use serde::Serialize;
use std::collections::BTreeMap;

/// Cues of one section.
#[derive(Serialize)]
pub struct Group {
    name: String,
    place: String,
    rows: Vec<Line>,
}

/// One cue.
#[derive(Serialize)]
struct Line {
    label: String,
    kind: &'static str,
    place: String,
    beyond: String,
    time: String,
    clock: String,
    what: String,
    track: String,
    who: String,
    note: String,
    lead: String,
    standby: String,
    standby_at: String,
    go: String,
    go_at: String,
    next: String,
    resting: bool,
    mark: Mark,
}

/// Works out a running order.
pub fn order(show: &Show, service: &Service, schedule: &Schedule, marks: &Marks) -> Vec<Group> {
    let grid = &schedule.grid;
    let spoken: BTreeMap<_, _> = calls(show, service, schedule).into_iter().map(|c| (c.row.label, c)).collect();
    let rows = schedule.by_land();
    let mut sections: Vec<Group> = Vec::new();
    for (at, row) in rows.iter().enumerate() {
        let cue = &service.cues.as_slice()[row.cue as usize];
        let tick = grid.tick_at(row.land);
        let bar = grid.place_of(tick).bar;
        let section = service.song.section_at(bar);
        let name = section.map_or_else(String::new, |s| s.name.clone());
        if sections.last().is_none_or(|g| g.name != name) {
            let place = section.map_or_else(String::new, |s| {
                format!("bars {} to {}", s.bar, i64::from(s.bar) + i64::from(s.bars) - 1)
            });
            sections.push(Group { name, place, rows: Vec::new() });
        }
        let call = spoken.get(&row.label);
        let next = rows.get(at + 1).map_or_else(String::new, |next| gap(next.land - row.land));
        let receiver = row.receiver.map(|at| &show.receivers[at as usize]);
        let who = receiver.map_or("", |r| if r.answers.is_empty() { &r.name } else { &r.answers });
        let (place, beyond) = split_place(&place_words(cue, grid));
        let line = Line {
            label: row.label.to_string(),
            kind: row.label.kind.name(),
            place,
            beyond,
            time: format!("{:.1}", row.land),
            clock: service.wall(row.land).map_or_else(String::new, |w| w.to_string()),
            what: bound(&describe(show, cue)),
            track: show.track(&cue.track).map_or_else(|| cue.track.to_string(), |t| t.name.clone()),
            who: who.to_owned(),
            note: cue.note.clone(),
            lead: lead(row.lead.total()),
            standby: call.filter(|c| c.standby.is_some()).map_or_else(String::new, |c| c.standby_words.clone()),
            standby_at: call.and_then(|c| c.standby).map_or_else(String::new, |t| said_at(show, grid, t)),
            go: call.map_or_else(String::new, |c| c.go_words.clone()),
            go_at: call.map_or_else(String::new, |c| go_place(grid, c.go)),
            next,
            resting: cue.resting,
            mark: marks.of(row.label),
        };
        if let Some(group) = sections.last_mut() {
            group.rows.push(line);
        }
    }
    sections
}

/// Where a standby is said: bar and beat, or before the count-in, where nobody counts bars, the song time.
fn said_at(show: &Show, grid: &Grid, time: SongTime) -> String {
    let place = grid.place_of(grid.tick_at(time));
    if place.bar < 1 - i32::from(show.settings.count_in_bars) {
        format!("{time:.1}")
    } else {
        grid.place_text(grid.tick_at(time))
    }
}

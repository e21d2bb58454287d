//! The running order: everything that happens, in order of landing, under its section.

use super::changes::{Mark, Marks};
use super::words::{beat_words, bound, clock, cue_place, gap, go_place, is_uncounted, lead, song_clock};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{calls_by_cue, describe};
use letfall_core::show::{Cue, Goes, Kind, Show};
use letfall_core::time::{SongTime, WallTime};
use serde::Serialize;

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
    /// What sets it off, if nobody calls it.
    goes: String,
    /// Its number at the operator's desk.
    desk: String,
    mark: Mark,
}

/// Works out a running order.
pub fn order(prepared: &Prepared, marks: &Marks, start: Option<WallTime>) -> Vec<Group> {
    let (show, service, grid) = (prepared.show(), prepared.service(), prepared.grid());
    let spoken = calls_by_cue(prepared.call_groups());
    let rows = prepared.schedule().by_land();
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
        let said = spoken.get(&row.label).copied().unwrap_or_default();
        let next = rows.get(at + 1).map_or_else(String::new, |next| gap(next.land - row.land));
        let receiver = row.receiver.map(|at| &show.receivers[at as usize]);
        let who = receiver.map_or("", |r| if r.answers.is_empty() { &r.name } else { &r.answers });
        let (place, beyond) = cue_place(cue, grid);
        let line = Line {
            label: row.label.to_string(),
            kind: row.label.kind.name(),
            place,
            beyond,
            time: song_clock(row.land),
            clock: clock(service, start, row.land),
            what: bound(&describe(show, cue)),
            track: show.track(&cue.track).map_or_else(|| cue.track.to_string(), |t| t.name.clone()),
            who: who.to_owned(),
            note: cue.note.clone(),
            lead: lead(row.lead.total()),
            standby: said.standby.map_or_else(String::new, |b| b.words.clone()),
            standby_at: said.standby.map_or_else(String::new, |b| said_at(prepared, b.at)),
            go: said.go.map_or_else(String::new, |b| b.words.clone()),
            go_at: said.go.map_or_else(String::new, |b| go_place(grid, b.at)),
            next,
            resting: cue.resting,
            goes: goes_words(show, cue),
            desk: show.desk_number(cue).to_owned(),
            mark: marks.of(row.label),
        };
        if let Some(group) = sections.last_mut() {
            group.rows.push(line);
        }
    }
    sections
}

/// Where a standby is said: bar and beat. Before the count-in nobody counts bars, so there it is the song time.
fn said_at(prepared: &Prepared, time: SongTime) -> String {
    if is_uncounted(prepared, time) { song_clock(time) } else { beat_words(prepared.grid(), time) }
}

/// What sets a cue off, if no hand does so on a call.
pub fn goes_words(show: &Show, cue: &Cue) -> String {
    match show.goes(cue) {
        Goes::Operator => String::new(),
        Goes::After(first) => format!("after {first}, by its operator or desk"),
        Goes::Machine if cue.label.kind == Kind::Release => "by itself while it is armed: watch".to_owned(),
        Goes::Machine if show.is_watched(cue) => "by itself: watch that it comes".to_owned(),
        Goes::Machine => "by itself".to_owned(),
    }
}

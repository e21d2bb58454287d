//! What a template is given: everything already worked out and in words, so that a template only lays out.

use super::PaperOptions;
use letfall_core::schedule::{Schedule, calls, describe, place_words};
use letfall_core::show::{Kind, Service, Show};
use letfall_core::time::{Grid, SongSpan, SongTime, round};
use serde::Serialize;
use std::collections::BTreeMap;

/// A running order.
#[derive(Serialize)]
pub struct Order {
    paper: &'static str,
    language: String,
    title: String,
    venue: String,
    version: String,
    date: String,
    printed: String,
    service: String,
    song: String,
    starts: String,
    ends: String,
    length: String,
    bars: u32,
    tempo: String,
    has_release: bool,
    clear_signal: String,
    arm_holder: String,
    abort_words: String,
    sections: Vec<Group>,
}

/// Cues of one section.
#[derive(Serialize)]
struct Group {
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
}

/// Works out a running order.
pub fn order(show: &Show, service: &Service, schedule: &Schedule, options: &PaperOptions) -> Order {
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
            what: describe(show, cue),
            track: show.track(&cue.track).map_or_else(|| cue.track.to_string(), |t| t.name.clone()),
            who: who.to_owned(),
            note: cue.note.clone(),
            lead: lead(row.lead.total()),
            standby: call.filter(|c| c.standby.is_some()).map_or_else(String::new, |c| c.standby_words.clone()),
            standby_at: call.and_then(|c| c.standby).map_or_else(String::new, |t| grid.place_text(grid.tick_at(t))),
            go: call.map_or_else(String::new, |c| c.go_words.clone()),
            go_at: call.map_or_else(String::new, |c| go_place(grid, c.go)),
            next,
            resting: cue.resting,
        };
        if let Some(group) = sections.last_mut() {
            group.rows.push(line);
        }
    }
    let end = grid.bar_time(service.song.end_bar());
    let first = grid.segments().first();
    let bpm = first.map_or(120.0, |_| {
        60e6 / ((grid.bar_time(2) - grid.bar_time(1)).micros() as f64 / f64::from(grid.beats_in(1)))
    });
    Order {
        paper: options.size.template_name(),
        language: show.language.clone(),
        title: show.title.clone(),
        venue: show.venue.clone(),
        version: show.version.clone(),
        date: service.date.clone(),
        printed: options.printed.clone(),
        service: service.name.clone(),
        song: service.song.title.clone(),
        starts: service.wall(SongTime::ZERO).map_or_else(String::new, |w| w.to_string()),
        ends: service.wall(end).map_or_else(String::new, |w| w.to_string()),
        length: format!("{:.1}", SongTime::ZERO + (end - SongTime::ZERO)),
        bars: service.song.bars,
        tempo: format!("{} in {}", round::nearest(bpm), grid.metre_at(1)),
        has_release: service.cues.iter().any(|c| c.label.kind == Kind::Release && !c.resting),
        clear_signal: show.safety.clear_signal.clone(),
        arm_holder: show.safety.arm_holder.clone(),
        abort_words: show.safety.abort_words.clone(),
        sections,
    }
}

/// Bar and beat, and what comes on top (`+1/2`, `+100 ms`), which is set smaller.
fn split_place(words: &str) -> (String, String) {
    let at = words.find([' ', '+']).unwrap_or(words.len());
    (words[..at].to_owned(), words[at..].trim().to_owned())
}

/// When a go is said: the beat nearest, and the song time, since it seldom falls on the beat it lands on.
fn go_place(grid: &Grid, go: SongTime) -> String {
    let tick = grid.ticks_at(go.micros() as f64);
    let beat = grid.beat_length(grid.place_of(grid.tick_at(go)));
    let place = grid.place_of(letfall_core::edit::snap(grid, tick, beat));
    format!("at {}|{}, {go:.1}", place.bar, place.beat)
}

/// Time to the next cue, as people say it.
fn gap(span: SongSpan) -> String {
    let tenths = round::div_nearest(i128::from(span.micros()), 100_000);
    if tenths == 0 {
        return "with".to_owned();
    }
    if tenths < 600 {
        format!("{}.{} s", tenths / 10, tenths % 10)
    } else {
        format!("{}:{:02} min", tenths / 600, tenths / 10 % 60)
    }
}

/// How early the message leaves.
fn lead(span: SongSpan) -> String {
    let millis = round::div_nearest(i128::from(span.micros()), 1000);
    match millis {
        0 => "no lead".to_owned(),
        m if m < 0 => format!("sent {} ms after", -m),
        m if m < 1000 => format!("lead\u{a0}{m}\u{a0}ms"),
        _ => {
            let hundredths = round::div_nearest(i128::from(span.micros()), 10_000);
            format!("lead\u{a0}{}.{:02}\u{a0}s", hundredths / 100, hundredths % 100)
        }
    }
}

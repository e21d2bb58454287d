//! The wall sheet: the whole score as one picture. Positions are fractions of the picture's width and of a row's height.

use super::changes::{Mark, Marks};
use super::words::elapsed;
use letfall_core::prepared::Prepared;
use letfall_core::reveal::fallen;
use letfall_core::schedule::describe;
use letfall_core::show::{Action, Carries, Kind};
use letfall_core::time::{BarBeat, SongSpan, SongTime};
use serde::Serialize;

/// The picture of the whole song, and one of each reveal at its own scale.
#[derive(Serialize)]
pub struct Wall {
    whole: Picture,
    reveals: Vec<Picture>,
}

/// A stretch of the song.
#[derive(Serialize)]
struct Picture {
    /// What it shows, in words.
    title: String,
    sections: Vec<Band>,
    bars: Vec<Tick>,
    times: Vec<Tick>,
    rows: Vec<Row>,
}

#[derive(Serialize)]
struct Band {
    name: String,
    from: f64,
    to: f64,
}

#[derive(Serialize)]
struct Tick {
    at: f64,
    words: String,
}

#[derive(Serialize)]
struct Row {
    name: String,
    kind: &'static str,
    /// Its height relative to a plain row, which is 1.
    weight: f64,
    cues: Vec<Drawn>,
}

#[derive(Serialize)]
struct Drawn {
    label: String,
    what: String,
    send: f64,
    land: f64,
    end: f64,
    /// When a fade starts and when it is full; both are the land if there is no fade.
    start: f64,
    full: f64,
    /// The light's level before and after it, 0 to 1.
    levels: [f32; 2],
    /// Where in the row: top and bottom, 0 to 1.
    top: f64,
    bottom: f64,
    blank: bool,
    resting: bool,
    /// A fall: the edge as expected, and the bounds of the range, as [x, y].
    curve: Vec<[f64; 2]>,
    range: Vec<[f64; 2]>,
    sight: f64,
    /// Room for text until the next cue in its lane, as a fraction of the width.
    room: f64,
    mark: Mark,
}

/// How long before and after a land the picture of a reveal reaches.
const AROUND: (SongSpan, SongSpan) = (SongSpan::from_millis(4_000), SongSpan::from_millis(3_000));
/// Most pictures of reveals: with more the whole song would have no room.
const MOST_REVEALS: usize = 2;

/// Works out the pictures.
pub fn wall(prepared: &Prepared, marks: &Marks) -> Wall {
    let (show, service, grid) = (prepared.show(), prepared.service(), prepared.grid());
    let rows = &prepared.schedule().rows;
    let count_in = show.settings.first_bar();
    let song_end = prepared.end();
    let first = rows.iter().map(|r| r.send).min().unwrap_or(SongTime::ZERO).max(grid.bar_time(count_in - 4));
    let from = grid.bar_time(count_in).min(first);
    let until = rows.iter().map(|r| r.land + SongSpan::from_millis(1500)).max().unwrap_or(song_end).max(song_end);
    let drops = prepared
        .schedule()
        .by_land()
        .into_iter()
        .filter(|row| row.label.kind == Kind::Release && !service.cues.as_slice()[row.cue as usize].resting);
    let mut lands: Vec<(SongTime, String)> = Vec::new();
    for row in drops {
        match lands.last_mut() {
            Some((land, labels)) if row.land - *land < AROUND.1 => {
                labels.push_str(" and ");
                labels.push_str(&row.label.to_string());
            }
            _ => lands.push((row.land, row.label.to_string())),
        }
    }
    let reveals = lands.iter().take(MOST_REVEALS).map(|(land, labels)| {
        let title = format!("{labels} at its own scale, seconds from the land");
        picture(prepared, marks, title, (*land - AROUND.0, *land + AROUND.1), Some(*land))
    });
    Wall { reveals: reveals.collect(), whole: picture(prepared, marks, String::new(), (from, until), None) }
}

/// A stretch of the song; `land` if it is that of a reveal.
fn picture(
    prepared: &Prepared,
    marks: &Marks,
    title: String,
    (from, until): (SongTime, SongTime),
    land: Option<SongTime>,
) -> Picture {
    let (show, service, grid) = (prepared.show(), prepared.service(), prepared.grid());
    let whole = (until - from).secs_f64().max(1.0);
    let x = |time: SongTime| ((time - from).secs_f64() / whole).clamp(0.0, 1.0);
    let inside = |at: &u32| {
        let row = &prepared.schedule().rows[*at as usize];
        land.is_none() || row.send < until && prepared.ends()[*at as usize].max(row.land) > from
    };
    let rows = prepared
        .tracks()
        .iter()
        .map(|track| {
            let shown = track.rows.iter().filter(|at| inside(at));
            let mut cues: Vec<Drawn> = shown.map(|at| drawn(prepared, marks, *at as usize, &x)).collect();
            for at in 0..cues.len() {
                let lane = cues[at].top;
                let next = cues[at + 1..].iter().find(|n| n.top == lane).map_or(1.0, |n| n.land.min(n.start));
                cues[at].room = (next - cues[at].land).max(0.0);
            }
            let weight = match track.kind {
                Kind::Release if land.is_some() => 1.7,
                Kind::Release => 0.7,
                Kind::Output if land.is_some() => (0.9 * show.outputs.len() as f64).max(1.0),
                Kind::Output => (0.7 * show.outputs.len() as f64).max(1.0),
                _ => 1.0,
            };
            Row { name: track.name.clone(), kind: track.kind.name(), weight, cues }
        })
        .collect();
    let shows = |s: &&letfall_core::show::Section| {
        let end = s.bar.saturating_add(i32::try_from(s.bars).unwrap_or(0));
        grid.bar_time(s.bar) < until && grid.bar_time(end) > from
    };
    Picture {
        title,
        sections: service
            .song
            .sections
            .iter()
            .filter(shows)
            .map(|s| {
                let end = s.bar.saturating_add(i32::try_from(s.bars).unwrap_or(0));
                Band { name: s.name.clone(), from: x(grid.bar_time(s.bar)), to: x(grid.bar_time(end)) }
            })
            .collect(),
        bars: match land {
            None => bars(prepared, &x),
            Some(_) => beats(prepared, from, until, &x),
        },
        times: match land {
            None => times(from, until, whole, &x),
            Some(land) => seconds(land, from, until, &x),
        },
        rows,
    }
}

/// Every beat of a reveal, with the numbers of its bars.
fn beats(prepared: &Prepared, from: SongTime, until: SongTime, x: &impl Fn(SongTime) -> f64) -> Vec<Tick> {
    let grid = prepared.grid();
    let first = grid.place_of(grid.tick_at(from)).bar;
    let mut out = Vec::new();
    // A few seconds hold few bars, even at the fastest tempo that a show may have.
    for bar in first..first.saturating_add(200) {
        if grid.bar_time(bar) > until {
            break;
        }
        for beat in 1..=grid.beats_in(bar) {
            let at = grid.time_at(grid.tick_of(BarBeat { bar, beat, tick: 0 }));
            if (from..until).contains(&at) {
                let words = if beat == 1 { format!("bar {bar}") } else { String::new() };
                out.push(Tick { at: x(at), words });
            }
        }
    }
    out
}

/// The seconds round a land.
fn seconds(land: SongTime, from: SongTime, until: SongTime, x: &impl Fn(SongTime) -> f64) -> Vec<Tick> {
    let second = |n: i64| land + SongSpan::from_millis(n * 1000);
    let shown = (-10..10).filter(|n| (from..until).contains(&second(*n)));
    shown
        .map(|n| {
            let words =
                if n == 0 { "land".to_owned() } else { format!("{}{}", if n < 0 { "−" } else { "+" }, n.abs()) };
            Tick { at: x(second(n)), words }
        })
        .collect()
}

/// Bar lines, with numbers where there is room for them.
fn bars(prepared: &Prepared, x: &impl Fn(SongTime) -> f64) -> Vec<Tick> {
    let last = prepared.service().song.end_bar();
    let step = [1, 2, 4, 8, 16, 32, 64, 128, 256, 512].into_iter().find(|s| last / s <= 40).unwrap_or(1024);
    let lines = [1, step].into_iter().find(|s| last / s <= 200).unwrap_or(step);
    let mut numbered = f64::NEG_INFINITY;
    let tick = |bar: i32| {
        let at = x(prepared.grid().bar_time(bar));
        // At a fast tempo bars are closer together, but the numbers still keep their distance.
        let shows = (bar - 1) % step == 0 && at - numbered > 0.026;
        if shows {
            numbered = at;
        }
        Tick { at, words: if shows { bar.to_string() } else { String::new() } }
    };
    (1..last).filter(|bar| (bar - 1) % lines == 0).map(tick).collect()
}

fn times(from: SongTime, until: SongTime, whole: f64, x: &impl Fn(SongTime) -> f64) -> Vec<Tick> {
    let step = [5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600].into_iter().find(|s| whole / f64::from(*s) <= 12.0);
    let step = i64::from(step.unwrap_or(7200)) * 1_000_000;
    let mut at = from.micros().div_euclid(step) * step;
    let mut out = Vec::new();
    while at <= until.micros() {
        let time = SongTime::saturating(at);
        if at >= from.micros() {
            let words = elapsed(time);
            // Leave out what would run over the edge.
            if x(time) < 0.93 {
                out.push(Tick { at: x(time), words });
            }
        }
        at += step;
    }
    out
}

/// One cue of the picture, by the index of its row in the schedule.
fn drawn(prepared: &Prepared, marks: &Marks, at: usize, x: &impl Fn(SongTime) -> f64) -> Drawn {
    let (show, row) = (prepared.show(), &prepared.schedule().rows[at]);
    let cue = prepared.cue(row);
    let end = prepared.ends()[at];
    let (mut start, mut full, mut blank, mut lane, mut lanes) = (row.land, row.land, false, 0, 1);
    match &cue.does {
        Action::Lighting { preset, fade, .. } => {
            let fade = fade.or(show.preset(preset).map(|p| p.fade)).unwrap_or(SongSpan::ZERO);
            start = row.land - row.lead.action;
            full = start + fade;
        }
        Action::Output { route } => {
            let route = show.route(route);
            blank = route.is_some_and(|r| r.carries == Carries::Blank {});
            lanes = show.outputs.len().max(1);
            lane = route.and_then(|r| show.outputs.iter().position(|o| o.key == r.output)).unwrap_or(0);
        }
        _ => {}
    }
    let (mut curve, mut range, mut sight) = (Vec::new(), Vec::new(), 0.0);
    if let Some(fall) = prepared.stage().falling.iter().find(|f| f.by == row.label)
        && let Some(hang) = show.hangs.get(fall.hang)
    {
        let span = fall.to_floor.latest.max(0.2);
        let points: Vec<(f64, [f64; 3])> = (0..=16u8)
            .map(|n| {
                let secs = span * f64::from(n) / 16.0;
                (x(fall.let_go + SongSpan::from_secs_f64(secs)), fallen(hang, fall.to_floor, secs))
            })
            .collect();
        curve = points.iter().map(|(x, h)| [*x, h[0] / hang.top_m]).collect();
        range = points.iter().map(|(x, h)| [*x, h[1] / hang.top_m]).collect();
        range.extend(points.iter().rev().map(|(x, h)| [*x, h[2] / hang.top_m]));
        sight = (hang.top_m - hang.sightline_m) / hang.top_m;
    }
    let (lane, lanes) = (lane as f64, lanes as f64);
    Drawn {
        label: row.label.to_string(),
        what: describe(show, cue),
        send: x(row.send),
        land: x(row.land),
        end: x(end),
        start: x(start),
        full: x(full.min(end.max(start))),
        levels: prepared.levels()[at],
        top: lane / lanes,
        bottom: (lane + 1.0) / lanes,
        blank,
        resting: cue.resting,
        curve,
        range,
        sight,
        room: 0.0,
        mark: marks.of(row.label),
    }
}

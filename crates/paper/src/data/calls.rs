//! The call sheet: what the stage manager says, when, and the count-down to each release.

use super::changes::{Mark, Marks};
use super::words::{beat_lines, clock, cue_place_words, gap};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{CallGroup, CallKind, describe, message_words, release_land_words};
use letfall_core::show::{Action, Kind, Label, Show};
use letfall_core::time::{BarBeat, SongSpan, SongTime, Tick};
use serde::Serialize;
use std::collections::BTreeSet;

/// Everything said, in order, and the count-downs.
#[derive(Serialize)]
pub struct CallSheet {
    rows: Vec<Line>,
    count_downs: Vec<CountDown>,
    speech_rate: u16,
    /// Cues that nobody calls, by label.
    by_itself: String,
}

/// One group.
#[derive(Serialize)]
struct Line {
    is: &'static str,
    place: String,
    /// How far after the beat.
    beyond: String,
    time: String,
    clock: String,
    words: String,
    answers: String,
    what: Vec<String>,
    next: String,
    /// Whether a release is in it.
    reveal: bool,
    /// Its cues.
    labels: Vec<String>,
    /// Why it cannot be said in time, in words; empty if it can.
    hurried: String,
    marks: Vec<Marked>,
}

#[derive(Serialize)]
struct Marked {
    label: String,
    mark: Mark,
}

/// The last four bars before a release, beat by beat.
#[derive(Serialize)]
struct CountDown {
    label: String,
    what: String,
    lands: &'static str,
    place: String,
    time: String,
    clock: String,
    bars: Vec<Bar>,
    hang_up: Option<HangUpWords>,
}

#[derive(Serialize)]
struct Bar {
    number: i32,
    beats: Vec<Beat>,
}

#[derive(Serialize)]
struct Beat {
    number: u16,
    /// Seconds to land, such as "-7.3".
    to_land: String,
    /// What is said or happens in it.
    events: Vec<String>,
    strong: bool,
}

/// What is said and done if a unit stays shut.
#[derive(Serialize, Clone)]
pub struct HangUpWords {
    caller: String,
    words: String,
    then: String,
    hold: String,
    outputs: Vec<String>,
    /// How long after the first go it may be tried again; empty for never.
    wait: String,
}

/// The hang-up plan of a release, in words.
pub fn hang_up(show: &Show, release: &letfall_core::show::Release) -> Option<HangUpWords> {
    let plan = release.hang_up.as_ref()?;
    let outputs = plan.show.iter().filter_map(|key| {
        let route = show.route(key)?;
        let output = show.output(&route.output).map_or(route.output.as_str(), |o| o.name.as_str());
        Some(format!("{output}: {} ({})", route.name, message_words(&route.message)))
    });
    Some(HangUpWords {
        caller: plan.caller.clone(),
        words: plan.words.clone(),
        then: plan.then.clone(),
        hold: plan.hold.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "),
        outputs: outputs.collect(),
        wait: if plan.wait.micros() > 0 { gap(plan.wait) } else { String::new() },
    })
}

/// Works out the call sheet.
pub fn calls(prepared: &Prepared, marks: &Marks) -> CallSheet {
    let (show, service, grid, schedule) = (prepared.show(), prepared.service(), prepared.grid(), prepared.schedule());
    let called: BTreeSet<Label> = prepared.calls().iter().map(|c| c.label).collect();
    let rows = prepared.call_groups().iter().map(|group| line(prepared, marks, group)).collect();
    let by_itself: Vec<String> = schedule
        .by_land()
        .into_iter()
        .filter(|r| !called.contains(&r.label))
        .filter(|r| !service.cues.as_slice()[r.cue as usize].resting)
        .map(|r| r.label.to_string())
        .collect();
    let count_downs = schedule
        .by_land()
        .into_iter()
        .filter(|r| r.label.kind == Kind::Release && !service.cues.as_slice()[r.cue as usize].resting)
        .map(|row| {
            let cue = &service.cues.as_slice()[row.cue as usize];
            let (release, lands) = match &cue.does {
                Action::Release { release, lands } => (show.release(release), release_land_words(*lands)),
                _ => (None, ""),
            };
            CountDown {
                label: row.label.to_string(),
                what: describe(show, cue),
                lands,
                place: cue_place_words(cue, grid),
                time: format!("{:.1}", row.land),
                clock: clock(service, row.land),
                bars: bars(prepared, row.label, row.land),
                hang_up: release.and_then(|r| hang_up(show, r)),
            }
        })
        .collect();
    CallSheet { rows, count_downs, speech_rate: show.settings.words_per_minute, by_itself: by_itself.join(", ") }
}

fn line(prepared: &Prepared, marks: &Marks, group: &CallGroup) -> Line {
    let (show, service, grid) = (prepared.show(), prepared.service(), prepared.grid());
    // Before the count-in nobody counts bars; the song time beside it says when.
    let count_in = 1 - i32::from(show.settings.count_in_bars);
    let before = grid.place_of(grid.tick_at(group.at)).bar < count_in;
    let (place, beyond) = if before { ("before".to_owned(), String::new()) } else { beat_lines(grid, group.at) };
    let what = |label: &Label| {
        let cue = service.cues.get(*label)?;
        let land = prepared.row(*label)?.land;
        let at = if land == group.at { String::new() } else { format!(", lands {}", cue_place_words(cue, grid)) };
        Some(format!("{label} {}{at}", super::words::bound(&describe(show, cue))))
    };
    let marked = group.labels.iter().map(|l| Marked { label: l.to_string(), mark: marks.of(*l) });
    Line {
        is: if group.kind == CallKind::Go { "go" } else { "standby" },
        place,
        beyond,
        time: format!("{:.1}", group.at),
        clock: clock(service, group.at),
        words: group.words.clone(),
        answers: group.answers.join(", "),
        what: if group.kind == CallKind::Go { group.labels.iter().filter_map(what).collect() } else { Vec::new() },
        next: group.room.map_or_else(String::new, gap),
        labels: group.labels.iter().map(ToString::to_string).collect(),
        reveal: group.labels.iter().any(|l| l.kind == Kind::Release),
        hurried: match group.room {
            Some(room) if group.is_hurried() => {
                format!(
                    "takes {} to say, and the next call comes {}",
                    gap(group.lasts),
                    if room.micros() < 50_000 { "at once".to_owned() } else { format!("after {}", gap(room)) }
                )
            }
            _ => String::new(),
        },
        marks: marked.filter(|m| !m.mark.is_none()).collect(),
    }
}

/// The four bars before the land and the bar of the land, beat by beat.
fn bars(prepared: &Prepared, label: Label, land: SongTime) -> Vec<Bar> {
    let (grid, said) = (prepared.grid(), prepared.call_groups());
    let end = grid.place_of(grid.tick_at(land));
    let mut events: Vec<(SongTime, String)> = Vec::new();
    // Every call in these bars is shown, because whoever counts them makes the other calls too.
    for group in said {
        let own = group.labels.contains(&label);
        let word = if group.kind == CallKind::Standby && own {
            "standby".to_owned()
        } else {
            format!("“{}”", group.words)
        };
        events.push((group.at, word));
    }
    if let Some(row) = prepared.row(label)
        && !said.iter().any(|b| b.at == row.send && b.labels.contains(&label))
    {
        events.push((row.send, "sent".to_owned()));
    }
    if let Some(fall) = prepared.stage().falling.iter().find(|f| f.by == label) {
        events.push((fall.let_go, "let go".to_owned()));
        events.push((fall.sightline(), "passes the sightline".to_owned()));
        events.push((fall.floor(), "on the floor".to_owned()));
    }
    // At the same instant, the land comes first.
    events.push((land, "LAND".to_owned()));
    events.sort_by_key(|(at, word)| (*at, word != "LAND"));
    let start_of = |bar: i32, beat: u16| grid.tick_of(BarBeat { bar, beat, tick: 0 });
    (end.bar - 4..=end.bar)
        .map(|bar| {
            let count = grid.beats_in(bar);
            let beats = (1..=count).map(|beat| {
                let from = start_of(bar, beat);
                let until: Tick = if beat < count { start_of(bar, beat + 1) } else { grid.bar_tick(bar + 1) };
                let (from, until) = (grid.time_at(from), grid.time_at(until));
                // As in the rows: an event up to a twentieth of a second before a beat counts as on it.
                let slack = SongSpan::from_millis(50);
                let within = |at: SongTime| (from..until).contains(&(at + slack));
                let to_land = (from - land).secs_f64();
                Beat {
                    number: beat,
                    to_land: if to_land.abs() < 0.05 { "0".to_owned() } else { format!("{to_land:+.1}") },
                    events: events
                        .iter()
                        .filter(|(at, _)| within(*at))
                        .map(|(at, word)| {
                            let later = (*at - from).secs_f64();
                            if later < 0.05 { word.clone() } else { format!("{word}\u{a0}+{later:.1}\u{a0}s") }
                        })
                        .collect(),
                    strong: within(land),
                }
            });
            Bar { number: bar, beats: beats.collect() }
        })
        .collect()
}

//! One department's sheet: only what its operator needs.

use super::changes::{Mark, Marks};
use super::order::goes_words;
use super::words::{bound, cue_place, gap, go_place, seconds, song_clock};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{calls_by_cue, describe, message_words};
use letfall_core::show::{Action, Carries, Cue, FadeShare, Kind, Show};
use letfall_core::time::SongSpan;
use serde::Serialize;
use std::collections::BTreeSet;

/// A department's sheet.
#[derive(Serialize)]
pub struct Department {
    /// Who it is for.
    who: Vec<String>,
    rows: Vec<Line>,
}

#[derive(Serialize)]
struct Line {
    label: String,
    kind: &'static str,
    place: String,
    beyond: String,
    time: String,
    what: String,
    /// What the operator looks for: preset, layer, output, with figures.
    details: Vec<String>,
    /// The message, and when it leaves.
    message: String,
    sent: String,
    standby: String,
    go: String,
    go_at: String,
    note: String,
    next: String,
    resting: bool,
    /// What sets it off, if nobody calls it.
    goes: String,
    /// Its number at the operator's desk.
    desk: String,
    mark: Mark,
}

/// Works out a department's sheet.
pub fn department(prepared: &Prepared, marks: &Marks, kind: Kind) -> Department {
    let (show, service, grid) = (prepared.show(), prepared.service(), prepared.grid());
    let spoken = calls_by_cue(prepared.call_groups());
    let rows: Vec<_> = prepared.schedule().by_land().into_iter().filter(|r| r.label.kind == kind).collect();
    let mut who = BTreeSet::new();
    let lines = rows.iter().enumerate().map(|(at, row)| {
        let cue = &service.cues.as_slice()[row.cue as usize];
        if let Some(receiver) = row.receiver.map(|at| &show.receivers[at as usize]) {
            who.insert(if receiver.answers.is_empty() { receiver.name.clone() } else { receiver.answers.clone() });
        }
        let (place, beyond) = cue_place(cue, grid);
        let said = spoken.get(&row.label).copied().unwrap_or_default();
        Line {
            label: row.label.to_string(),
            kind: kind.name(),
            place,
            beyond,
            time: song_clock(row.land),
            what: what(show, cue),
            details: details(show, cue),
            message: match show.message_of(&cue.does) {
                _ if !row.goes.by_machine() => "pressed at the desk: Letfall sends nothing".to_owned(),
                None => "no message".to_owned(),
                Some(message) => message_words(message),
            },
            sent: if row.goes.by_machine() { format!("{:.3}", row.send) } else { String::new() },
            standby: said.standby.map_or_else(String::new, |b| b.words.clone()),
            go: said.go.map_or_else(String::new, |b| b.words.clone()),
            go_at: said.go.map_or_else(String::new, |b| go_place(grid, b.at)),
            note: cue.note.clone(),
            next: rows.get(at + 1).map_or_else(String::new, |next| gap(next.land - row.land)),
            resting: cue.resting,
            goes: goes_words(show, cue),
            desk: show.desk_number(cue).to_owned(),
            mark: marks.of(row.label),
        }
    });
    let rows = lines.collect();
    Department { who: who.into_iter().collect(), rows }
}

/// The cue's own words, or the name of the preset it recalls, because the figures are printed below.
fn what(show: &Show, cue: &Cue) -> String {
    match &cue.does {
        Action::Lighting { preset, .. } if cue.text.trim().is_empty() => {
            show.preset(preset).map_or_else(|| preset.to_string(), |p| p.name.clone())
        }
        _ => bound(&describe(show, cue)),
    }
}

/// What the operator looks for, without what the line above already says.
fn details(show: &Show, cue: &Cue) -> Vec<String> {
    let mut out = Vec::new();
    let named = !cue.text.trim().is_empty();
    match &cue.does {
        Action::Media { item } => {
            let Some(item) = show.media_item(item) else { return out };
            if named {
                out.push(item.name.clone());
            }
            out.push(format!("layer {}", item.layer));
            if item.length > SongSpan::ZERO {
                out.push(format!("plays {}", seconds(item.length)));
            }
            if item.pre_roll > SongSpan::ZERO {
                out.push(format!("{} of pre-roll", seconds(item.pre_roll)));
            }
        }
        Action::Lighting { preset, fade, share } => {
            let Some(preset) = show.preset(preset) else { return out };
            if named {
                out.push(preset.name.clone());
            }
            out.push(format!("level {}\u{a0}%", preset.level));
            let fade = fade.unwrap_or(preset.fade);
            out.push(if fade == SongSpan::ZERO {
                "at once".to_owned()
            } else {
                let share = match share {
                    FadeShare::Start => "starts on the beat",
                    FadeShare::Half => "half way on the beat",
                    FadeShare::Done => "done on the beat",
                };
                format!("fade {}, {share}", seconds(fade))
            });
        }
        Action::Output { route } => {
            let Some(route) = show.route(route) else { return out };
            let output = show.output(&route.output);
            if named {
                out.push(output.map_or_else(|| route.output.to_string(), |o| o.name.clone()));
            }
            out.push(match &route.carries {
                Carries::Blank {} => "blank: no light".to_owned(),
                Carries::Still {} => format!("{}: a still", route.name),
                Carries::Layer(layer) => format!("{}: media layer {layer}", route.name),
            });
            if let Some(switch) = output.map(|o| o.switch).filter(|s| *s > SongSpan::ZERO) {
                out.push(format!("switches in {}", seconds(switch)));
            }
        }
        Action::Release { .. } => {}
    }
    out
}

//! What the selected cues do, on which track, and whether they are called; chosen from the rig's entries.

use super::cue_field::with_call;
use super::shown::{DIFFERS, FIELD, Shown};
use crate::document::Document;
use crate::request::Requests;
use egui::Ui;
use letfall_core::edit;
use letfall_core::schedule::release_land_words;
use letfall_core::show::{Action, FadeShare, Goes, Instant, Kind, TrackKey};

/// Lets the user choose what the cues do from the rig's entries.
pub fn show(ui: &mut Ui, document: &Document, shown: &Shown, requests: &mut Requests) {
    let Some(kind) = shown.kind else {
        ui.label("Several kinds are selected.");
        return;
    };
    let current = shown.does.clone();
    let show = &document.show;
    let choices: Vec<(Action, String)> = match kind {
        Kind::Media => show.media.iter().map(|m| (Action::Media { item: m.key.clone() }, m.name.clone())).collect(),
        Kind::Lighting => show
            .presets
            .iter()
            .map(|p| (Action::Lighting { preset: p.key.clone(), fade: None, share: FadeShare::Start }, p.name.clone()))
            .collect(),
        Kind::Release => show
            .releases
            .iter()
            .flat_map(|r| {
                [Instant::LetGo, Instant::Sightline, Instant::Floor].map(|lands| {
                    (
                        Action::Release { release: r.key.clone(), lands },
                        format!("{}: {}", r.name, release_land_words(lands)),
                    )
                })
            })
            .collect(),
        Kind::Output => show
            .routes
            .iter()
            .map(|r| {
                let output = show.output(&r.output).map_or(r.output.as_str(), |o| o.name.as_str());
                (Action::Output { route: r.key.clone() }, format!("{output}: {}", r.name))
            })
            .collect(),
    };
    let words = current.as_ref().map_or_else(
        || DIFFERS.to_owned(),
        |c| {
            choices
                .iter()
                .find(|(a, _)| alike(a, c))
                .map_or_else(|| "not in the rig".to_owned(), |(_, words)| words.clone())
        },
    );
    let mut picked = None;
    ui.horizontal(|ui| {
        let label = ui.label("Does");
        let response =
            egui::ComboBox::from_id_salt("does").selected_text(words).width(FIELD).truncate().show_ui(ui, |ui| {
                for (action, words) in &choices {
                    let chosen = current.as_ref().is_some_and(|c| alike(action, c));
                    if ui.selectable_label(chosen, words).clicked() {
                        picked = Some(action.clone());
                    }
                }
            });
        response.response.labelled_by(label.id);
    });
    let (mut to, mut called) = (None, None);
    ui.horizontal(|ui| {
        let label = ui.label("Track");
        let tracks: Vec<_> = show.tracks.iter().filter(|t| t.kind == kind).collect();
        let name = |key: &TrackKey| show.track(key).map_or("no such track", |t| t.name.as_str());
        let words = shown.track.as_ref().map_or(DIFFERS, name);
        let combo = egui::ComboBox::from_id_salt("track").selected_text(words).width(110.0).truncate();
        let response = combo.show_ui(ui, |ui| {
            for track in tracks {
                if ui.selectable_label(shown.track.as_ref() == Some(&track.key), &track.name).clicked() {
                    to = Some(track.key.clone());
                }
            }
        });
        response.response.labelled_by(label.id);
        let label = ui.label("Goes");
        let ways = ways(document, shown, kind);
        let words = shown.called.and_then(|now| ways.iter().find(|w| w.0 == now)).map_or(DIFFERS, |w| w.1.as_str());
        let combo = egui::ComboBox::from_id_salt("goes").selected_text(words).width(116.0).truncate();
        let response = combo.show_ui(ui, |ui| {
            for (way, words) in &ways {
                if ui.selectable_label(shown.called == Some(*way), words).clicked() {
                    called = Some(*way);
                }
            }
        });
        response.response.labelled_by(label.id);
    });
    if let Some(track) = to {
        requests.with_selected(document, "Move {} to another track", |show, service, labels| {
            edit::to_track(show, service, labels, &track)
        });
        return;
    }
    if let Some(way) = called {
        requests.with_selected(document, "Call {}", |show, service, labels| {
            edit::change(show, service, labels, |cue| {
                with_call(cue, |call| (call.goes, call.called, call.watched) = way);
            })
        });
        return;
    }
    let mut share = current.as_ref().and_then(|c| match c {
        Action::Lighting { share, .. } => Some(*share),
        _ => None,
    });
    if let Some(now) = share.as_mut() {
        let before = *now;
        ui.horizontal_wrapped(|ui| {
            ui.label("Fade on the beat");
            ui.radio_value(now, FadeShare::Start, "starts");
            ui.radio_value(now, FadeShare::Half, "half way");
            ui.radio_value(now, FadeShare::Done, "done");
        });
        if *now != before {
            let now = *now;
            requests.with_selected(document, "Fade of {}", |show, service, labels| {
                edit::change(show, service, labels, |cue| {
                    if let Action::Lighting { share, .. } = &mut cue.does {
                        *share = now;
                    }
                })
            });
            return;
        }
    }
    let mut resting = shown.resting;
    if ui.checkbox(&mut resting, "Resting: planned but not sent").changed() {
        requests.with_selected(document, if resting { "Rest {}" } else { "Wake {}" }, |show, service, labels| {
            edit::change(show, service, labels, |cue| cue.resting = resting)
        });
        return;
    }
    if let Some(action) = picked {
        requests.with_selected(document, "Change what {} does", |show, service, labels| {
            edit::change(show, service, labels, |cue| replace(&mut cue.does, &action))
        });
    }
}

/// What sets a cue off, whether it is called, and whether it is watched.
type Way = (Option<Goes>, Option<bool>, bool);

/// The ways in which the selected cues can go, with their words.
fn ways(document: &Document, shown: &Shown, kind: Kind) -> Vec<(Way, String)> {
    let mut ways: Vec<(Way, String)> = vec![((None, None, false), "as its track".to_owned())];
    if kind == Kind::Release {
        ways.push(((None, Some(true), false), "armed, called".to_owned()));
        ways.push(((None, Some(false), false), "armed, not called".to_owned()));
        return ways;
    }
    ways.push(((Some(Goes::Operator), None, false), "operator, on the word".to_owned()));
    ways.push(((Some(Goes::Machine), None, true), "machine, watched".to_owned()));
    ways.push(((Some(Goes::Machine), Some(false), false), "machine".to_owned()));
    // The ways of older shows, if these cues have one.
    for (way, words) in [
        ((None, Some(true), false), "as its track, watched"),
        ((None, Some(false), false), "as its track, not watched"),
        ((None, Some(false), true), "machine, watched"),
    ] {
        if shown.called == Some(way) {
            ways.push((way, words.to_owned()));
        }
    }
    // After any of the cues that land before, the nearest first.
    let Some(first) = shown.labels.first().and_then(|label| document.plan().ok()?.row(*label).map(|row| row.land))
    else {
        return ways;
    };
    let Ok(plan) = document.plan() else { return ways };
    let mut before: Vec<_> =
        plan.schedule().rows.iter().filter(|row| row.land <= first && !shown.labels.contains(&row.label)).collect();
    before.sort_by_key(|row| (std::cmp::Reverse(row.land), row.label));
    let near = before.into_iter().take(12).map(|row| row.label);
    let now = shown.called.and_then(|way| match way.0 {
        Some(Goes::After(label)) => Some(label),
        _ => None,
    });
    let mut labels: Vec<_> = near.collect();
    labels.extend(now.filter(|label| !labels.contains(label)));
    ways.extend(labels.into_iter().map(|label| ((Some(Goes::After(label)), None, false), format!("after {label}"))));
    ways
}

/// Replaces what a cue does, but keeps the cue's own settings.
fn replace(does: &mut Action, new: &Action) {
    match (does, new) {
        (Action::Lighting { preset, .. }, Action::Lighting { preset: to, .. }) => preset.clone_from(to),
        (does, new) => does.clone_from(new),
    }
}

fn alike(a: &Action, b: &Action) -> bool {
    match (a, b) {
        (Action::Lighting { preset: a, .. }, Action::Lighting { preset: b, .. }) => a == b,
        _ => a == b,
    }
}

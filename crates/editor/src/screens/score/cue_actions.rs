//! What the selected cues do, on which track, and whether they are called; chosen from the rig's entries.

use super::cue_field::with_call;
use super::shown::{DIFFERS, FIELD, Shown};
use crate::document::Document;
use crate::request::Requests;
use egui::Ui;
use letfall_core::edit;
use letfall_core::show::{Action, FadeShare, Goes, Kind, TrackKey};

/// Lets the user choose what the cues do from the rig's entries.
pub fn show(ui: &mut Ui, document: &Document, shown: &Shown, requests: &mut Requests) {
    let Some(kind) = shown.kind else {
        ui.label("Several kinds are selected.");
        return;
    };
    let current = shown.does.clone();
    let show = &document.show;
    let choices = edit::choices(show, kind);
    let words = current.as_ref().map_or_else(
        || DIFFERS.to_owned(),
        |c| {
            let found = choices.iter().find(|choice| choice.is(c));
            found.map_or_else(|| "not in the rig".to_owned(), |choice| choice.name.clone())
        },
    );
    let mut picked = None;
    ui.horizontal(|ui| {
        let label = ui.label("Does");
        let response =
            egui::ComboBox::from_id_salt("does").selected_text(words).width(FIELD).truncate().show_ui(ui, |ui| {
                for choice in &choices {
                    let chosen = current.as_ref().is_some_and(|c| choice.is(c));
                    if ui.selectable_label(chosen, &choice.name).clicked() {
                        picked = Some(choice.does.clone());
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
        let words = shown.called.map_or_else(|| DIFFERS.to_owned(), |way| way_words(kind, way));
        let combo = egui::ComboBox::from_id_salt("goes").selected_text(words).width(116.0).truncate();
        let response = combo.show_ui(ui, |ui| {
            for way in ways(document, shown, kind) {
                if ui.selectable_label(shown.called == Some(way), way_words(kind, way)).clicked() {
                    called = Some(way);
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

/// A way in words.
fn way_words(kind: Kind, way: Way) -> String {
    let words = match way {
        (None, None, false) => "as its track",
        (_, Some(true), _) if kind == Kind::Release => "armed, called",
        (_, Some(false), _) if kind == Kind::Release => "armed, not called",
        (Some(Goes::Operator), ..) => "operator, on the word",
        (Some(Goes::After(first)), ..) => return format!("after {first}"),
        (_, _, true) | (Some(Goes::Machine), Some(true), _) => "machine, watched",
        (Some(Goes::Machine), ..) => "machine",
        (None, Some(true), _) => "as its track, watched",
        (None, Some(false), _) => "as its track, not watched",
    };
    words.to_owned()
}

/// The ways in which the selected cues can go. Only the open list asks for them, because they are looked for among all cues.
fn ways(document: &Document, shown: &Shown, kind: Kind) -> Vec<Way> {
    let usual = (None, None, false);
    let mut ways: Vec<Way> = if kind == Kind::Release {
        vec![usual, (None, Some(true), false), (None, Some(false), false)]
    } else {
        let machine = Some(Goes::Machine);
        vec![usual, (Some(Goes::Operator), None, false), (machine, None, true), (machine, Some(false), false)]
    };
    if kind != Kind::Release
        && let Ok(plan) = document.plan()
        && let Some(land) = shown.labels.first().and_then(|label| plan.row(*label)).map(|row| row.land)
    {
        // After any of the cues that land before, the nearest first.
        let rows = plan.schedule().rows.iter();
        let mut before: Vec<_> = rows.filter(|row| row.land <= land && !shown.labels.contains(&row.label)).collect();
        before.sort_by_key(|row| (std::cmp::Reverse(row.land), row.label));
        ways.extend(before.into_iter().take(12).map(|row| (Some(Goes::After(row.label)), None, false)));
    }
    // What they do now, be it an older show's way or after a cue farther away.
    ways.extend(shown.called.filter(|now| !ways.contains(now)));
    ways
}

/// Replaces what a cue does, but keeps the cue's own settings.
fn replace(does: &mut Action, new: &Action) {
    match (does, new) {
        (Action::Lighting { preset, .. }, Action::Lighting { preset: to, .. }) => preset.clone_from(to),
        (does, new) => does.clone_from(new),
    }
}

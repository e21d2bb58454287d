//! The pre-show checklist, made from what the service uses.

use letfall_core::prepared::Prepared;
use letfall_core::schedule::message_words;
use letfall_core::show::{Action, Carries, Kind, ReceiverKey, ReleaseKind};
use serde::Serialize;
use std::collections::BTreeSet;

/// Lines that belong together.
#[derive(Serialize)]
pub struct Group {
    name: &'static str,
    rows: Vec<Line>,
}

#[derive(Serialize)]
struct Line {
    what: String,
    who: String,
}

/// Works out the checklist.
pub fn checklist(prepared: &Prepared) -> Vec<Group> {
    let (show, service, schedule) = (prepared.show(), prepared.service(), prepared.schedule());
    let cues: Vec<_> = service.cues.iter().filter(|c| !c.resting).collect();
    let used: BTreeSet<u32> = schedule.rows.iter().filter_map(|r| r.receiver).collect();
    let receivers: Vec<_> = used.iter().map(|at| &show.receivers[*at as usize]).collect();
    let who = |key: &ReceiverKey| {
        show.receiver(key)
            .map_or_else(String::new, |r| if r.answers.is_empty() { r.name.clone() } else { r.answers.clone() })
    };
    let routes: Vec<_> = show
        .routes
        .iter()
        .filter(|r| {
            let starts = show.outputs.iter().any(|o| o.starts_with == r.key);
            starts || cues.iter().any(|c| matches!(&c.does, Action::Output { route } if *route == r.key))
        })
        .collect();
    let outputs: Vec<_> = show.outputs.iter().filter(|o| routes.iter().any(|r| r.output == o.key)).collect();
    let media: Vec<_> = show
        .media
        .iter()
        .filter(|m| cues.iter().any(|c| matches!(&c.does, Action::Media { item } if *item == m.key)))
        .collect();
    let presets: Vec<_> = show
        .presets
        .iter()
        .filter(|p| cues.iter().any(|c| matches!(&c.does, Action::Lighting { preset, .. } if *preset == p.key)))
        .collect();
    let releases: Vec<_> = show
        .releases
        .iter()
        .filter(|r| cues.iter().any(|c| matches!(&c.does, Action::Release { release, .. } if *release == r.key)))
        .collect();
    let ports: BTreeSet<String> = receivers.iter().filter_map(|r| show.port(&r.port)).map(|p| p.name.clone()).collect();
    let line = |what: String, who: String| Line { what, who };
    let mut groups = Vec::new();
    groups.push(Group {
        name: "Clock and paper",
        rows: vec![
            line("Stage manager's clock set by the wall clock that everybody can see".into(), "stage manager".into()),
            line("This version of the sheets in every hand, older ones gathered in".into(), "stage manager".into()),
            line(
                "The service and song loaded on the playback machine are this one; its beginning heard".into(),
                String::new(),
            ),
        ],
    });
    groups.push(Group {
        name: "House",
        rows: vec![
            line("Headsets tried on every channel, counted, spare batteries there".into(), "stage manager".into()),
            line("Exits free and lit; exits and extinguishers not covered by fabric or cable".into(), String::new()),
            line(
                "Working light switched on once and off again; who reaches its switch in the dark is known".into(),
                String::new(),
            ),
            line("Show-stop card in every hand, assembly point known".into(), "stage manager".into()),
        ],
    });
    let mut rows: Vec<Line> =
        ports.into_iter().map(|p| line(format!("{p}: cable in, labelled, strain taken off"), String::new())).collect();
    for receiver in &receivers {
        let own = who(&receiver.key);
        let spare = if releases.iter().any(|r| r.receiver == receiver.key) {
            ", with the stand-in, not the release"
        } else {
            ""
        };
        rows.push(line(format!("{}: message received{spare}", receiver.name), own.clone()));
        // A box that only closes contacts has no screen to sleep.
        let only_releases = show.releases.iter().any(|r| r.receiver == receiver.key)
            && !show.media.iter().any(|m| m.receiver == receiver.key)
            && !show.presets.iter().any(|p| p.receiver == receiver.key)
            && !show.routes.iter().any(|r| r.receiver == receiver.key);
        if !only_releases {
            rows.push(line(format!("{}: sleep, screen-saver and updates off", receiver.name), own.clone()));
        }
        rows.push(line(format!("{}: spare or way round ready, and known to its operator", receiver.name), own));
    }
    groups.push(Group { name: "Receivers", rows });
    let mut rows = Vec::new();
    for output in &outputs {
        let start = show.route(&output.starts_with).map_or_else(|| output.starts_with.to_string(), |r| r.name.clone());
        let own = show.route(&output.starts_with).map_or_else(String::new, |r| who(&r.receiver));
        rows.push(line(format!("{}: in focus, in shape, starts with “{start}”", output.name), own));
    }
    for route in &routes {
        let output = show.output(&route.output).map_or(route.output.as_str(), |o| o.name.as_str());
        let seen = if matches!(route.carries, Carries::Blank {}) { "dark seen" } else { "picture seen" };
        rows.push(line(
            format!("{output}, “{}” ({}): {seen}", route.name, message_words(&route.message)),
            who(&route.receiver),
        ));
    }
    groups.push(Group { name: "Outputs and routes", rows });
    let mut rows: Vec<Line> = media
        .iter()
        .map(|m| line(format!("{}: there, starts, right picture on layer {}", m.name, m.layer), who(&m.receiver)))
        .collect();
    rows.extend(presets.iter().map(|p| {
        line(format!("Preset “{}” ({}): seen on stage", p.name, message_words(&p.message)), who(&p.receiver))
    }));
    groups.push(Group { name: "Media and presets", rows });
    if service.cues.iter().any(|c| c.label.kind == Kind::Release && !c.resting) {
        let arm = show.safety.arm_holder.clone();
        let competent = show.safety.competent.clone();
        let mut rows = Vec::new();
        let spotter = show.safety.spotter.clone();
        rows.push(line(
            "Key switch of the person who sees the drop zone: springs back when let go of, key with that person, off"
                .into(),
            spotter.clone(),
        ));
        for release in releases {
            let keeps = match release.kind {
                ReleaseKind::Deenergise => {
                    "pressed and let go of, the fabric stays up; it is not in series with the contact"
                }
                ReleaseKind::Energise | ReleaseKind::Unknown => "let go of, the stand-in's contact does nothing",
            };
            rows.push(line(format!("{}: with the key switch {keeps}", release.name), spotter.clone()));
            rows.push(line(
                format!("{}: contact opens again by itself when the cable to this machine is pulled", release.name),
                who(&release.receiver),
            ));
            rows.push(line(
                format!("{}: {} units counted shut and closed by hand", release.name, release.units),
                competent.clone(),
            ));
            rows.push(line(format!("{}: arm off, key or switch with its holder", release.name), arm.clone()));
            if let Some(stand_in) = &release.stand_in {
                rows.push(line(
                    format!("{}: stand-in ({}) seen at the box", release.name, message_words(stand_in)),
                    who(&release.receiver),
                ));
            }
        }
        rows.push(line("Rig looked at by the person competent for it, today, after the last change".into(), competent));
        rows.push(line("Drop zone marked and known to everybody who goes on stage".into(), String::new()));
        rows.push(line(
            "Retaining ties off and counted back, as many as went on".into(),
            show.safety.competent.clone(),
        ));
        rows.push(line("Floor of the zone swept of snags; tape seen".into(), String::new()));
        rows.push(line("Clear signal tried: given, seen, answered".into(), String::new()));
        rows.push(line("Stop words known to everybody with a headset".into(), "stage manager".into()));
        rows.push(line("Plan for a stuck fabric walked through, by everybody in it".into(), "stage manager".into()));
        groups.push(Group { name: "Release", rows });
    }
    groups.retain(|g| !g.rows.is_empty());
    // What can hurt people comes first.
    groups.sort_by_key(|g| g.name != "Release");
    groups
}

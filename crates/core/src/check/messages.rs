//! Messages: can they be encoded, told apart, handled by the receiver and carried by the port?

use super::context::Checks;
use super::problem::Code;
use crate::schedule::Fault;
use crate::show::{Action, Kind, Label};
use crate::time::SongTime;
use std::collections::HashMap;

pub(super) fn run(checks: &mut Checks<'_>) {
    faults(checks);
    same_message(checks);
    gaps(checks);
    waits(checks);
}

fn faults(checks: &mut Checks<'_>) {
    for row in &checks.schedule.rows {
        let cue = &checks.service.cues.as_slice()[row.cue as usize];
        if checks.show.track(&cue.track).is_none() {
            let what = format!("{} is on track \"{}\", which is not there", row.label, cue.track);
            checks.find(Code::TrackMissing, &[row.label], what, "move it to a track of its kind");
        }
        let Some(fault) = row.fault else { continue };
        let (name, code) = match &cue.does {
            Action::Media { item } => (item.as_str(), Code::MediaMissing),
            Action::Lighting { preset, .. } => (preset.as_str(), Code::PresetMissing),
            Action::Release { release, .. } => (release.as_str(), Code::ReleaseMissing),
            Action::Output { route } => (route.as_str(), Code::RouteMissing),
        };
        match fault {
            Fault::Missing(kind) => {
                let thing = match kind {
                    Kind::Lighting => "preset",
                    Kind::Media => "media item",
                    Kind::Output => "route",
                    Kind::Release => "release",
                };
                let what = format!("{} needs the {thing} \"{name}\", which is not there", row.label);
                checks.find(code, &[row.label], what, format!("choose another {thing} or add it to the rig"));
            }
            Fault::NoReceiver | Fault::NoPort => {
                let thing = if fault == Fault::NoPort { "port of the receiver" } else { "receiver" };
                let what = format!("{} cannot be sent, because the {thing} of \"{name}\" is not there", row.label);
                checks.find(Code::ReceiverMissing, &[row.label], what, "add it to the rig or choose another");
            }
            Fault::Message(why) => {
                let what = format!("{} cannot be sent: {why}", row.label);
                checks.find(Code::MessageUnsendable, &[row.label], what, "mend it in the rig");
            }
        }
    }
    for output in &checks.show.outputs {
        if checks.show.route(&output.starts_with).is_none() {
            let what =
                format!("output \"{}\" starts with route \"{}\", which is not there", output.name, output.starts_with);
            checks.find(Code::RouteMissing, &[], what, "choose the route it shows when the song starts");
        }
    }
}

/// Finds one message used for two different actions: the device cannot tell them apart.
fn same_message(checks: &mut Checks<'_>) {
    let mut first: HashMap<(u32, &[u8]), (&Action, Label, bool)> = HashMap::new();
    let mut found = Vec::new();
    for row in &checks.schedule.rows {
        let (Some(port), Some(wire)) = (row.port, checks.schedule.wire(row)) else { continue };
        let does = &checks.service.cues.as_slice()[row.cue as usize].does;
        let entry = first.entry((port, &wire.on)).or_insert((does, row.label, false));
        // Two releases fired by one message are reported by the rig's checks, whichever service they are in.
        let releases = matches!((entry.0, does), (Action::Release { .. }, Action::Release { .. }));
        if !entry.2 && !releases && !same_action(entry.0, does) {
            entry.2 = true;
            found.push((entry.1, row.label));
        }
    }
    for (one, other) in found {
        let what = format!("{one} and {other} do different things and send the same message on the same port");
        checks.find(Code::MessageSame, &[one, other], what, "give one of them a message of its own");
    }
}

fn same_action(a: &Action, b: &Action) -> bool {
    match (a, b) {
        // The message does not carry the fade, so the same preset is the same recall.
        (Action::Lighting { preset: a, .. }, Action::Lighting { preset: b, .. }) => a == b,
        (a, b) => a == b,
    }
}

fn gaps(checks: &mut Checks<'_>) {
    let mut last: Vec<Option<(SongTime, Label)>> = vec![None; checks.show.receivers.len()];
    for row in &checks.schedule.rows {
        let (Some(at), Some(_)) = (row.receiver, row.wire) else { continue };
        let receiver = &checks.show.receivers[at as usize];
        if let Some((before, label)) = last[at as usize].replace((row.send, row.label))
            && row.send - before < receiver.gap
        {
            let what = format!(
                "{} is asked twice {}, by {label} and {} at {}, and takes one message every {}",
                receiver.name,
                if row.send == before { "at once".to_owned() } else { format!("within {}", row.send - before) },
                row.label,
                checks.place(row.send),
                receiver.gap
            );
            checks.find(Code::ReceiverGap, &[label, row.label], what, "move one of them");
        }
    }
}

fn waits(checks: &mut Checks<'_>) {
    let tolerance = checks.show.settings.late;
    for row in checks.schedule.rows.iter().filter(|row| row.waits > tolerance) {
        let port = row.port.map_or("its port", |at| checks.show.ports[at as usize].name.as_str());
        let what = format!(
            "{} waits {} for {port} at {}, more than {tolerance}",
            row.label,
            row.waits,
            checks.place(row.send)
        );
        checks.find(Code::PortLate, &[row.label], what, "spread the cues there, or give one receiver another port");
    }
}

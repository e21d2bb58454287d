//! Every message by device, and what to enter at each desk.

use super::words::seconds;
use letfall_core::prepared::Prepared;
use letfall_core::schedule::message_words;
use letfall_core::show::{Action, Carries, Message, Receiver, ReceiverKey};
use letfall_core::time::SongSpan;
use serde::Serialize;

/// One device.
#[derive(Serialize)]
pub struct Device {
    name: String,
    port: String,
    /// Its channel or device number, in words.
    address: String,
    answers: String,
    delay: String,
    rows: Vec<Line>,
}

/// One message.
#[derive(Serialize)]
struct Line {
    /// Its number at the desk.
    desk: String,
    what: String,
    does: String,
    message: String,
    /// The cues of the service that use it.
    cues: String,
}

fn address(receiver: &Receiver) -> String {
    let channel = receiver.channel.map(|channel| format!("channel {}", channel.get()));
    let device = receiver.device.map(|device| format!("device {}", device.get()));
    let both: Vec<String> = channel.into_iter().chain(device).collect();
    if both.is_empty() { "no channel or device number said".to_owned() } else { both.join(", ") }
}

/// Works out the patch.
pub fn patch(prepared: &Prepared) -> Vec<Device> {
    let (show, service) = (prepared.show(), prepared.service());
    let cues = |uses: &dyn Fn(&Action) -> bool| {
        let labels = service
            .cues
            .iter()
            .filter(|cue| uses(&cue.does))
            .map(|cue| if cue.resting { format!("{} (resting)", cue.label) } else { cue.label.to_string() });
        labels.collect::<Vec<_>>().join(", ")
    };
    let line = |desk: &str, what: String, does: String, message: &Message, cues: String| Line {
        desk: desk.trim().to_owned(),
        what,
        does,
        message: message_words(message),
        cues,
    };
    let of = |own: &ReceiverKey| {
        let mut rows = Vec::new();
        for preset in show.presets.iter().filter(|preset| preset.receiver == *own) {
            let uses = |does: &Action| matches!(does, Action::Lighting { preset: key, .. } if *key == preset.key);
            let does = format!("fade {}, level {}\u{a0}%", seconds(preset.fade), preset.level);
            rows.push(line(&preset.desk, preset.name.clone(), does, &preset.message, cues(&uses)));
        }
        for item in show.media.iter().filter(|item| item.receiver == *own) {
            let uses = |does: &Action| matches!(does, Action::Media { item: key } if *key == item.key);
            let plays = if item.length == SongSpan::ZERO {
                "stays".to_owned()
            } else {
                format!("plays {}", seconds(item.length))
            };
            let does = format!("layer {}, pre-roll {}, {plays}", item.layer, seconds(item.pre_roll));
            rows.push(line(&item.desk, item.name.clone(), does, &item.message, cues(&uses)));
        }
        for route in show.routes.iter().filter(|route| route.receiver == *own) {
            let uses = |does: &Action| matches!(does, Action::Output { route: key } if *key == route.key);
            let output = show.output(&route.output).map_or(route.output.as_str(), |output| output.name.as_str());
            let does = match &route.carries {
                Carries::Layer(layer) => format!("carries media layer {layer}"),
                Carries::Still {} => "carries a still".to_owned(),
                Carries::Blank {} => "carries nothing: no light".to_owned(),
            };
            rows.push(line(&route.desk, format!("{output}: {}", route.name), does, &route.message, cues(&uses)));
        }
        for release in show.releases.iter().filter(|release| release.receiver == *own) {
            let uses = |does: &Action| matches!(does, Action::Release { release: key, .. } if *key == release.key);
            let does = "RELEASE: closes a contact".to_owned();
            rows.push(line("", release.name.clone(), does, &release.message, cues(&uses)));
            if let Some(stand_in) = &release.stand_in {
                let does = "harmless, in rehearsal only".to_owned();
                rows.push(line("", format!("{}: stand-in", release.name), does, stand_in, String::new()));
            }
        }
        // By the desk's own numbers where they are numbers, so that they can be entered from top to bottom.
        rows.sort_by(|a, b| {
            let number = |line: &Line| line.desk.parse::<f64>().unwrap_or(f64::INFINITY);
            number(a).total_cmp(&number(b))
        });
        rows
    };
    show.receivers
        .iter()
        .map(|receiver| Device {
            name: receiver.name.clone(),
            port: show.port(&receiver.port).map_or_else(|| receiver.port.to_string(), |port| port.name.clone()),
            address: address(receiver),
            answers: receiver.answers.clone(),
            delay: format!("answers {:.0}\u{a0}ms late", receiver.latency.mean.micros() as f64 / 1000.0),
            rows: of(&receiver.key),
        })
        .collect()
}

//! `letfall schedule`

use super::common::{json_line, line, prepared};
use crate::cli;
use crate::output::{Answer, CommandOutput};
use letfall_core::midi::EncodedMessage;
use letfall_core::schedule::{certainty, describe, place_words};
use serde::Serialize;

#[derive(Serialize)]
struct JsonLine<'a> {
    label: String,
    kind: &'a str,
    place: String,
    send_us: i64,
    land_us: i64,
    lead_us: i64,
    wire_us: i64,
    device_us: i64,
    action_us: i64,
    early_us: i64,
    late_us: i64,
    in_time: f64,
    waits_us: i64,
    receiver: Option<&'a str>,
    port: Option<&'a str>,
    bytes: Option<String>,
    resting: bool,
    what: String,
}

pub fn run(args: &cli::OfService) -> Answer {
    let plan = prepared(&args.show, args.service.as_deref())?;
    let (show, schedule) = (plan.show(), plan.schedule());
    let mut text = String::new();
    if !args.json {
        line!(text, "{:<8}{:<14}{:>14}{:>14}{:>10}  message", "cue", "bar|beat", "send", "land", "lead");
    }
    for row in &schedule.rows {
        let cue = plan.cue(row);
        let place = place_words(cue, &schedule.grid);
        let bytes = schedule.wire(row).map(EncodedMessage::hex);
        let receiver = row.receiver.map(|at| &show.receivers[at as usize]);
        let what = describe(show, cue);
        if args.json {
            json_line(
                &mut text,
                &JsonLine {
                    label: row.label.to_string(),
                    kind: row.label.kind.name(),
                    place,
                    send_us: row.send.micros(),
                    land_us: row.land.micros(),
                    lead_us: row.lead.total().micros(),
                    wire_us: row.lead.wire.micros(),
                    device_us: row.lead.device.micros(),
                    action_us: row.lead.action.micros(),
                    early_us: row.early.micros(),
                    late_us: row.late.micros(),
                    in_time: certainty(show, cue, row).at_least(),
                    waits_us: row.waits.micros(),
                    receiver: receiver.map(|r| r.key.as_str()),
                    port: row.port.map(|at| show.ports[at as usize].key.as_str()),
                    bytes,
                    resting: cue.resting,
                    what,
                },
            );
            continue;
        }
        let to = receiver.map_or("nobody", |r| r.name.as_str());
        let message = bytes.unwrap_or_else(|| if cue.resting { "resting".into() } else { "cannot be sent".into() });
        line!(
            text,
            "{:<8}{place:<14}{:>14}{:>14}{:>10}  {to}: {message}  {what}",
            row.label.to_string(),
            row.send.to_string(),
            row.land.to_string(),
            row.lead.total().to_string(),
        );
    }
    Ok(CommandOutput::text(text))
}

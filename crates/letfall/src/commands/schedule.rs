//! `letfall schedule`

use super::common::{json_line, line, prepared};
use crate::cli;
use crate::output::{Answer, CommandOutput};
use letfall_core::midi::EncodedMessage;
use letfall_core::schedule::{certainty, describe, place_numbers, place_words};
use letfall_core::show::Goes;
use serde::Serialize;

#[derive(Serialize)]
struct JsonLine<'a> {
    label: String,
    kind: &'a str,
    /// Where it lands: bar, counted beat, ticks of 1/960 quarter after it, and µs after that.
    bar: i32,
    beat: u16,
    ticks: u32,
    nudge_us: i64,
    send_us: i64,
    land_us: i64,
    lead_us: i64,
    wire_us: i64,
    device_us: i64,
    action_us: i64,
    adjust_us: i64,
    /// Time given back because sound takes it to the reference seat. The lead is wire, device, action and adjustment less this.
    sound_us: i64,
    early_us: i64,
    late_us: i64,
    in_time: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    seats: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    seats_in_time: Option<usize>,
    assumed: String,
    waits_us: i64,
    receiver: Option<&'a str>,
    port: Option<&'a str>,
    bytes: Option<String>,
    /// "machine", "operator" or {"after": label}: what sets it off. Letfall sends only what goes by machine.
    goes: Goes,
    desk: &'a str,
    person_us: i64,
    resting: bool,
    what: String,
}

pub fn run(args: &cli::OfService) -> Answer {
    let plan = prepared(&args.show, args.service.as_deref())?;
    let (show, schedule) = (plan.show(), plan.schedule());
    let mut text = String::new();
    if !args.json {
        line!(text, "{:<8}{:<14}{:>14}{:>14}{:>10}  message", "cue", "bar, beat", "send", "land", "lead");
    }
    for row in &schedule.rows {
        let cue = plan.cue(row);
        let bytes = schedule.wire(row).map(EncodedMessage::hex);
        let receiver = row.receiver.map(|at| &show.receivers[at as usize]);
        let what = describe(show, cue);
        if args.json {
            let (place, nudge) = place_numbers(cue, &schedule.grid);
            let sure = certainty(show, cue, row);
            json_line(
                &mut text,
                &JsonLine {
                    label: row.label.to_string(),
                    kind: row.label.kind.name(),
                    bar: place.bar,
                    beat: place.beat,
                    ticks: place.tick,
                    nudge_us: nudge.micros(),
                    send_us: row.send.micros(),
                    land_us: row.land.micros(),
                    lead_us: row.lead.total().micros(),
                    wire_us: row.lead.wire.micros(),
                    device_us: row.lead.device.micros(),
                    action_us: row.lead.action.micros(),
                    adjust_us: row.lead.adjust.micros(),
                    sound_us: row.lead.sound.micros(),
                    early_us: row.early.micros(),
                    late_us: row.late.micros(),
                    in_time: sure.at_least(),
                    seats: plan.seats_in_time(row.label).map(|s| s.seats),
                    seats_in_time: plan.seats_in_time(row.label).map(|s| s.in_time),
                    assumed: sure.assumed,
                    waits_us: row.waits.micros(),
                    receiver: receiver.map(|r| r.key.as_str()),
                    port: row.port.map(|at| show.ports[at as usize].key.as_str()),
                    bytes,
                    goes: row.goes,
                    desk: show.desk_number(cue),
                    person_us: row.lead.person.micros(),
                    resting: cue.resting,
                    what,
                },
            );
            continue;
        }
        let place = place_words(cue, &schedule.grid);
        let to = receiver.map_or("nobody", |r| r.name.as_str());
        let message = bytes.unwrap_or_else(|| match row.goes {
            _ if cue.resting => "resting".into(),
            Goes::Operator => "by hand, on the word at that time".into(),
            Goes::After(first) => format!("by hand or desk, after {first}"),
            Goes::Machine => "cannot be sent".into(),
        });
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

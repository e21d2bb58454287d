//! A service as a table: CSV by RFC 4180.
//!
//! Bar, beat and ticks are separate numbers: ticks are 1/960 of a quarter note after the counted beat, `nudge_us` is on top. The lead is
//! wire, device, action and adjustment less what sound gives back (`sound_us`).
//!
//! Text that a spreadsheet would run as a formula gets an apostrophe in front; numbers and times are left alone.

use crate::rows::guarded;
use letfall_core::midi::EncodedMessage;
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{assumption_words, calls_by_cue, describe, lead_terms, message_words, place_numbers};
use letfall_core::show::Goes;
use std::collections::BTreeMap;

/// The columns, in order. Their names are stable.
pub const COLUMNS: [&str; 37] = [
    "label",
    "kind",
    "track",
    "section",
    "bar",
    "beat",
    "ticks",
    "nudge_us",
    "song_time",
    "wall_clock",
    "send_time",
    "land_us",
    "send_us",
    "lead_us",
    "wire_us",
    "device_us",
    "action_us",
    "adjust_us",
    "sound_us",
    "waits_us",
    "early_us",
    "late_us",
    "assumed",
    "what",
    "receiver",
    "port",
    "message",
    "bytes",
    "standby_time",
    "standby_words",
    "go_words",
    "answers",
    "goes",
    "desk",
    "person_us",
    "resting",
    "note",
];

/// Writes a service's cues in order of landing, with a header line.
pub fn write(plan: &Prepared) -> Vec<u8> {
    let (show, service, schedule) = (plan.show(), plan.service(), plan.schedule());
    let mut to = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let spoken: BTreeMap<_, _> = plan.calls().iter().map(|c| (c.label, c)).collect();
    let said = calls_by_cue(plan.call_groups());
    let grid = &schedule.grid;
    let mut rows: Vec<[String; 37]> = vec![COLUMNS.map(str::to_owned)];
    for row in schedule.by_land() {
        let cue = &service.cues.as_slice()[row.cue as usize];
        let (place, nudge) = place_numbers(cue, grid);
        let tick = grid.tick_at(row.land);
        let section = service.song.section_at(grid.place_of(tick).bar).map_or("", |s| s.name.as_str());
        let receiver = row.receiver.map(|at| &show.receivers[at as usize]);
        let call = spoken.get(&row.label);
        let words = said.get(&row.label).copied().unwrap_or_default();
        let bytes = schedule.wire(row).map_or(String::new(), EncodedMessage::hex);
        rows.push([
            row.label.to_string(),
            row.label.kind.to_string(),
            guarded(show.track(&cue.track).map_or(cue.track.as_str(), |t| &t.name)),
            guarded(section),
            place.bar.to_string(),
            place.beat.to_string(),
            place.tick.to_string(),
            nudge.micros().to_string(),
            row.land.to_string(),
            service.wall(row.land).map_or(String::new(), |w| w.to_string()),
            row.send.to_string(),
            row.land.micros().to_string(),
            row.send.micros().to_string(),
            row.lead.total().micros().to_string(),
            row.lead.wire.micros().to_string(),
            row.lead.device.micros().to_string(),
            row.lead.action.micros().to_string(),
            row.lead.adjust.micros().to_string(),
            row.lead.sound.micros().to_string(),
            row.waits.micros().to_string(),
            row.early.micros().to_string(),
            row.late.micros().to_string(),
            assumption_words(&lead_terms(show, &cue.does)),
            guarded(&describe(show, cue)),
            guarded(receiver.map_or("", |r| &r.name)),
            guarded(row.port.map_or("", |at| &show.ports[at as usize].name)),
            show.message_of(&cue.does).map_or(String::new(), message_words),
            bytes,
            words.standby.map_or(String::new(), |b| b.at.to_string()),
            guarded(words.standby.map_or("", |b| &b.words)),
            guarded(words.go.map_or("", |b| &b.words)),
            guarded(call.map_or("", |c| &c.answers)),
            goes_words(row.goes),
            guarded(show.desk_number(cue)),
            row.lead.person.micros().to_string(),
            if cue.resting { "yes" } else { "" }.to_owned(),
            guarded(&cue.note),
        ]);
    }
    for row in &rows {
        match to.write_record(row) {
            Ok(()) => {}
            Err(why) => unreachable!("writing to memory cannot fail, and every row has as many cells: {why}"),
        }
    }
    to.into_inner().unwrap_or_default()
}

/// What sets a cue off, in one word and a label.
fn goes_words(goes: Goes) -> String {
    match goes {
        Goes::Machine => "machine".to_owned(),
        Goes::Operator => "operator".to_owned(),
        Goes::After(first) => format!("after {first}"),
    }
}

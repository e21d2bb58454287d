//! The release sheet: one page for each release, for the people who hold it, arm it and watch it.

use super::changes::{Mark, Marks};
use super::reveal::{CourseWords, HangUpWords, courses, hang_up, settled_by};
use super::words::{beat_words, cue_place_words, latest_beat, song_clock};
use letfall_core::prepared::Prepared;
use letfall_core::reveal::{USUAL_RATED_C, circuit_figures, weight_figures, worst_case};
use letfall_core::schedule::{Row, SeatsInTime, calls_by_cue, certainty, describe, message_words, release_land_words};
use letfall_core::show::{Action, Instant, Release, ReleaseEnd, ReleaseKind, Show, TimedBy, Units, cautions};
use letfall_core::time::{SongSpan, SongTime};
use serde::Serialize;

/// One release.
#[derive(Serialize)]
pub struct ReleasePage {
    label: String,
    what: String,
    name: String,
    place: String,
    time: String,
    lands: &'static str,
    /// What opens it, and what a loss of power does.
    kind: &'static str,
    on_power_loss: &'static str,
    unknown: bool,
    /// How the key switch belongs to the circuit, and what must never be done to it.
    switch: &'static str,
    never: &'static str,
    /// What opens the contact again.
    ends: String,
    units: u32,
    fired_by: String,
    message: String,
    stand_in: String,
    sent: String,
    lead: Vec<(&'static str, String)>,
    spread: String,
    /// The chance that it lands in time, and what makes up most of the spread.
    chance: String,
    better: String,
    /// Which seats see them when, and in how many it is in time; empty if the room does not say.
    seats: String,
    /// What was assumed because nobody has stated it.
    assumed: String,
    standby: String,
    standby_at: String,
    /// The order to arm, and when it is given.
    arm: String,
    arm_at: String,
    /// Not sent, so nothing is armed.
    resting: bool,
    arm_from: String,
    /// By when it must be armed; after that, messages that presume its fall are on their way.
    settled_by: String,
    arm_until: String,
    hang: Vec<(&'static str, String)>,
    fall: Vec<(&'static str, String)>,
    drops: Vec<Drop>,
    circuit: Vec<(&'static str, String)>,
    hang_up: Option<HangUpWords>,
    /// What is done if the fabric stays, or falls early.
    courses: Vec<CourseWords>,
    mark: Mark,
}

/// A drop that was timed.
#[derive(Serialize)]
struct Drop {
    to: &'static str,
    seconds: String,
    note: String,
    by: &'static str,
    struck: String,
}

/// What opens the contact again, and how much later.
fn end_words(release: &Release) -> String {
    let pulse = format!("{:.2}\u{a0}s", release.pulse.micros() as f64 / 1e6);
    match &release.ends {
        _ if !release.end_is_stated() => "NOT SAID: settle what opens the contact again".to_owned(),
        None | Some(ReleaseEnd::NoteOff {}) => format!("opened again by the note's end after {pulse}"),
        Some(ReleaseEnd::Message(end)) => format!("opened again by {} after {pulse}", message_words(end)),
        Some(ReleaseEnd::OwnTimer {}) => "opened again by the box itself, as was tried".to_owned(),
    }
}

/// Works out a page for each release of the service.
pub fn releases(prepared: &Prepared, marks: &Marks) -> Vec<ReleasePage> {
    let (show, service, grid, stage) = (prepared.show(), prepared.service(), prepared.grid(), prepared.stage());
    let spoken = calls_by_cue(prepared.call_groups());
    let when = |time: SongTime| format!("{}, {}", beat_words(grid, time), song_clock(time));
    let pages = prepared.schedule().by_land().into_iter().filter_map(|row| {
        let cue = &service.cues.as_slice()[row.cue as usize];
        let Action::Release { release, lands } = &cue.does else { return None };
        let release = show.release(release)?;
        let said = spoken.get(&row.label).copied().unwrap_or_default();
        let fall = stage.falling.iter().find(|f| f.by == row.label);
        let (kind, on_power_loss) = match release.kind {
            ReleaseKind::Unknown => ("nobody has said yet: find out before anything is hung", "not known"),
            ReleaseKind::Energise => ("power opens it", "it stays shut"),
            ReleaseKind::Deenergise => ("power holds it shut", "it opens and the fabric falls"),
        };
        let sure = certainty(show, cue, row);
        let ms = |span: SongSpan| format!("{:.0}\u{a0}ms", span.micros() as f64 / 1000.0);
        Some(ReleasePage {
            label: row.label.to_string(),
            what: describe(show, cue),
            name: release.name.clone(),
            place: cue_place_words(cue, grid),
            time: song_clock(row.land),
            lands: release_land_words(*lands),
            kind,
            on_power_loss,
            unknown: release.kind == ReleaseKind::Unknown,
            switch: cautions::switch_for(release.kind),
            never: cautions::never_for(release.kind),
            ends: end_words(release),
            units: release.units,
            fired_by: row.receiver.map_or_else(String::new, |at| show.receivers[at as usize].name.clone()),
            message: message_words(&release.message),
            stand_in: release.stand_in.as_ref().map_or_else(String::new, message_words),
            sent: format!("{:.3}", row.send),
            lead: lead_parts(row),
            assumed: sure.assumed.clone(),
            chance: format!(
                "timing only: by estimate {} of times within {} early to {} late, if it leaves and falls at all",
                sure.chance_words().replace(' ', "\u{a0}"),
                ms(show.settings.early),
                ms(show.settings.late)
            ),
            seats: prepared.seats_in_time(row.label).map_or_else(String::new, SeatsInTime::words),
            better: sure.dominating().map_or_else(String::new, |(term, share)| {
                format!("{:.0}\u{a0}% of the spread is {}; {}", share * 100.0, term.name(), term.remedy())
            }),
            spread: format!("{} early to {} late", ms(row.early), ms(row.late)),
            standby: said.standby.map_or_else(String::new, |b| b.words.clone()),
            standby_at: said.standby.map_or_else(String::new, |b| when(b.at)),
            arm: said.arm.map_or_else(String::new, |b| b.words.clone()),
            arm_at: said.arm.map_or_else(String::new, |b| when(b.at)),
            resting: cue.resting,
            settled_by: prepared
                .decision(row.label)
                .map_or_else(String::new, |decision| latest_beat(grid, decision.at)),
            arm_from: when(release.window(row.send, row.land).0),
            arm_until: when(release.window(row.send, row.land).1),
            hang: hang_figures(show, release),
            fall: fall.map_or_else(Vec::new, |f| {
                [("to the sightline", f.to_sightline), ("to the floor", f.to_floor)]
                    .into_iter()
                    .map(|(to, t)| {
                        let times =
                            format!("{:.2}\u{a0}s, likely {:.2} to {:.2}\u{a0}s", t.expected, t.earliest, t.latest);
                        (to, format!("{times} ({})", t.source()))
                    })
                    .collect()
            }),
            drops: show.hang(&release.hang).map_or_else(Vec::new, |h| {
                let drop = |d: &letfall_core::show::MeasuredDrop| Drop {
                    to: if d.to == Instant::Floor { "floor" } else { "sightline" },
                    seconds: format!("{:.2}", d.seconds),
                    note: d.note.clone(),
                    by: d.by.map_or("not said how", TimedBy::name),
                    struck: d.struck.trim().to_owned(),
                };
                h.measured.iter().map(drop).collect()
            }),
            circuit: circuit(release, show.settings.units),
            hang_up: hang_up(show, release),
            courses: courses(prepared, row.label, release, &settled_by(prepared, row.label)),
            mark: marks.of(row.label),
        })
    });
    pages.collect()
}

/// The parts of a lead. They add up to it.
fn lead_parts(row: &Row) -> Vec<(&'static str, String)> {
    let ms = |span: SongSpan| format!("{:.2}\u{a0}ms", span.micros() as f64 / 1000.0);
    let mut parts = vec![
        ("device and contact", ms(row.lead.device)),
        ("fall to the land", ms(row.lead.action)),
        ("wire", ms(row.lead.wire)),
    ];
    if row.lead.adjust != SongSpan::ZERO {
        parts.push(("adjusted by hand", ms(row.lead.adjust)));
    }
    parts.push(if row.lead.sound == SongSpan::ZERO {
        ("sound to the seats", "off: no seat is given".to_owned())
    } else {
        ("sound to the seat, taken off", ms(row.lead.sound))
    });
    if row.waits != SongSpan::ZERO {
        parts.push(("waits for its port", ms(row.waits)));
    }
    parts
}

fn hang_figures(show: &Show, release: &Release) -> Vec<(&'static str, String)> {
    let Some(hang) = show.hang(&release.hang) else { return Vec::new() };
    let (m, metre, kg, kilogram) =
        if show.settings.units == Units::Metric { (1.0, "m", 1.0, "kg") } else { (0.3048, "ft", 0.453_592_37, "lb") };
    let w = weight_figures(hang, release);
    let (most, _) = w.most_kg();
    let ends = w.units_kg.first().zip(w.units_kg.last()).map_or(0.0, |(first, last)| first.max(*last));
    let per_length = if show.settings.units == Units::Metric {
        "all of it, per metre of the bar"
    } else {
        "all of it, per foot of the bar"
    };
    vec![
        ("fabric", hang.name.clone()),
        ("width × drop", format!("{:.2} × {:.2}\u{a0}{metre}", hang.width_m / m, hang.drop_m / m)),
        ("top edge above the floor", format!("{:.2}\u{a0}{metre}", hang.top_m / m)),
        ("sightline", format!("{:.2}\u{a0}{metre}", hang.sightline_m / m)),
        ("cloth", format!("{:.1}\u{a0}{kilogram}", w.fabric_kg / kg)),
        ("all that hangs", format!("{:.1}\u{a0}{kilogram}", w.total_kg / kg)),
        ("cloth alone on one unit, at most", format!("{:.2}\u{a0}{kilogram}", most / kg)),
        ("cloth alone on an end unit", format!("{:.2}\u{a0}{kilogram}", ends / kg)),
        (per_length, format!("{:.1}\u{a0}{kilogram}", w.per_metre_kg / kg * m)),
        ("between units, at most", format!("{:.3}\u{a0}{metre}", w.widest_gap_m / m)),
    ]
}

fn circuit(release: &Release, units: Units) -> Vec<(&'static str, String)> {
    let Some(c) = &release.circuit else { return Vec::new() };
    let (Ok(cold), Ok(worst)) =
        (circuit_figures(c, release.units, c.supply_v, 20.0, 20.0), worst_case(c, release.units))
    else {
        return Vec::new();
    };
    let assumed = |known: bool| if known { "" } else { " (assumed)" };
    vec![
        (
            "supply",
            format!(
                "{}\u{a0}V, lowest expected {:.1}\u{a0}V{}",
                c.supply_v,
                worst.supply_v,
                assumed(c.supply_low_v.is_some())
            ),
        ),
        ("drawn by all units, cold", format!("{:.2}\u{a0}A, {:.0}\u{a0}W", cold.current_a, cold.power_w)),
        ("at the farthest unit, hot and lowest supply", format!("{:.2}\u{a0}V", worst.far_v)),
        (
            "rated pull-in",
            format!(
                "{:.1}\u{a0}V at {}{}",
                c.pull_in_v,
                match (units, c.pull_in_c.unwrap_or(USUAL_RATED_C)) {
                    (Units::Metric, celsius) => format!("{celsius:.0}\u{a0}°C"),
                    (Units::Imperial, celsius) => format!("{:.0}\u{a0}°F", celsius * 1.8 + 32.0),
                },
                assumed(c.pull_in_c.is_some())
            ),
        ),
        ("that is with a hot coil", format!("{:.2}\u{a0}V", worst.needed_v)),
        ("left over at the farthest unit", format!("{:.2}\u{a0}V", worst.margin_v())),
    ]
}

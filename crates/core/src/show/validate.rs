//! What must hold of every show in memory. What is merely unwise belongs to [`crate::check`].

use super::{Circuit, Hang, Message, Output, Projection, Receiver, Release, Service, Show, Wiring};
use crate::time::{Grid, SongSpan, SongTime};
use std::collections::HashSet;
use std::fmt::Display;

/// Why a show cannot be used, and where.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{place}: {why}")]
pub struct Invalid {
    /// Where in the file, such as `services "Early", cue L12`.
    pub place: String,
    /// What is wrong and what to do.
    pub why: String,
}

type Verdict = Result<(), Invalid>;

fn refuse(place: impl Display, why: impl Display) -> Verdict {
    Err(Invalid { place: place.to_string(), why: why.to_string() })
}

/// A number that must lie in a range.
fn number(place: &dyn Display, what: &str, value: f64, low: f64, high: f64) -> Verdict {
    if value.is_finite() && (low..=high).contains(&value) {
        return Ok(());
    }
    refuse(place, format!("{what} is {value}; give a number from {low} to {high}"))
}

/// A length of time that must not be negative and must be under an hour.
fn span(place: &dyn Display, what: &str, value: SongSpan) -> Verdict {
    if (0..=3_600_000_000).contains(&value.micros()) {
        return Ok(());
    }
    refuse(place, format!("{what} is {} µs; give 0 to 3600000000 (one hour)", value.micros()))
}

/// Names or keys that must not repeat.
fn once<'a>(list: &str, names: impl Iterator<Item = &'a str>) -> Verdict {
    let mut seen = HashSet::new();
    for name in names {
        if !seen.insert(name) {
            return refuse(list, format!("\"{name}\" stands twice; give one of them another name"));
        }
    }
    Ok(())
}

pub(super) fn show(show: &Show) -> Verdict {
    settings(show)?;
    once("ports", show.ports.iter().map(|p| p.key.as_str()))?;
    once("receivers", show.receivers.iter().map(|r| r.key.as_str()))?;
    once("presets", show.presets.iter().map(|p| p.key.as_str()))?;
    once("media", show.media.iter().map(|m| m.key.as_str()))?;
    once("outputs", show.outputs.iter().map(|o| o.key.as_str()))?;
    once("routes", show.routes.iter().map(|r| r.key.as_str()))?;
    once("hangs", show.hangs.iter().map(|h| h.key.as_str()))?;
    once("releases", show.releases.iter().map(|r| r.key.as_str()))?;
    once("tracks", show.tracks.iter().map(|t| t.key.as_str()))?;
    once("services", show.services.iter().map(|s| s.name.as_str()))?;
    show.receivers.iter().try_for_each(receiver)?;
    for preset in &show.presets {
        let place = format!("preset \"{}\"", preset.key);
        span(&place, "its fade", preset.fade)?;
        message(&place, &preset.message)?;
        if preset.colour.len() != 6 || !preset.colour.bytes().all(|b| b.is_ascii_hexdigit()) {
            return refuse(place, "its colour must be six hexadecimal digits, such as ffb347");
        }
        if preset.level > 100 {
            return refuse(place, format!("its level is {}; give 0 to 100 percent", preset.level));
        }
    }
    for item in &show.media {
        let place = format!("media \"{}\"", item.key);
        span(&place, "its pre-roll", item.pre_roll)?;
        span(&place, "its length", item.length)?;
        message(&place, &item.message)?;
    }
    show.outputs.iter().try_for_each(output)?;
    for route in &show.routes {
        message(&format!("route \"{}\"", route.key), &route.message)?;
    }
    show.hangs.iter().try_for_each(hang)?;
    show.releases.iter().try_for_each(release)?;
    for item in &show.kit {
        if item.quantity > 1_000_000 || item.days > 10_000 || item.cents > 1_000_000_000_000 {
            return refuse(format!("kit \"{}\"", item.name), "its quantity, days or price is beyond reason");
        }
    }
    show.services.iter().try_for_each(|s| service(show, s))
}

fn settings(show: &Show) -> Verdict {
    let place = "settings";
    let s = &show.settings;
    span(&place, "the standby", s.standby)?;
    span(&place, "the early tolerance", s.early)?;
    span(&place, "the late tolerance", s.late)?;
    span(&place, "the gap at a handover", s.gap)?;
    number(&place, "the speech rate", f64::from(s.words_per_minute), 30.0, 600.0)?;
    number(&place, "the count-in", f64::from(s.count_in_bars), 0.0, 64.0)?;
    number(&place, "the distance to the seat", s.seat_m, 0.0, 1000.0)?;
    number(&place, "the air temperature", s.air_c, -40.0, 60.0)
}

fn message(place: &dyn Display, message: &Message) -> Verdict {
    match message {
        Message::Note { velocity, length, .. } => {
            if velocity.get() == 0 {
                return refuse(place, "a note of velocity 0 is a note off (MIDI 1.0); give 1 to 127");
            }
            span(place, "its note's length", *length)
        }
        Message::Control { controller, .. } if controller.get() >= 120 => {
            refuse(place, "controllers 120 to 127 are mode messages (MIDI 1.0); give 0 to 119")
        }
        Message::ShowControl(command) => match crate::schedule::wire::show_control_data(command) {
            Ok(_) => Ok(()),
            Err(why) => refuse(place, why),
        },
        _ => Ok(()),
    }
}

fn receiver(receiver: &Receiver) -> Verdict {
    let place = format!("receiver \"{}\"", receiver.key);
    span(&place, "its latency", receiver.latency.mean)?;
    span(&place, "its latency's spread", receiver.latency.spread)?;
    span(&place, "its shortest gap", receiver.gap)
}

fn output(output: &Output) -> Verdict {
    let place = format!("output \"{}\"", output.key);
    span(&place, "its switch time", output.switch)?;
    let Some(p) = &output.projection else { return Ok(()) };
    projection(&place, p)
}

fn projection(place: &dyn Display, p: &Projection) -> Verdict {
    number(place, "its projector's light", p.lumens, 1.0, 1e6)?;
    number(place, "its picture's width", p.width_m, 0.01, 200.0)?;
    number(place, "its picture's height", p.height_m, 0.01, 200.0)?;
    number(place, "its gain", p.gain, 0.001, 20.0)?;
    number(place, "its transmission", p.transmission, 0.0, 1.0)?;
    number(place, "its oblique angle", p.oblique_deg, 0.0, 85.0)?;
    number(place, "its native contrast", p.native_contrast, 1.0, 1e9)?;
    number(place, "its ambient light", p.ambient_lux, 0.0, 1e6)?;
    number(place, "its target brightness", p.target_cd_m2.unwrap_or(48.0), 0.01, 1e6)
}

fn hang(hang: &Hang) -> Verdict {
    let place = format!("hang \"{}\"", hang.key);
    number(&place, "its width", hang.width_m, 0.01, 200.0)?;
    number(&place, "its drop", hang.drop_m, 0.01, 100.0)?;
    number(&place, "the height of its top", hang.top_m, 0.01, 100.0)?;
    number(&place, "its mass for a square metre", hang.areal_mass_kg_m2, 0.001, 50.0)?;
    number(&place, "its hardware", hang.hardware_kg, 0.0, 100_000.0)?;
    number(&place, "its sightline", hang.sightline_m, 0.0, 100.0)?;
    if hang.sightline_m > hang.top_m {
        return refuse(place, "its sightline is above its top edge; give both in metres above the floor");
    }
    for drop in &hang.measured {
        number(&place, "a measured drop", drop.seconds, 0.01, 60.0)?;
    }
    Ok(())
}

fn release(release: &Release) -> Verdict {
    let place = format!("release \"{}\"", release.key);
    number(&place, "its number of units", f64::from(release.units), 0.0, 1000.0)?;
    span(&place, "its pulse", release.pulse)?;
    span(&place, "its contact delay", release.contact.mean)?;
    span(&place, "its contact delay's spread", release.contact.spread)?;
    span(&place, "its arming time before land", release.arm_before)?;
    span(&place, "its arming time after land", release.arm_after)?;
    message(&place, &release.message)?;
    if let Some(stand_in) = &release.stand_in {
        message(&place, stand_in)?;
    }
    release.circuit.as_ref().map_or(Ok(()), |c| circuit(&place, c))
}

fn circuit(place: &dyn Display, c: &Circuit) -> Verdict {
    for (what, value) in [
        ("its supply voltage", Some(c.supply_v)),
        ("its lowest supply voltage", c.supply_low_v),
        ("its units' rated voltage", Some(c.unit_v)),
        ("its pull-in voltage", Some(c.pull_in_v)),
        ("its branch's voltage", c.branch_v),
    ] {
        number(place, what, value.unwrap_or(24.0), 0.1, 1000.0)?;
    }
    number(place, "its supply's power", c.supply_w.unwrap_or(1.0), 0.1, 100_000.0)?;
    number(place, "a unit's power", c.unit_w, 0.01, 10_000.0)?;
    number(place, "its branch's rating", c.branch_a.unwrap_or(10.0), 0.1, 1000.0)?;
    number(place, "its cable's temperature", c.cable_c, -40.0, 120.0)?;
    number(place, "its coils' temperature", c.coil_c, -40.0, 200.0)?;
    let runs = match c.wiring {
        Wiring::Together { feed_m } => [feed_m, 0.0],
        Wiring::Star { longest_m } => [longest_m, 0.0],
        Wiring::Chain { feed_m, step_m } => [feed_m, step_m],
    };
    runs.into_iter().try_for_each(|metres| number(place, "a cable run", metres, 0.0, 2000.0))?;
    match crate::reveal::ohms_per_metre_20c(c.conductor) {
        Ok(_) => Ok(()),
        Err(why) => refuse(place, why),
    }
}

fn service(show: &Show, service: &Service) -> Verdict {
    let place = format!("service \"{}\"", service.name);
    if service.name.trim().is_empty() {
        return refuse("services", "a service has no name; give each one");
    }
    if let Some(start) = &service.timecode {
        start.parse().map_err(|e| Invalid { place: place.clone(), why: e.to_string() })?;
    }
    if !(1..=1_000_000).contains(&service.song.bars) {
        return refuse(place, format!("its song has {} bars; give 1 to 1000000", service.song.bars));
    }
    let grid =
        service.song.grid.build().map_err(|e| Invalid { place: format!("{place}, grid"), why: e.to_string() })?;
    if grid.micros_at(grid.bar_tick(service.song.end_bar())) > SongTime::MAX.micros() as f64 {
        return refuse(place, "its song is longer than 24 hours; give it fewer bars or a faster tempo");
    }
    let mut free_from = i64::MIN;
    for section in &service.song.sections {
        if section.bars == 0 || i64::from(section.bar) < free_from {
            let why = format!(
                "section \"{}\" is empty or begins before the last one ends; sections stand in bar order",
                section.name
            );
            return refuse(place, why);
        }
        free_from = i64::from(section.bar) + i64::from(section.bars);
    }
    service.cues.iter().try_for_each(|cue| {
        cue_fits(show, cue, &grid).map_err(|why| Invalid { place: format!("{place}, cue {}", cue.label), why })
    })
}

fn cue_fits(show: &Show, cue: &super::Cue, grid: &Grid) -> Result<(), String> {
    if cue.does.kind() != cue.label.kind {
        return Err(format!("its label says {} and its action {}; make them one", cue.label.kind, cue.does.kind()));
    }
    if let Some(track) = show.track(&cue.track).filter(|t| t.kind != cue.label.kind) {
        return Err(format!("it is a {} cue on the {} track \"{}\"; move it", cue.label.kind, track.kind, track.name));
    }
    if let super::Anchor::Grid { place, nudge } = cue.at {
        let micros = grid.micros_at(grid.tick_of(place)) + nudge.micros() as f64;
        if micros.abs() > SongTime::MAX.micros() as f64 {
            return Err(format!("it lands at {place}, more than 24 hours from the song's start"));
        }
    }
    Ok(())
}

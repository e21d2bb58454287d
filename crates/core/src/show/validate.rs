//! What must be true of every show in memory. What is merely unwise belongs in [`crate::check`].

use super::validity::{Invalid, ValidationResult, ensure_unique, maybe, number, refuse, span};
use super::{
    Circuit, Goes, Hang, Kind, Link, Message, Output, Projection, Receiver, Release, Service, Show, ShowCommand,
    SongBend, Wiring,
};
use crate::limits;
use crate::time::{Grid, SongTime};
use std::fmt::Display;

/// No hand takes over a release.
const RELEASE_BY_MACHINE: &str =
    "a release is let out by Letfall while it is armed, and by nothing else; take away what else sets it off";

impl Show {
    /// Checks what must be true of every show in memory: numbers in range, keys and names unique, grids that can be built.
    ///
    /// # Errors
    /// The first fault found, with its place in the file and what to do.
    pub fn validate(&self) -> Result<(), Invalid> {
        show(self)
    }
}

fn show(show: &Show) -> ValidationResult {
    settings(show)?;
    ensure_unique("ports", show.ports.iter().map(|p| p.key.as_str()))?;
    ensure_unique("receivers", show.receivers.iter().map(|r| r.key.as_str()))?;
    ensure_unique("presets", show.presets.iter().map(|p| p.key.as_str()))?;
    ensure_unique("media", show.media.iter().map(|m| m.key.as_str()))?;
    ensure_unique("outputs", show.outputs.iter().map(|o| o.key.as_str()))?;
    ensure_unique("routes", show.routes.iter().map(|r| r.key.as_str()))?;
    ensure_unique("hangs", show.hangs.iter().map(|h| h.key.as_str()))?;
    ensure_unique("releases", show.releases.iter().map(|r| r.key.as_str()))?;
    ensure_unique("tracks", show.tracks.iter().map(|t| t.key.as_str()))?;
    ensure_unique("services", show.services.iter().map(|s| s.name.as_str()))?;
    show.receivers.iter().try_for_each(receiver)?;
    for preset in &show.presets {
        let place = format!("preset \"{}\"", preset.key);
        span(&place, preset.fade, &limits::PRESET_FADE)?;
        message(&place, &preset.message)?;
        if preset.colour.len() != 6 || !preset.colour.bytes().all(|b| b.is_ascii_hexdigit()) {
            return refuse(place, "its colour must be six hexadecimal digits, such as ffb347");
        }
        number(&place, f64::from(preset.level), &limits::LEVEL)?;
        number(&place, preset.front_lux, &limits::FRONT_LIGHT)?;
        number(&place, preset.back_lux, &limits::BACK_LIGHT)?;
    }
    for item in &show.media {
        let place = format!("media \"{}\"", item.key);
        span(&place, item.pre_roll, &limits::PRE_ROLL)?;
        span(&place, item.length, &limits::PLAYS_FOR)?;
        message(&place, &item.message)?;
    }
    show.outputs.iter().try_for_each(output)?;
    for route in &show.routes {
        message(&format!("route \"{}\"", route.key), &route.message)?;
    }
    show.hangs.iter().try_for_each(hang)?;
    show.releases.iter().try_for_each(release)?;
    show.room.as_ref().map_or(Ok(()), super::room::validate)?;
    for task in &show.between {
        let place = format!("between services, \"{}\"", task.step.name());
        number(&place, f64::from(task.minutes), &limits::BETWEEN_MINUTES)?;
        number(&place, f64::from(task.people), &limits::BETWEEN_PEOPLE)?;
    }
    ensure_unique("offers", show.offers.iter().map(|offer| offer.name.as_str()))?;
    for offer in &show.offers {
        let place = format!("offer \"{}\"", offer.name);
        number(&place, offer.labour_cents as f64, &limits::OFFER_LABOUR)?;
        number(&place, offer.transport_cents as f64, &limits::OFFER_TRANSPORT)?;
        number(&place, offer.deposit_cents as f64, &limits::OFFER_DEPOSIT)?;
        number(&place, f64::from(offer.contingency_percent), &limits::OFFER_CONTINGENCY)?;
        number(&place, f64::from(offer.days), &limits::OFFER_DAYS)?;
        for line in &offer.lines {
            number(&place, f64::from(line.quantity), &limits::OFFER_QUANTITY)?;
            number(&place, line.day_cents as f64, &limits::OFFER_DAY)?;
            maybe(&place, line.week_cents.map(|cents| cents as f64), &limits::OFFER_WEEK)?;
            number(&place, f64::from(line.leave_out), &limits::LEAVE_OUT)?;
        }
    }
    for track in &show.tracks {
        let why = match track.goes {
            Goes::After(_) => "its cues cannot all come after one cue; say so at each cue",
            Goes::Operator if track.kind == Kind::Release => RELEASE_BY_MACHINE,
            _ => continue,
        };
        return refuse(format!("track \"{}\"", track.key), why);
    }
    for item in &show.kit {
        let place = format!("kit \"{}\"", item.name);
        number(&place, f64::from(item.quantity), &limits::QUANTITY)?;
        number(&place, f64::from(item.days), &limits::DAYS)?;
        number(&place, item.cents as f64, &limits::PRICE)?;
    }
    if let Some(budget) = &show.budget {
        number(&"budget", budget.cents as f64, &limits::BUDGET)?;
        number(&"budget", f64::from(budget.contingency_percent), &limits::CONTINGENCY)?;
    }
    for port in &show.ports {
        if let Link::BytesPerSecond(rate) = port.link {
            number(&format!("port \"{}\"", port.key), f64::from(rate), &limits::BYTES_PER_SECOND)?;
        }
    }
    show.services.iter().try_for_each(|s| service(show, s))
}

fn settings(show: &Show) -> ValidationResult {
    let place = "settings";
    let s = &show.settings;
    span(&place, s.standby, &limits::STANDBY)?;
    span(&place, s.release_standby, &limits::RELEASE_STANDBY)?;
    span(&place, s.early, &limits::EARLY)?;
    span(&place, s.late, &limits::LATE)?;
    span(&place, s.gap, &limits::GAP)?;
    span(&place, s.person, &limits::PERSON)?;
    span(&place, s.person_spread, &limits::PERSON_SPREAD)?;
    number(&place, f64::from(s.before_doors_min), &limits::BEFORE_DOORS)?;
    number(&place, f64::from(s.words_per_minute), &limits::SPEECH_RATE)?;
    number(&place, f64::from(s.count_in_bars), &limits::COUNT_IN)?;
    number(&place, s.seat_m, &limits::SEAT)?;
    number(&place, s.air_c, &limits::AIR)
}

fn message(place: &dyn Display, message: &Message) -> ValidationResult {
    match message {
        Message::Note { velocity, length, .. } => {
            if velocity.get() == 0 {
                return refuse(place, "a note of velocity 0 is a note off (MIDI 1.0); give 1 to 127");
            }
            span(place, *length, &limits::NOTE_LENGTH)
        }
        Message::Control { controller, .. } if controller.get() >= 120 => {
            refuse(place, "controllers 120 to 127 are mode messages (MIDI 1.0); give 0 to 119")
        }
        Message::ShowControl(ShowCommand::TimedGo { time, .. }) if limits::TIMED_GO.check_span(*time).is_err() => {
            span(place, *time, &limits::TIMED_GO)
        }
        Message::ShowControl(command) => match crate::midi::show_control_data(command) {
            Ok(_) => Ok(()),
            Err(why) => refuse(place, why),
        },
        _ => Ok(()),
    }
}

fn receiver(receiver: &Receiver) -> ValidationResult {
    let place = format!("receiver \"{}\"", receiver.key);
    span(&place, receiver.latency.mean, &limits::LATENCY)?;
    span(&place, receiver.latency.spread, &limits::LATENCY_SPREAD)?;
    number(&place, f64::from(receiver.latency.measured), &limits::LATENCY_TIMES)?;
    receiver.warm_up.map_or(Ok(()), |warm_up| span(&place, warm_up, &limits::WARM_UP))?;
    span(&place, receiver.gap, &limits::SHORTEST_GAP)
}

fn output(output: &Output) -> ValidationResult {
    let place = format!("output \"{}\"", output.key);
    span(&place, output.switch, &limits::SWITCH)?;
    output.resync.map_or(Ok(()), |resync| span(&place, resync, &limits::RESYNC))?;
    let Some(p) = &output.projection else { return Ok(()) };
    projection(&place, p)
}

fn projection(place: &dyn Display, p: &Projection) -> ValidationResult {
    number(place, p.lumens, &limits::LUMENS)?;
    number(place, p.width_m, &limits::PICTURE_WIDTH)?;
    number(place, p.height_m, &limits::PICTURE_HEIGHT)?;
    number(place, p.gain, &limits::GAIN)?;
    number(place, p.transmission, &limits::TRANSMISSION)?;
    number(place, p.oblique_deg, &limits::OBLIQUE)?;
    number(place, p.native_contrast, &limits::NATIVE_CONTRAST)?;
    number(place, p.ambient_lux, &limits::AMBIENT)?;
    maybe(place, p.target_cd_m2, &limits::TARGET)
}

fn hang(hang: &Hang) -> ValidationResult {
    let place = format!("hang \"{}\"", hang.key);
    number(&place, hang.width_m, &limits::HANG_WIDTH)?;
    number(&place, hang.drop_m, &limits::DROP)?;
    number(&place, hang.top_m, &limits::TOP)?;
    number(&place, hang.areal_mass_kg_m2, &limits::AREAL_MASS)?;
    number(&place, hang.hardware_kg, &limits::HARDWARE)?;
    maybe(&place, hang.bar_m, &limits::BAR)?;
    maybe(&place, hang.eyelets.map(f64::from), &limits::EYELETS)?;
    number(&place, hang.sightline_m, &limits::SIGHTLINE)?;
    if hang.sightline_m > hang.top_m {
        return refuse(place, "its sightline is above its top edge; give both in metres above the floor");
    }
    for drop in &hang.measured {
        number(&place, drop.seconds, &limits::MEASURED_DROP)?;
    }
    Ok(())
}

fn release(release: &Release) -> ValidationResult {
    let place = format!("release \"{}\"", release.key);
    number(&place, f64::from(release.units), &limits::UNITS)?;
    release.units_at_m.iter().try_for_each(|at| number(&place, *at, &limits::UNIT_AT))?;
    if !release.units_at_m.is_empty() && release.units_at_m.len() != release.units as usize {
        let why = format!(
            "it has {} units and {} places of units; give one place for each, or none for an even row",
            release.units,
            release.units_at_m.len()
        );
        return refuse(place, why);
    }
    maybe(&place, release.unit_least_kg, &limits::UNIT_LEAST)?;
    maybe(&place, release.unit_most_kg, &limits::UNIT_MOST)?;
    span(&place, release.pulse, &limits::PULSE)?;
    span(&place, release.contact.mean, &limits::LATENCY)?;
    span(&place, release.contact.spread, &limits::LATENCY_SPREAD)?;
    number(&place, f64::from(release.contact.measured), &limits::LATENCY_TIMES)?;
    span(&place, release.arm_before, &limits::ARM_BEFORE)?;
    span(&place, release.arm_after, &limits::ARM_AFTER)?;
    message(&place, &release.message)?;
    if let Some(stand_in) = &release.stand_in {
        message(&place, stand_in)?;
    }
    if let Some(plan) = &release.hang_up {
        span(&place, plan.wait, &limits::HANG_UP_WAIT)?;
    }
    release.circuit.as_ref().map_or(Ok(()), |c| circuit(&place, c))
}

fn circuit(place: &dyn Display, c: &Circuit) -> ValidationResult {
    number(place, c.supply_v, &limits::SUPPLY_V)?;
    maybe(place, c.supply_low_v, &limits::SUPPLY_LOW_V)?;
    number(place, c.unit_v, &limits::UNIT_V)?;
    number(place, c.pull_in_v, &limits::PULL_IN_V)?;
    maybe(place, c.pull_in_c, &limits::PULL_IN_C)?;
    maybe(place, c.branch_v, &limits::BRANCH_V)?;
    maybe(place, c.supply_w, &limits::SUPPLY_W)?;
    number(place, c.unit_w, &limits::UNIT_W)?;
    maybe(place, c.branch_a, &limits::BRANCH_A)?;
    number(place, c.cable_c, &limits::CABLE_C)?;
    number(place, c.coil_c, &limits::COIL_C)?;
    match c.wiring {
        Wiring::Together { feed_m } => number(place, feed_m, &limits::FEED)?,
        Wiring::Star { longest_m } => number(place, longest_m, &limits::LONGEST_RUN)?,
        Wiring::Chain { feed_m, step_m } => {
            number(place, feed_m, &limits::FEED)?;
            number(place, step_m, &limits::UNIT_TO_UNIT)?;
        }
    }
    match crate::reveal::ohms_per_metre_20c(c.conductor) {
        Ok(_) => Ok(()),
        Err(why) => refuse(place, why),
    }
}

fn service(show: &Show, service: &Service) -> ValidationResult {
    let place = format!("service \"{}\"", service.name);
    if service.name.trim().is_empty() {
        return refuse("services", "a service has no name; give each one");
    }
    if let Some(start) = &service.timecode {
        start.parse().map_err(|e| Invalid { place: place.clone(), why: e.to_string() })?;
    }
    number(&place, f64::from(service.song.bars), &limits::SONG_BARS)?;
    song_marks(&place, service)?;
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

/// Checks the numbers of a song's marks and handovers. Whether the marks form a grid is checked when it is built.
fn song_marks(place: &dyn Display, service: &Service) -> ValidationResult {
    let grid = &service.song.grid;
    number(place, grid.origin.micros() as f64, &limits::ORIGIN)?;
    grid.metres.iter().try_for_each(|mark| number(place, f64::from(mark.bar), &limits::METRE_BAR))?;
    for mark in &grid.tempos {
        mark.at.sane().map_err(|why| Invalid { place: place.to_string(), why })?;
    }
    for pin in &grid.pins {
        number(place, f64::from(pin.bar), &limits::PIN_BAR)?;
        number(place, pin.at.micros() as f64, &limits::PIN_AT)?;
    }
    for section in &service.song.sections {
        number(place, f64::from(section.bar), &limits::SECTION_BAR)?;
        number(place, f64::from(section.bars), &limits::SECTION_BARS)?;
    }
    for heard in &service.song.heard {
        number(place, f64::from(heard.bar), &limits::HEARD_BAR)?;
        number(place, f64::from(heard.beat), &limits::HEARD_BEAT)?;
    }
    for mark in &service.song.bends {
        number(place, f64::from(mark.bar), &limits::BEND_BAR)?;
        match mark.does {
            SongBend::Wait {} => {}
            SongBend::Vamp { bars, .. } | SongBend::Free { bars } => {
                number(place, f64::from(bars), &limits::VAMP_BARS)?;
            }
            SongBend::Cut { to } => number(place, f64::from(to), &limits::CUT_TO)?,
        }
    }
    let steps = service.handovers.iter().flat_map(|handover| [&handover.leave, &handover.arrive]);
    steps.into_iter().try_for_each(|step| span(place, step.offset, &limits::HANDOVER_OFFSET))
}

fn cue_fits(show: &Show, cue: &super::Cue, grid: &Grid) -> Result<(), String> {
    if cue.does.kind() != cue.label.kind {
        return Err(format!("its label says {} and its action {}; make them one", cue.label.kind, cue.does.kind()));
    }
    if let Some(track) = show.track(&cue.track).filter(|t| t.kind != cue.label.kind) {
        return Err(format!("it is a {} cue on the {} track \"{}\"; move it", cue.label.kind, track.kind, track.name));
    }
    limits::LEAD_ADJUST.check_span(cue.lead_adjust)?;
    if let super::Action::Lighting { fade: Some(fade), .. } = &cue.does {
        limits::CUE_FADE.check_span(*fade)?;
    }
    if cue.label.kind == Kind::Release && !show.goes(cue).by_machine() {
        return Err(RELEASE_BY_MACHINE.to_owned());
    }
    if let Some(standby) = cue.call.as_ref().and_then(|call| call.standby) {
        limits::CALL_STANDBY.check_span(standby)?;
    }
    if let super::Anchor::Grid { place, nudge } = cue.at {
        place.sane()?;
        let micros = grid.micros_at(grid.tick_of(place)) + nudge.micros() as f64;
        if micros.abs() > SongTime::MAX.micros() as f64 {
            return Err(format!("it lands at {place}, more than 24 hours from the song's start"));
        }
    }
    Ok(())
}

//! The hung fabric, its weight and how it falls; releases and their circuits; what to do if a release does not open.

use super::circuit::circuit;
use super::courses::{self, Things};
use super::drawings;
use super::drops::drops;
use super::message;
use super::rows::{empty, named, take_out, usual_receiver};
use super::stuck::hang_up;
use crate::widgets::fields::{FOOT, Fields, POUND, free_key, heading, heads};
use crate::widgets::theme::bold;
use egui::{FontId, Grid, RichText, Ui};
use letfall_core::limits;
use letfall_core::reveal::{fall_time, unit_places, weight_figures};
use letfall_core::show::{
    FallKind, Hang, Hem, Instant, Kind, Lies, Message, Reach, Receiver, Release, ReleaseEnd, ReleaseKind, Show,
    UnitKind, Units, cautions,
};

/// Hung fabrics.
pub fn hangs(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Hang");
    ui.horizontal(|ui| {
        ui.label("Units");
        for (units, words) in [(Units::Metric, "metric"), (Units::Imperial, "imperial")] {
            let response = ui.radio_value(&mut show.settings.units, units, words);
            fields.look(&response);
        }
    });
    empty(
        ui,
        show.hangs.is_empty(),
        "The fabric that hangs and is let go: its size, its weight, how it fell when you tried.",
    );
    let units = show.settings.units;
    let mut gone = None;
    for (at, hang) in show.hangs.iter_mut().enumerate() {
        ui.separator();
        one_hang(ui, hang, units, fields);
        drawings::hang(ui, hang, show.releases.iter().find(|release| release.hang == hang.key), units);
        drops(ui, hang, fields);
        let whose = hang.name.clone();
        if fields.remove_row(ui, &format!("Remove {whose}")) {
            gone = Some(at);
        }
    }
    take_out(&mut show.hangs, gone);
    ui.separator();
    if fields.add(ui, "Add a hang")
        && let Some(key) = free_key("hang", show.hangs.iter().map(|h| h.key.as_str()))
    {
        let name = format!("Fabric {}", show.hangs.len() + 1);
        show.hangs.push(Hang::new(key, &name, 10.0, 5.0, 6.0, 2.0));
    }
    ui.label("Weights and loads are figures for the conversation with the competent person for the rig, who decides.");
}

fn one_hang(ui: &mut Ui, hang: &mut Hang, units: Units, fields: &mut Fields) {
    let whose = hang.name.clone();
    let name = |part: &str| format!("{part} of {whose}");
    Grid::new(("hang", hang.key.as_str())).spacing([10.0, 6.0]).show(ui, |ui| {
        heads(ui, &["Name", "How it opens", "Width", "Drop", "Top edge", "Sightline", "Cloth", "Hardware"]);
        fields.text(ui, &mut hang.name, 150.0, "Hang name");
        let kinds =
            [(FallKind::Falls, "falls from the top".to_owned()), (FallKind::Unfurls, "unfurls downwards".to_owned())];
        fields.choice(ui, &mut hang.kind, &kinds, 160.0, &name("How it opens"));
        fields.length(ui, &mut hang.width_m, units, &limits::HANG_WIDTH, &name("Width"));
        fields.length(ui, &mut hang.drop_m, units, &limits::DROP, &name("Drop"));
        fields.length(ui, &mut hang.top_m, units, &limits::TOP, &name("Height of the top edge"));
        let before = hang.sightline_m;
        fields.length(ui, &mut hang.sightline_m, units, &limits::SIGHTLINE, &name("Sightline height"));
        if (hang.sightline_m - before).abs() > 0.0 {
            // Typed, it no longer comes from a seat of the room.
            hang.sightline_from.clear();
        }
        fields.areal_mass(ui, &mut hang.areal_mass_kg_m2, units, &limits::AREAL_MASS, &name("Cloth mass by area"));
        fields.mass(ui, &mut hang.hardware_kg, units, &limits::HARDWARE, &name("Hardware mass"));
        ui.end_row();
    });
    ui.horizontal(|ui| {
        ui.label("Bar");
        let bar = (hang.width_m, &limits::BAR);
        fields.maybe_length(ui, &mut hang.bar_m, bar, units, &name("Length of the bar"));
        ui.label("reached");
        let ways = [
            (Reach::Unknown, "nobody has said how"),
            (Reach::Lowered, "by lowering it"),
            (Reach::Lift, "from a lift or tower"),
        ];
        let ways: Vec<(Reach, String)> = ways.into_iter().map(|(reach, words)| (reach, words.to_owned())).collect();
        fields.choice(ui, &mut hang.reach, &ways, 190.0, &name("How people reach the bar"));
    });
    cloth(ui, hang, &whose, fields);
    if hang.top_m > hang.sightline_m && hang.areal_mass_kg_m2 > 0.0 && hang.drop_m > 0.0 {
        let fall = |to| {
            let t = fall_time(hang, to);
            format!("{:.2} s, likely {:.2} to {:.2} ({})", t.expected, t.earliest, t.latest, t.source())
        };
        ui.label(format!("To the sightline {}", fall(Instant::Sightline)));
        ui.label(format!("To the floor {}", fall(Instant::Floor)));
    }
}

/// What is known of the cloth itself.
fn cloth(ui: &mut Ui, hang: &mut Hang, whose: &str, fields: &mut Fields) {
    let name = |part: &str| format!("{part} of {whose}");
    let hems: Vec<_> = Hem::ALL.into_iter().map(|hem| (hem, hem.name().to_owned())).collect();
    Grid::new(("cloth", hang.key.as_str())).num_columns(4).spacing([10.0, 6.0]).show(ui, |ui| {
        ui.label("Eyelets");
        let mut eyelets = hang.eyelets.map(f64::from);
        ui.horizontal(|ui| fields.maybe(ui, &mut eyelets, 20.0, &limits::EYELETS, &name("Number of eyelets")));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // within its limits
        let whole = |n: f64| libm::round(n) as u32;
        hang.eyelets = eyelets.map(whole);
        ui.label("Hem");
        fields.choice(ui, &mut hang.hem, &hems, 130.0, &name("Hem"));
        ui.end_row();
        ui.label("Hangs");
        let ways: Vec<_> = Lies::ALL.into_iter().map(|lies| (lies, lies.name().to_owned())).collect();
        fields.choice(ui, &mut hang.lies, &ways, 130.0, &name("Flat or in folds"));
        ui.end_row();
        ui.label("Flame certificate");
        fields.text(ui, &mut hang.certificate.number, 220.0, &name("Number of the flame certificate"));
        ui.label("dated, holds until");
        ui.horizontal(|ui| {
            fields.text(ui, &mut hang.certificate.dated, 96.0, &name("Date of the flame certificate"));
            fields.text(ui, &mut hang.certificate.expires, 96.0, &name("Last day of the flame certificate"));
        });
        ui.end_row();
        ui.label("Folded size");
        fields.text(ui, &mut hang.folded, 220.0, &name("Folded size"));
        ui.label("Carried away by, by when");
        fields.text(ui, &mut hang.pile, 300.0, &name("Who carries it away"));
        ui.end_row();
    });
}

/// What the maker of the units states.
fn makers_loads(ui: &mut Ui, release: &mut Release, units: Units, fields: &mut Fields) {
    let whose = release.name.clone();
    let name = |part: &str| format!("{part} of {whose}");
    ui.horizontal_wrapped(|ui| {
        ui.label("The maker states for a unit: at least");
        fields.maybe_mass(
            ui,
            &mut release.unit_least_kg,
            (0.5, &limits::UNIT_LEAST),
            units,
            &name("Least load of a unit"),
        );
        ui.label("at most");
        fields.maybe_mass(
            ui,
            &mut release.unit_most_kg,
            (5.0, &limits::UNIT_MOST),
            units,
            &name("Greatest load of a unit"),
        );
        ui.label("pull");
        fields.text(ui, &mut release.unit_pull, 220.0, &name("Direction of pull of a unit"));
    });
}

/// Releases.
pub fn releases(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Releases");
    empty(ui, show.releases.is_empty(), "Dry contacts that let fabric go. None yet; a hang is needed first.");
    let (hangs, receivers, routes) = (show.hangs.clone(), show.receivers.clone(), show.routes.clone());
    let outputs = show.outputs.clone();
    let (presets, media) = (show.presets.clone(), show.media.clone());
    let units = show.settings.units;
    let mut gone = None;
    for (at, release) in show.releases.iter_mut().enumerate() {
        ui.separator();
        one_release(ui, release, &hangs, &receivers, units, fields);
        ui.add(egui::Label::new(cautions::switch_for(release.kind)).wrap());
        let never = cautions::never_for(release.kind);
        if !never.is_empty() {
            ui.label(RichText::new(never).font(FontId::new(15.0, bold())).color(ui.visuals().error_fg_color));
        }
        makers_loads(ui, release, units, fields);
        weight(ui, release, &hangs, units);
        part(ui, "Circuit");
        circuit(ui, release, units, fields);
        part(ui, "If it does not open");
        let things = Things { routes: &routes, outputs: &outputs, presets: &presets, media: &media };
        hang_up(ui, release, &things, fields);
        part(ui, "If nobody arms it in time, or it falls early");
        courses::show(ui, release, &things, fields);
        let whose = release.name.clone();
        ui.add_space(6.0);
        if fields.remove_row(ui, &format!("Remove {whose}")) {
            gone = Some(at);
        }
    }
    take_out(&mut show.releases, gone);
    ui.separator();
    let possible = !show.hangs.is_empty();
    ui.add_enabled_ui(possible, |ui| {
        if fields.add(ui, "Add a release")
            && let Some(key) = free_key("release", show.releases.iter().map(|r| r.key.as_str()))
            && let Some(hang) = show.hangs.first().map(|h| h.key.clone())
            && let Some(receiver) = usual_receiver(show, Kind::Release)
        {
            let name = format!("Release {}", show.releases.len() + 1);
            show.releases.push(Release {
                // What is sent in rehearsal instead; people choose something that shows.
                stand_in: Some(message::note(1)),
                ..Release::new(key, &name, hang, receiver, message::note(60))
            });
        }
    });
    ui.label(
        "Electricity is for qualified people under local codes. A release that opens with power stays shut without it; \
         one held by power opens without it. A message that was sent does not show that the fabric fell.",
    );
}

/// A heading within a release.
fn part(ui: &mut Ui, words: &str) {
    ui.add_space(8.0);
    ui.label(RichText::new(words).font(FontId::new(15.0, bold())));
}

fn one_release(
    ui: &mut Ui,
    release: &mut Release,
    hangs: &[Hang],
    receivers: &[Receiver],
    units: Units,
    fields: &mut Fields,
) {
    let whose = release.name.clone();
    let name = |part: &str| format!("{part} of {whose}");
    let kinds: Vec<(ReleaseKind, String)> = [ReleaseKind::Unknown, ReleaseKind::Energise, ReleaseKind::Deenergise]
        .map(|kind| (kind, kind_words(kind).to_owned()))
        .to_vec();
    Grid::new(("release", release.key.as_str())).spacing([10.0, 6.0]).show(ui, |ui| {
        heads(
            ui,
            &[
                "Name",
                "Lets go",
                "Units",
                "What opens it",
                "Contact delay",
                "Spread",
                "Measured, times",
                "Pulse",
                "Arm: before land",
                "after land",
            ],
        );
        fields.text(ui, &mut release.name, 150.0, "Release name");
        fields.choice(ui, &mut release.hang, &named!(hangs), 130.0, &name("Hang"));
        let before = release.units;
        fields.whole(ui, &mut release.units, &limits::UNITS, &name("Release units"));
        if release.units != before {
            // Places are for a number of units; with another number they stand evenly again.
            release.units_at_m.clear();
        }
        fields.choice(ui, &mut release.kind, &kinds, 180.0, &name("What opens"));
        fields.span(ui, &mut release.contact.mean, &limits::LATENCY, &name("Contact delay"));
        fields.span(ui, &mut release.contact.spread, &limits::LATENCY_SPREAD, &name("Contact delay spread"));
        fields.whole(ui, &mut release.contact.measured, &limits::LATENCY_TIMES, &name("Times measured"));
        fields.span(ui, &mut release.pulse, &limits::PULSE, &name("Pulse"));
        fields.seconds(ui, &mut release.arm_before, &limits::ARM_BEFORE, &name("Arming possible before land"));
        fields.seconds(ui, &mut release.arm_after, &limits::ARM_AFTER, &name("Arming possible after land"));
        ui.end_row();
    });
    part(ui, "What fires it, and what opens the contact again");
    let receiver = receivers.iter().find(|r| r.key == release.receiver).cloned();
    Grid::new(("fires", release.key.as_str())).spacing([10.0, 6.0]).show(ui, |ui| {
        ui.label("Fired by");
        fields.choice(ui, &mut release.receiver, &named!(receivers), 130.0, &name("Receiver"));
        message::message(ui, fields, &mut release.message, receiver.as_ref(), &whose);
        ui.end_row();
        ui.label("Opened again");
        ends(ui, release, receiver.as_ref(), fields, &whose);
        ui.end_row();
        ui.label("Stand-in");
        let mut known = release.stand_in.is_some();
        fields.tick(ui, &mut known, "sent in rehearsal instead", &name("Stand-in"));
        if known {
            let stand_in = release.stand_in.get_or_insert_with(|| message::note(1));
            message::message(ui, fields, stand_in, receiver.as_ref(), &format!("the stand-in of {whose}"));
        } else {
            release.stand_in = None;
        }
        ui.end_row();
    });
    part(ui, "Units, and the cloth that they carry");
    ui.horizontal_wrapped(|ui| {
        ui.label("Units:");
        unit_row(ui, release, hangs, units, fields);
    });
}

/// The kind of the units and where they stand.
fn unit_row(ui: &mut Ui, release: &mut Release, hangs: &[Hang], units: Units, fields: &mut Fields) {
    let whose = release.name.clone();
    let kinds = [
        (UnitKind::Unknown, "kind not known"),
        (UnitKind::Latch, "a latch or pin"),
        (UnitKind::Magnet, "a magnet that holds"),
    ];
    let kinds: Vec<(UnitKind, String)> = kinds.into_iter().map(|(kind, words)| (kind, words.to_owned())).collect();
    fields.choice(ui, &mut release.unit_kind, &kinds, 150.0, &format!("Kind of unit of {whose}"));
    let mut placed = !release.units_at_m.is_empty();
    fields.tick(ui, &mut placed, "stand unevenly, from the left edge:", &format!("Places of the units of {whose}"));
    if !placed {
        release.units_at_m.clear();
        return;
    }
    if release.units_at_m.is_empty()
        && let Some(hang) = hangs.iter().find(|h| h.key == release.hang)
    {
        release.units_at_m = unit_places(hang, release);
    }
    for (at, place) in release.units_at_m.iter_mut().enumerate() {
        fields.length(ui, place, units, &limits::UNIT_AT, &format!("Place of unit {} of {whose}", at + 1));
    }
}

/// How the contact is opened again after the pulse.
#[derive(Clone, Copy, PartialEq, Eq)]
enum EndKind {
    Unstated,
    NoteOff,
    Message,
    OwnTimer,
}

fn ends(ui: &mut Ui, release: &mut Release, receiver: Option<&Receiver>, fields: &mut Fields, whose: &str) {
    let is_note = matches!(release.message, Message::Note { .. });
    let before = match release.ends {
        None if is_note => EndKind::NoteOff,
        None => EndKind::Unstated,
        Some(ReleaseEnd::NoteOff {}) => EndKind::NoteOff,
        Some(ReleaseEnd::Message(_)) => EndKind::Message,
        Some(ReleaseEnd::OwnTimer {}) => EndKind::OwnTimer,
    };
    let mut kinds = vec![
        (EndKind::Message, "by a message of its own".to_owned()),
        (EndKind::OwnTimer, "by the box itself, as was tried".to_owned()),
    ];
    if is_note {
        kinds.insert(0, (EndKind::NoteOff, "by the note's end".to_owned()));
    }
    if before == EndKind::Unstated || before == EndKind::NoteOff && !is_note {
        kinds.insert(0, (before, "nobody has said".to_owned()));
    }
    let mut kind = before;
    fields.choice(ui, &mut kind, &kinds, 220.0, &format!("What opens the contact of {whose} again"));
    if kind != before {
        release.ends = match kind {
            EndKind::Unstated => None,
            EndKind::NoteOff => Some(ReleaseEnd::NoteOff {}),
            EndKind::Message => Some(ReleaseEnd::Message(release.message.clone())),
            EndKind::OwnTimer => Some(ReleaseEnd::OwnTimer {}),
        };
    }
    if let Some(ReleaseEnd::Message(end)) = &mut release.ends {
        message::message(ui, fields, end, receiver, &format!("the end of {whose}"));
    }
}

fn weight(ui: &mut Ui, release: &Release, hangs: &[Hang], units: Units) {
    let Some(hang) = hangs.iter().find(|h| h.key == release.hang) else { return };
    let w = weight_figures(hang, release);
    let (mass, mass_unit, length, length_unit) =
        if units == Units::Metric { (1.0, "kg", 1.0, "m") } else { (POUND, "lb", FOOT, "ft") };
    let (most, _) = w.most_kg();
    let ends = w.units_kg.first().zip(w.units_kg.last()).map_or(0.0, |(first, last)| first.max(*last));
    ui.label(format!(
        "Cloth {:.1} {mass_unit}, all {:.1} {mass_unit}; cloth alone on one unit {:.2} {mass_unit} at most, at the ends {:.2} {mass_unit}; all of it {:.1} {mass_unit} for each {length_unit} of the bar; units {:.3} {length_unit} apart at most",
        w.fabric_kg / mass,
        w.total_kg / mass,
        most / mass,
        ends / mass,
        w.per_metre_kg / mass * length,
        w.widest_gap_m / length,
    ));
}

const fn kind_words(kind: ReleaseKind) -> &'static str {
    match kind {
        ReleaseKind::Unknown => "nobody has said yet",
        ReleaseKind::Energise => "power opens it",
        ReleaseKind::Deenergise => "power holds it shut",
    }
}

//! The hung fabric, its weight and how it falls; releases and their circuits; what to do if a release does not open.

use super::drops::drops;
use super::message;
use super::rows::{empty, named, take_out, usual_receiver};
use crate::widgets::fields::{Fields, free_key, heading, heads};
use crate::widgets::theme::bold;
use egui::{FontId, Grid, RichText, Ui};
use letfall_core::limits;
use letfall_core::reveal::{
    USUAL_RATED_C, USUAL_SAG, circuit_figures, fall_time, ohms_per_metre_20c, unit_places, weight_figures, worst_case,
};
use letfall_core::show::{
    Circuit, Conductor, ConductorClass, FallKind, Hang, HangUp, Instant, Kind, Label, Latency, Message, Output,
    OutputKey, Reach, Receiver, Release, ReleaseEnd, ReleaseKind, Route, Show, UnitKind, Units, Wiring, cautions,
};
use letfall_core::time::SongSpan;
use std::fmt;
use std::str::FromStr;

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
        show.hangs.push(Hang {
            key,
            name: format!("Fabric {}", show.hangs.len() + 1),
            width_m: 10.0,
            drop_m: 5.0,
            top_m: 6.0,
            areal_mass_kg_m2: 0.15,
            hardware_kg: 0.0,
            bar_m: None,
            reach: Reach::Unknown,
            sightline_m: 2.0,
            kind: FallKind::Falls,
            measured: Vec::new(),
        });
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
        fields.length(ui, &mut hang.sightline_m, units, &limits::SIGHTLINE, &name("Sightline height"));
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
    if hang.top_m > hang.sightline_m && hang.areal_mass_kg_m2 > 0.0 && hang.drop_m > 0.0 {
        let fall = |to| {
            let t = fall_time(hang, to);
            format!("{:.2} s, likely {:.2} to {:.2} ({})", t.expected, t.earliest, t.latest, t.source())
        };
        ui.label(format!("To the sightline {}", fall(Instant::Sightline)));
        ui.label(format!("To the floor {}", fall(Instant::Floor)));
    }
}

/// Releases.
pub fn releases(ui: &mut Ui, show: &mut Show, fields: &mut Fields) {
    heading(ui, "Releases");
    empty(ui, show.releases.is_empty(), "Dry contacts that let fabric go. None yet; a hang is needed first.");
    let (hangs, receivers, routes) = (show.hangs.clone(), show.receivers.clone(), show.routes.clone());
    let outputs = show.outputs.clone();
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
        weight(ui, release, &hangs, units);
        circuit(ui, release, units, fields);
        hang_up(ui, release, &routes, &outputs, fields);
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
            show.releases.push(Release {
                key,
                name: format!("Release {}", show.releases.len() + 1),
                hang,
                units: 8,
                units_at_m: Vec::new(),
                kind: ReleaseKind::Unknown,
                unit_kind: UnitKind::Unknown,
                receiver,
                message: message::note(60),
                stand_in: None,
                pulse: SongSpan::from_millis(500),
                ends: None,
                contact: Latency::default(),
                arm_before: SongSpan::from_millis(10_000),
                arm_after: SongSpan::from_millis(2_000),
                circuit: None,
                hang_up: None,
            });
        }
    });
    ui.label(
        "Electricity is for qualified people under local codes. A release that opens with power stays shut without it; \
         one held by power opens without it. A message that was sent does not show that the fabric fell.",
    );
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
    let receiver = receivers.iter().find(|r| r.key == release.receiver).cloned();
    Grid::new(("fires", release.key.as_str())).spacing([10.0, 6.0]).show(ui, |ui| {
        ui.label("Fired by");
        fields.choice(ui, &mut release.receiver, &named!(receivers), 130.0, &name("Receiver"));
        message::message(ui, fields, &mut release.message, receiver.as_ref(), &whose);
        ui.end_row();
        ui.label("Opened again");
        ends(ui, release, receiver.as_ref(), fields, &whose);
        ui.end_row();
        ui.label("Units");
        ui.horizontal(|ui| unit_row(ui, release, hangs, units, fields));
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
        if units == Units::Metric { (1.0, "kg", 1.0, "m") } else { (0.453_592_37, "lb", 0.3048, "ft") };
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

fn circuit(ui: &mut Ui, release: &mut Release, units: Units, fields: &mut Fields) {
    let whose = release.name.clone();
    let name = |part: &str| format!("{part} of {whose}");
    let mut known = release.circuit.is_some();
    fields.tick(ui, &mut known, "Circuit: its electrical facts are known", &name("Circuit"));
    if !known {
        release.circuit = None;
        return;
    }
    let c = release.circuit.get_or_insert_with(usual_circuit);
    Grid::new(("circuit", &whose)).spacing([10.0, 6.0]).show(ui, |ui| {
        heads(
            ui,
            &[
                "Supply",
                "Lowest supply",
                "Supply power",
                "Unit power",
                "at",
                "Rated to act from",
                "with a coil of",
                "Branch",
                "Branch voltage",
            ],
        );
        fields.number(ui, &mut c.supply_v, &limits::SUPPLY_V, &name("Supply voltage"));
        ui.horizontal(|ui| {
            fields.maybe(
                ui,
                &mut c.supply_low_v,
                c.supply_v * 0.9,
                &limits::SUPPLY_LOW_V,
                &name("Lowest supply voltage"),
            );
        });
        ui.horizontal(|ui| fields.maybe(ui, &mut c.supply_w, 100.0, &limits::SUPPLY_W, &name("Supply power")));
        fields.number(ui, &mut c.unit_w, &limits::UNIT_W, &name("Power of a unit"));
        fields.number(ui, &mut c.unit_v, &limits::UNIT_V, &name("Rated voltage of a unit"));
        fields.number(ui, &mut c.pull_in_v, &limits::PULL_IN_V, &name("Voltage at which a unit acts"));
        ui.horizontal(|ui| {
            let name = name("Coil temperature of that rating");
            fields.maybe(ui, &mut c.pull_in_c, USUAL_RATED_C, &limits::PULL_IN_C, &name);
        });
        ui.horizontal(|ui| fields.maybe(ui, &mut c.branch_a, 16.0, &limits::BRANCH_A, &name("Branch rating")));
        ui.horizontal(|ui| fields.maybe(ui, &mut c.branch_v, 230.0, &limits::BRANCH_V, &name("Branch voltage")));
        ui.end_row();
    });
    Grid::new(("cable", &whose)).spacing([10.0, 6.0]).show(ui, |ui| {
        heads(ui, &["Cable", "Wiring", "Feed or longest run", "Unit to unit", "Hottest cable", "Hottest coil"]);
        fields.choice(ui, &mut c.conductor, &cables(), 190.0, &name("Cable"));
        let (mut sort, feed, step) = match c.wiring {
            Wiring::Together { feed_m } => (0u8, feed_m, 1.0),
            Wiring::Star { longest_m } => (1, longest_m, 1.0),
            Wiring::Chain { feed_m, step_m } => (2, feed_m, step_m),
        };
        let (mut feed, mut step) = (feed, step);
        let sorts = [(0, "all at the end of one run"), (1, "each on its own run"), (2, "one after another")];
        let sorts: Vec<(u8, String)> = sorts.into_iter().map(|(n, w)| (n, w.to_owned())).collect();
        fields.choice(ui, &mut sort, &sorts, 180.0, &name("Wiring"));
        fields.length(ui, &mut feed, units, &limits::FEED, &name("Feed"));
        if sort == 2 {
            fields.length(ui, &mut step, units, &limits::UNIT_TO_UNIT, &name("Unit to unit"));
        } else {
            ui.label("");
        }
        c.wiring = match sort {
            0 => Wiring::Together { feed_m: feed },
            1 => Wiring::Star { longest_m: feed },
            _ => Wiring::Chain { feed_m: feed, step_m: step },
        };
        fields.number(ui, &mut c.cable_c, &limits::CABLE_C, &name("Hottest cable"));
        fields.number(ui, &mut c.coil_c, &limits::COIL_C, &name("Hottest coil"));
        ui.end_row();
    });
    if let (Ok(cold), Ok(worst)) =
        (circuit_figures(c, release.units, c.supply_v, 20.0, 20.0), worst_case(c, release.units))
    {
        ui.label(format!(
            "{:.2} A and {:.0} W cold. Hot and at {:.1} V from the supply: {:.2} V at the farthest unit, which then needs {:.2} V; margin {:.2} V",
            cold.current_a,
            cold.power_w,
            worst.supply_v,
            worst.far_v,
            worst.needed_v,
            worst.margin_v()
        ));
        let mut assumed = Vec::new();
        if c.supply_low_v.is_none() {
            assumed.push(format!("the supply gives {:.0} % less at worst", USUAL_SAG * 100.0));
        }
        if c.pull_in_c.is_none() {
            assumed.push(format!("the rating is for a coil at {USUAL_RATED_C:.0} °C"));
        }
        if !assumed.is_empty() {
            ui.label(RichText::new(format!("Assumed: {}", assumed.join("; "))).italics());
        }
    }
}

fn usual_circuit() -> Circuit {
    Circuit {
        supply_v: 24.0,
        supply_low_v: None,
        supply_w: None,
        unit_w: 10.0,
        unit_v: 24.0,
        pull_in_v: 18.0,
        pull_in_c: None,
        conductor: Conductor::Iec { mm2: 1.5, class: ConductorClass::Flexible },
        cable_c: 20.0,
        coil_c: 20.0,
        wiring: Wiring::Chain { feed_m: 20.0, step_m: 1.5 },
        branch_a: None,
        branch_v: None,
    }
}

/// All cables of both conductor types. They are listed separately because their figures hold for different temperatures.
fn cables() -> Vec<(Conductor, String)> {
    let mut all = Vec::new();
    for (class, words) in [(ConductorClass::Flexible, "flexible"), (ConductorClass::Fixed, "fixed")] {
        for mm2 in [0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0] {
            all.push((Conductor::Iec { mm2, class }, format!("{mm2} mm² {words} (IEC 60228)")));
        }
    }
    all.extend((0..=30).map(|n| (Conductor::Awg(n), format!("AWG {n} (NEC table 8)"))));
    all.retain(|(conductor, _)| ohms_per_metre_20c(*conductor).is_ok());
    all
}

fn output_name<'a>(outputs: &'a [Output], key: &'a OutputKey) -> &'a str {
    outputs.iter().find(|o| o.key == *key).map_or(key.as_str(), |o| o.name.as_str())
}

fn hang_up(ui: &mut Ui, release: &mut Release, routes: &[Route], outputs: &[Output], fields: &mut Fields) {
    let whose = release.name.clone();
    let name = |part: &str| format!("{part} of the plan for a stuck fabric of {whose}");
    let mut known = release.hang_up.is_some();
    fields.tick(
        ui,
        &mut known,
        "Plan for a stuck fabric: what happens if part of it, or all, does not fall",
        &name("Presence"),
    );
    if !known {
        release.hang_up = None;
        return;
    }
    let plan = release.hang_up.get_or_insert_with(HangUp::default);
    Grid::new(("hang-up", &whose)).num_columns(2).spacing([10.0, 6.0]).show(ui, |ui| {
        for (words, text) in
            [("Who says so", &mut plan.caller), ("The words", &mut plan.words), ("What is done next", &mut plan.then)]
        {
            ui.label(words);
            fields.text(ui, text, 520.0, &name(words));
            ui.end_row();
        }
        ui.label("Cues that wait");
        let mut hold = Labels(plan.hold.clone());
        fields.parsed(ui, &mut hold, 320.0, "L12 M5", &name("Cues that wait"));
        plan.hold = hold.0;
        ui.end_row();
        ui.label("Outputs show");
        ui.horizontal_wrapped(|ui| {
            for route in routes {
                let mut on = plan.show.contains(&route.key);
                let before = on;
                let words = format!("{}: {}", output_name(outputs, &route.output), route.name);
                fields.tick(ui, &mut on, &words, &name(&words));
                if on && !before {
                    plan.show.push(route.key.clone());
                } else if before && !on {
                    plan.show.retain(|k| *k != route.key);
                }
            }
        });
        ui.end_row();
        ui.label("Wait before trying again (0: never)");
        fields.seconds(ui, &mut plan.wait, &limits::HANG_UP_WAIT, &name("Wait"));
        ui.end_row();
    });
    ui.add_space(4.0);
    ui.label(
        RichText::new("Nobody goes under a fabric that may still fall; the competent person says when.")
            .font(FontId::new(14.0, bold())),
    );
}

/// A list of labels as text.
#[derive(Clone, PartialEq)]
struct Labels(Vec<Label>);

impl fmt::Display for Labels {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words: Vec<String> = self.0.iter().map(ToString::to_string).collect();
        f.write_str(&words.join(" "))
    }
}

impl FromStr for Labels {
    type Err = <Label as FromStr>::Err;

    fn from_str(text: &str) -> Result<Labels, Self::Err> {
        let words = text.split([' ', ',']).filter(|word| !word.is_empty());
        words.map(str::parse).collect::<Result<_, _>>().map(Labels)
    }
}

const fn kind_words(kind: ReleaseKind) -> &'static str {
    match kind {
        ReleaseKind::Unknown => "nobody has said yet",
        ReleaseKind::Energise => "power opens it",
        ReleaseKind::Deenergise => "power holds it shut",
    }
}

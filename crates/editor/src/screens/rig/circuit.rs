//! A release's circuit: what its coils, cable and supply are, and what reaches the farthest unit.

use super::drawings;
use crate::widgets::fields::{Fields, heads};
use egui::{Grid, RichText, Ui};
use letfall_core::limits;
use letfall_core::reveal::{USUAL_RATED_C, USUAL_SAG, circuit_figures, ohms_per_metre_20c, worst_case};
use letfall_core::show::{Circuit, Conductor, ConductorClass, Release, Units, Wiring};

/// The fields of a release's circuit, and its figures.
pub fn circuit(ui: &mut Ui, release: &mut Release, units: Units, fields: &mut Fields) {
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
    drawings::circuit(ui, release);
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

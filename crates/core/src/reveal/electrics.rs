//! What a release circuit delivers to its farthest coil.

use crate::show::{Circuit, Conductor, ConductorClass, Wiring};

/// Resistance of copper at `celsius` against 20 °C: (234.5 + t)/254.5 (check-values 8.1, from memory there).
pub fn copper_factor(celsius: f64) -> f64 {
    (234.5 + celsius) / 254.5
}

/// A conductor that is in neither table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoSuchCable {
    /// Not in IEC 60228's range.
    #[error("its cable's cross-section is none of 0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10 mm² (IEC 60228); give one of them")]
    Iec,
    /// Not in the AWG range.
    #[error("its cable is none of AWG 18, 16, 14, 12, 10, 8; give one of them")]
    Awg,
}

/// Ohms per metre of one conductor at 20 °C.
///
/// IEC 60228:2004 gives values at 20 °C. NEC chapter 9 table 8 gives values at 75 °C, which are converted to 20 °C here, so
/// that the two are never mixed.
///
/// # Errors
/// [`NoSuchCable`] for a size that its table does not have.
pub fn ohms_per_metre_20c(conductor: Conductor) -> Result<f64, NoSuchCable> {
    const IEC: [(f64, f64, f64); 8] = [
        (0.5, 36.0, 39.0),
        (0.75, 24.5, 26.0),
        (1.0, 18.1, 19.5),
        (1.5, 12.1, 13.3),
        (2.5, 7.41, 7.98),
        (4.0, 4.61, 4.95),
        (6.0, 3.08, 3.30),
        (10.0, 1.83, 1.91),
    ];
    /// Ohms per 1000 ft at 75 °C, stranded. 3.14 for AWG 14 is the table's own figure.
    #[allow(clippy::approx_constant)]
    const AWG: [(u8, f64); 6] = [(18, 7.95), (16, 4.99), (14, 3.14), (12, 1.98), (10, 1.24), (8, 0.778)];
    match conductor {
        Conductor::Iec { mm2, class } => {
            let row = IEC.into_iter().find(|row| (row.0 - mm2).abs() < 1e-9).ok_or(NoSuchCable::Iec)?;
            Ok(if class == ConductorClass::Fixed { row.1 } else { row.2 } / 1000.0)
        }
        Conductor::Awg(size) => {
            let row = AWG.into_iter().find(|row| row.0 == size).ok_or(NoSuchCable::Awg)?;
            Ok(row.1 / 304.8 / copper_factor(75.0))
        }
    }
}

/// The computed values of a release circuit, at the given temperatures and supply voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CircuitFigures {
    /// Current that all units draw together, amperes.
    pub current_a: f64,
    /// Power they take from the supply, watts.
    pub power_w: f64,
    /// Voltage at the farthest unit, volts, treating the coils as resistors.
    pub far_v: f64,
    /// Voltage lost on the way there, volts, if each unit drew its rated current: the pessimistic value.
    pub drop_constant_current_v: f64,
}

/// The coil temperature for which a maker states the pull-in voltage, °C, if nobody has said another.
pub const USUAL_RATED_C: f64 = 20.0;

/// How much less than its nominal voltage a supply gives at worst, if nobody has said: 5 %. Common practice, no source.
pub const USUAL_SAG: f64 = 0.05;

/// A circuit at its worst: hot cable, hot coils, lowest supply voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WorstCase {
    /// The supply voltage that it is worked out with, volts.
    pub supply_v: f64,
    /// What the farthest unit gets, volts.
    pub far_v: f64,
    /// What a hot unit needs to act, volts: its coil has more resistance than at the rated temperature, so it needs more voltage
    /// for the same current and the same pull.
    pub needed_v: f64,
}

impl WorstCase {
    /// What the farthest unit gets beyond what it needs, volts; below zero if it gets too little.
    pub fn margin_v(self) -> f64 {
        self.far_v - self.needed_v
    }
}

/// The voltage at which a unit acts when its coil is as hot as it gets, volts: the rated pull-in voltage times the ratio of the
/// coil's resistance then and at the temperature that the rating is for.
pub fn hot_pull_in_v(circuit: &Circuit) -> f64 {
    let rated_c = circuit.pull_in_c.unwrap_or(USUAL_RATED_C);
    circuit.pull_in_v * copper_factor(circuit.coil_c) / copper_factor(rated_c)
}

/// Works out a circuit of `units` units at its worst.
///
/// # Errors
/// [`NoSuchCable`] for a cable that is in neither table.
pub fn worst_case(circuit: &Circuit, units: u32) -> Result<WorstCase, NoSuchCable> {
    let supply_v = circuit.supply_low_v.unwrap_or(circuit.supply_v * (1.0 - USUAL_SAG));
    let figures = circuit_figures(circuit, units, supply_v, circuit.cable_c, circuit.coil_c)?;
    Ok(WorstCase { supply_v, far_v: figures.far_v, needed_v: hot_pull_in_v(circuit) })
}

/// Works out a circuit of `units` units.
///
/// # Errors
/// [`NoSuchCable`] for a cable that is in neither table.
pub fn circuit_figures(
    circuit: &Circuit,
    units: u32,
    supply_v: f64,
    cable_c: f64,
    coil_c: f64,
) -> Result<CircuitFigures, NoSuchCable> {
    let metre = ohms_per_metre_20c(circuit.conductor)? * copper_factor(cable_c);
    let coil = circuit.unit_v * circuit.unit_v / circuit.unit_w * copper_factor(coil_c);
    let rated = circuit.unit_w / circuit.unit_v;
    let n = f64::from(units.max(1));
    let loop_ohms = |metres: f64| 2.0 * metres * metre;
    let (far_v, current_a, drop) = match circuit.wiring {
        Wiring::Together { feed_m } => {
            let run = loop_ohms(feed_m);
            let current = supply_v / (coil / n + run);
            (supply_v - current * run, current, n * rated * run)
        }
        Wiring::Star { longest_m } => {
            let run = loop_ohms(longest_m);
            let one = supply_v / (coil + run);
            (supply_v - one * run, one * n, rated * run)
        }
        Wiring::Chain { feed_m, step_m } => {
            let (feed, step) = (loop_ohms(feed_m), loop_ohms(step_m));
            let (volts, amps) = chain(units, coil, step);
            let drop = feed * n * rated + (1..units.max(1)).map(|beyond| step * rated * f64::from(beyond)).sum::<f64>();
            let nearest = volts.last().copied().unwrap_or(1.0);
            let scale = supply_v / (nearest + amps * feed);
            (scale, amps * scale, drop)
        }
    };
    Ok(CircuitFigures { current_a, power_w: current_a * supply_v, far_v, drop_constant_current_v: drop })
}

/// The voltage at each unit of a chain, the farthest first, and the current into the nearest, if the farthest had one volt.
fn chain(units: u32, coil: f64, step: f64) -> (Vec<f64>, f64) {
    let (mut volts, mut amps) = (vec![1.0], 1.0 / coil);
    for _ in 1..units.max(1) {
        let here = volts.last().copied().unwrap_or(1.0) + amps * step;
        amps += here / coil;
        volts.push(here);
    }
    (volts, amps)
}

/// The voltage at each unit at the worst, volts, from the nearest to the farthest. Units that are wired alike get the same, or more.
///
/// # Errors
/// [`NoSuchCable`] for a cable that is in neither table.
pub fn unit_volts(circuit: &Circuit, units: u32) -> Result<Vec<f64>, NoSuchCable> {
    let worst = worst_case(circuit, units)?;
    let Wiring::Chain { step_m, .. } = circuit.wiring else {
        return Ok((0..units.max(1)).map(|_| worst.far_v).collect());
    };
    let metre = ohms_per_metre_20c(circuit.conductor)? * copper_factor(circuit.cable_c);
    let coil = circuit.unit_v * circuit.unit_v / circuit.unit_w * copper_factor(circuit.coil_c);
    let (mut volts, _) = chain(units, coil, 2.0 * step_m * metre);
    volts.reverse();
    Ok(volts.into_iter().map(|one| one * worst.far_v).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-6, "{a} is not {b}");
    }

    fn circuit(conductor: &str, wiring: &str, unit_w: f64) -> Circuit {
        serde_json::from_str(&format!(
            r#"{{"supply_v":24,"unit_w":{unit_w},"unit_v":24,"pull_in_v":18,"conductor":{conductor},"wiring":{wiring}}}"#
        ))
        .expect("a circuit")
    }

    /// check-values 8.2: 8 coils of 6.5 W at 24 V, 25 m one way, IEC 60228 class 5 at 20 °C.
    #[test]
    fn eight_coils_published_table() {
        for (mm2, drop, far) in [
            (0.75, 2.816_667, 21.479_180),
            (1.0, 2.112_5, 22.058_401),
            (1.5, 1.440_833, 22.640_768),
            (2.5, 0.864_5, 23.165_557),
            (4.0, 0.536_25, 23.475_470),
            (6.0, 0.357_5, 23.647_747),
        ] {
            let c = circuit(
                &format!(r#"{{"iec":{{"mm2":{mm2},"class":"flexible"}}}}"#),
                r#"{"together":{"feed_m":25}}"#,
                6.5,
            );
            let f = circuit_figures(&c, 8, 24.0, 20.0, 20.0).expect("figures");
            near(f.drop_constant_current_v, drop);
            near(f.far_v, far);
        }
    }

    /// check-values 8.2: 1.5 mm² at 60 °C: 22.441013 V at the coils, 1.667290 V lost at constant current.
    #[test]
    fn hot_cable() {
        let c = circuit(r#"{"iec":{"mm2":1.5,"class":"flexible"}}"#, r#"{"together":{"feed_m":25}}"#, 6.5);
        let f = circuit_figures(&c, 8, 24.0, 60.0, 20.0).expect("figures");
        near(f.far_v, 22.441_013);
        near(f.drop_constant_current_v, 1.667_290);
    }

    /// check-values 8.2: 6 units of 0.25 A, 10 m feed and 2 m steps, 1.0 mm² class 5.
    #[test]
    fn chain() {
        let c = circuit(r#"{"iec":{"mm2":1,"class":"flexible"}}"#, r#"{"chain":{"feed_m":10,"step_m":2}}"#, 6.0);
        let f = circuit_figures(&c, 6, 24.0, 20.0, 20.0).expect("figures");
        near(f.drop_constant_current_v, 0.877_5);
        near(f.far_v, 23.150_352);
    }

    /// Kirchhoff's laws at every unit of a chain, worked from the volts alone: what flows in a piece of cable is what all coils beyond it
    /// take. The last is the far unit of the published figures.
    #[test]
    fn each_unit_of_a_chain_obeys_the_laws_of_circuits() {
        let mut c = circuit(r#"{"iec":{"mm2":1,"class":"flexible"}}"#, r#"{"chain":{"feed_m":10,"step_m":2}}"#, 6.0);
        c.supply_low_v = Some(24.0);
        let volts = unit_volts(&c, 6).expect("volts");
        assert_eq!(volts.len(), 6);
        near(volts[5], 23.150_352);
        // 19.5 Ω/km (IEC 60228 class 5, 1 mm²) there and back; coils of 24 V and 6 W.
        let (metre, coil) = (2.0 * 0.0195, 24.0 * 24.0 / 6.0);
        for at in 0..6 {
            let beyond: f64 = volts[at..].iter().map(|v| v / coil).sum();
            let (before, metres) = if at == 0 { (24.0, 10.0) } else { (volts[at - 1], 2.0) };
            near(before - volts[at], beyond * metres * metre);
        }
        let star = circuit(r#"{"iec":{"mm2":1,"class":"flexible"}}"#, r#"{"star":{"longest_m":10}}"#, 6.0);
        assert_eq!(unit_volts(&star, 3).expect("volts"), [worst_case(&star, 3).expect("worst").far_v; 3]);
    }

    /// The resistance of copper at 45 °C is 1.0982 times that at 20 °C (check-values 8.1), so a unit rated to act from 19.2 V at
    /// 20 °C needs 21.09 V. Seven units of 6.5 W in a chain on 1.5 mm² at 40 °C and 23 V leave 21.98 V to the last: 0.9 V more, and
    /// not the 2.8 V that the cold rating would give. Both worked by hand from check-values 8.1 and 8.2.
    #[test]
    fn a_hot_coil_needs_more_volts() {
        let mut c =
            circuit(r#"{"iec":{"mm2":1.5,"class":"flexible"}}"#, r#"{"chain":{"feed_m":18,"step_m":1.5}}"#, 6.5);
        (c.supply_low_v, c.pull_in_v, c.cable_c, c.coil_c) = (Some(23.0), 19.2, 40.0, 45.0);
        let worst = worst_case(&c, 7).expect("figures");
        assert!((worst.needed_v - 19.2 * 279.5 / 254.5).abs() < 1e-9);
        assert!((worst.needed_v - 21.09).abs() < 5e-3, "{}", worst.needed_v);
        assert!((worst.far_v - 21.98).abs() < 5e-3, "{}", worst.far_v);
        assert!((worst.margin_v() - 0.9).abs() < 0.01, "{}", worst.margin_v());
        near(worst.supply_v, 23.0);
        // A maker who states it for a coil at 45 °C has counted the heat in.
        c.pull_in_c = Some(45.0);
        near(hot_pull_in_v(&c), 19.2);
        c.pull_in_c = Some(0.0);
        near(hot_pull_in_v(&c), 19.2 * 279.5 / 234.5);
    }

    /// The far voltage of a chain by another way than going back from its end: each unit's current is found by relaxation, from
    /// Ohm's and Kirchhoff's laws, with hot coils on a hot cable.
    #[test]
    fn a_hot_chain_by_relaxation() {
        let mut c =
            circuit(r#"{"iec":{"mm2":0.75,"class":"flexible"}}"#, r#"{"chain":{"feed_m":30,"step_m":3}}"#, 10.0);
        (c.supply_low_v, c.cable_c, c.coil_c) = (Some(21.5), 55.0, 70.0);
        let (units, metre) = (9usize, 0.026 * (234.5 + 55.0) / 254.5);
        let coil = 24.0 * 24.0 / 10.0 * (234.5 + 70.0) / 254.5;
        let (feed, step) = (2.0 * 30.0 * metre, 2.0 * 3.0 * metre);
        let mut volts = vec![21.5; units];
        for _ in 0..10_000 {
            let mut at = 21.5 - feed * volts.iter().map(|v| v / coil).sum::<f64>();
            let before = volts.clone();
            for unit in 0..units {
                if unit > 0 {
                    at -= step * before[unit..].iter().map(|v| v / coil).sum::<f64>();
                }
                volts[unit] = f64::midpoint(volts[unit], at);
            }
        }
        let worst = worst_case(&c, 9).expect("figures");
        assert!((worst.far_v - volts[units - 1]).abs() < 1e-6, "{} is not {}", worst.far_v, volts[units - 1]);
        let all: f64 = volts.iter().map(|v| v / coil).sum();
        let figures = circuit_figures(&c, 9, 21.5, 55.0, 70.0).expect("figures");
        assert!((figures.current_a - all).abs() < 1e-6);
        assert!((figures.power_w - all * 21.5).abs() < 1e-4);
    }

    /// A star by Ohm's law: each unit has the run and its coil in series, and all of them draw together.
    #[test]
    fn a_hot_star() {
        let mut c = circuit(r#"{"iec":{"mm2":1.0,"class":"fixed"}}"#, r#"{"star":{"longest_m":40}}"#, 8.0);
        (c.cable_c, c.coil_c) = (50.0, 60.0);
        let run = 2.0 * 40.0 * 0.0181 * (234.5 + 50.0) / 254.5;
        let coil = 72.0 * (234.5 + 60.0) / 254.5;
        let worst = worst_case(&c, 5).expect("figures");
        // Nobody has said how low the supply gets: 5 % under 24 V.
        near(worst.supply_v, 22.8);
        near(worst.far_v, 22.8 * coil / (coil + run));
        near(circuit_figures(&c, 5, 22.8, 50.0, 60.0).expect("figures").current_a, 5.0 * 22.8 / (coil + run));
    }

    /// check-values 8.2: AWG stranded at 75 °C, 100 ft one way, 2 A at 24 V.
    #[test]
    fn awg_hot_table() {
        for (size, drop) in [(18, 3.180), (16, 1.996), (14, 1.256), (12, 0.792), (10, 0.496)] {
            let c = circuit(&format!(r#"{{"awg":{size}}}"#), r#"{"together":{"feed_m":30.48}}"#, 48.0);
            near(circuit_figures(&c, 1, 24.0, 75.0, 20.0).expect("figures").drop_constant_current_v, drop);
        }
        near(copper_factor(60.0), 1.157_171);
        near(copper_factor(80.0), 1.235_756);
        near(1.0 / copper_factor(75.0), 0.822_294);
    }

    #[test]
    fn unknown_cables_are_refused() {
        assert_eq!(ohms_per_metre_20c(Conductor::Awg(13)), Err(NoSuchCable::Awg));
        let odd = Conductor::Iec { mm2: 1.3, class: ConductorClass::Fixed };
        assert_eq!(ohms_per_metre_20c(odd), Err(NoSuchCable::Iec));
    }
}

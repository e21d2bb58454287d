//! Weights of what hangs overhead: figures to discuss with the competent person, never a verdict.
//!
//! No forces in the carrying member or its suspension are worked out: whoever is competent does that, with the maker's data.

use crate::show::{Hang, Release};

/// A hang's weights, in kilograms.
#[derive(Debug, Clone, PartialEq)]
pub struct WeightFigures {
    /// The fabric.
    pub fabric_kg: f64,
    /// Fabric and hardware.
    pub total_kg: f64,
    /// The fabric's weight on each release unit, from left to right, by tributary width: half of the cloth between it and each
    /// neighbour, and the cloth between an outermost unit and the fabric's edge.
    pub units_kg: Vec<f64>,
    /// Total weight per metre of the member that carries it.
    pub per_metre_kg: f64,
    /// Greatest distance between two neighbouring units, metres; 0 for one unit.
    pub widest_gap_m: f64,
    /// Distance from the fabric's edges to the unit next to each, the greater of both, metres.
    pub end_m: f64,
}

impl WeightFigures {
    /// The most fabric that one unit carries, kilograms, and how many units carry that much.
    pub fn most_kg(&self) -> (f64, usize) {
        let most = self.units_kg.iter().copied().fold(0.0, f64::max);
        (most, self.units_kg.iter().filter(|kg| **kg > most - 1e-9).count())
    }
}

/// Where the units of a release stand, in metres from the fabric's left edge and in order: as stated, or else evenly, with one at
/// each end. A single unit stands in the middle.
pub fn unit_places(hang: &Hang, release: &Release) -> Vec<f64> {
    if !release.units_at_m.is_empty() {
        // A unit beyond the fabric's edge holds what hangs at the edge.
        let mut places: Vec<f64> = release.units_at_m.iter().map(|at| at.clamp(0.0, hang.width_m)).collect();
        places.sort_by(f64::total_cmp);
        return places;
    }
    match release.units {
        0 => Vec::new(),
        1 => vec![hang.width_m / 2.0],
        units => {
            let gaps = f64::from(units - 1);
            (0..units).map(|at| hang.width_m * f64::from(at) / gaps).collect()
        }
    }
}

/// Works out the weights of a hang held by the units of a release.
pub fn weight_figures(hang: &Hang, release: &Release) -> WeightFigures {
    let fabric_kg = hang.cloth_kg();
    let total_kg = fabric_kg + hang.hardware_kg;
    let places = unit_places(hang, release);
    let last = places.len().saturating_sub(1);
    let width = |at: usize| {
        let from = if at == 0 { 0.0 } else { f64::midpoint(places[at - 1], places[at]) };
        let to = if at == last { hang.width_m } else { f64::midpoint(places[at], places[at + 1]) };
        to - from
    };
    let ends = places.first().zip(places.last()).map_or(0.0, |(first, last)| first.max(hang.width_m - last));
    WeightFigures {
        fabric_kg,
        total_kg,
        units_kg: (0..places.len()).map(|at| fabric_kg * width(at) / hang.width_m).collect(),
        per_metre_kg: total_kg / hang.width_m,
        widest_gap_m: places.windows(2).map(|pair| pair[1] - pair[0]).fold(0.0, f64::max),
        end_m: ends,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hang(width: f64, drop: f64, mass: f64) -> Hang {
        let text = format!(
            r#"{{"key":"h","name":"H","width_m":{width},"drop_m":{drop},"top_m":7,"areal_mass_kg_m2":{mass},"sightline_m":1.8}}"#
        );
        serde_json::from_str(&text).expect("a hang")
    }

    fn release(units: u32, places: &str) -> Release {
        let text = format!(
            r#"{{"key":"r","name":"R","hang":"h","units":{units},"units_at_m":{places},"receiver":"b","message":{{"program":{{"number":1}}}}}}"#
        );
        serde_json::from_str(&text).expect("a release")
    }

    fn near(found: &[f64], wanted: &[f64]) {
        assert_eq!(found.len(), wanted.len());
        assert!(found.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-9), "{found:?} is not {wanted:?}");
    }

    /// Common practice, no source: 8 units along a 12.192 m drop, both ends and evenly between, stand 1.742 m apart.
    #[test]
    fn a_large_drop() {
        let w = weight_figures(&hang(12.192, 6.096, 0.15), &release(8, "[]"));
        assert!((w.widest_gap_m - 1.742).abs() < 5e-4);
        assert!((w.total_kg - 11.148).abs() < 1e-3);
        assert!(w.end_m.abs() < 1e-9);
    }

    /// Tributary width (common practice in statics, no source): a uniform load on supports that stand evenly gives each end half of
    /// what one between carries. 9 × 5.2 m of 0.11 kg/m² on 7 units: 0.429 kg at the ends and 0.858 kg between.
    #[test]
    fn the_end_units_carry_half_a_bay() {
        let w = weight_figures(&hang(9.0, 5.2, 0.11), &release(7, "[]"));
        let mut wanted = vec![0.858; 7];
        (wanted[0], wanted[6]) = (0.429, 0.429);
        near(&w.units_kg, &wanted);
        assert!((w.units_kg.iter().sum::<f64>() - w.fabric_kg).abs() < 1e-9);
        assert!((w.most_kg().0 - 0.858).abs() < 1e-9);
        assert_eq!(w.most_kg().1, 5);
    }

    /// Worked by hand: a cloth of 1 kg per metre of width. The outermost units carry what hangs beyond them too.
    #[test]
    fn units_that_stand_unevenly() {
        let w = weight_figures(&hang(6.0, 2.0, 0.5), &release(3, "[5.5,0.2,2.0]"));
        near(&w.units_kg, &[1.1, 2.65, 2.25]);
        assert!((w.widest_gap_m - 3.5).abs() < 1e-9);
        assert!((w.end_m - 0.5).abs() < 1e-9);
        let w = weight_figures(&hang(6.0, 2.0, 0.5), &release(3, "[0.7,2.0,5.9]"));
        assert!((w.end_m - 0.7).abs() < 1e-9);
    }

    #[test]
    fn one_unit_carries_all_and_none_carries_nothing() {
        let w = weight_figures(&hang(6.0, 2.0, 0.5), &release(1, "[]"));
        near(&w.units_kg, &[6.0]);
        assert_eq!((w.widest_gap_m, w.end_m), (0.0, 3.0));
        let w = weight_figures(&hang(6.0, 2.0, 0.5), &release(0, "[]"));
        near(&w.units_kg, &[]);
        assert_eq!((w.widest_gap_m, w.end_m, w.most_kg()), (0.0, 0.0, (0.0, 0)));
        assert!((w.per_metre_kg - 1.0).abs() < 1e-9);
    }
}

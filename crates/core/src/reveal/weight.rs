//! Weights of what hangs overhead: figures to discuss with the competent person, never a verdict.

use crate::show::Hang;

/// A hang's weights, in kilograms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeightFigures {
    /// The fabric.
    pub fabric_kg: f64,
    /// Fabric and hardware.
    pub total_kg: f64,
    /// The fabric's weight on each of `units` release units, if it were shared evenly.
    pub per_unit_kg: f64,
    /// Total weight per metre of the member that carries it.
    pub per_metre_kg: f64,
    /// Distance between units, metres, with one at each end and the rest evenly between; 0 for one unit.
    pub spacing_m: f64,
}

/// Works out the weights of a hang held by `units` release units.
pub fn weight_figures(hang: &Hang, units: u32) -> WeightFigures {
    let fabric_kg = hang.width_m * hang.drop_m * hang.areal_mass_kg_m2;
    let total_kg = fabric_kg + hang.hardware_kg;
    WeightFigures {
        fabric_kg,
        total_kg,
        per_unit_kg: fabric_kg / f64::from(units.max(1)),
        per_metre_kg: total_kg / hang.width_m,
        spacing_m: if units > 1 { hang.width_m / f64::from(units - 1) } else { 0.0 },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice, no source: 8 units along a 12.192 m drop, both ends and evenly between, stand 1.742 m apart.
    #[test]
    fn a_large_drop() {
        let hang: Hang = serde_json::from_str(
            r#"{"key":"h","name":"H","width_m":12.192,"drop_m":6.096,"top_m":7,"areal_mass_kg_m2":0.15,"sightline_m":1.8}"#,
        )
        .expect("a hang");
        let w = weight_figures(&hang, 8);
        assert!((w.spacing_m - 1.742).abs() < 5e-4);
        assert!((w.total_kg - 11.148).abs() < 1e-3);
    }
}

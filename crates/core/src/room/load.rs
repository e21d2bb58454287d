//! What hangs: figures for the conversation with the competent person, who decides. No forces in bars or roofs, no capacity, no verdict.

use crate::reveal::weight_figures;
use crate::show::room::Bar;
use crate::show::{Hang, Release, Show};

/// What a hang weighs and what its units' maker states.
#[derive(Debug, Clone, PartialEq)]
pub struct HangLoad {
    /// The cloth, kilograms. It is also what is carried when it is folded.
    pub cloth_kg: f64,
    /// What stays up there: carrier, units, fittings, kilograms.
    pub hardware_kg: f64,
    /// The most and the least cloth on one unit by the width that it holds, kilograms; `None` without units.
    pub unit_kg: Option<(f64, f64)>,
}

/// What a bar is to carry.
#[derive(Debug, Clone, PartialEq)]
pub struct BarLoad {
    /// The bar.
    pub bar: String,
    /// Its own mass, kilograms, if somebody has stated it.
    pub own_kg: Option<f64>,
    /// Cloth and hardware of all fabrics on it, kilograms.
    pub hung_kg: f64,
    /// The same for each metre of the bar.
    pub per_metre_kg: f64,
    /// The fabrics on it, by name.
    pub hangs: Vec<String>,
    /// Names of the wished points that should carry it.
    pub points: Vec<String>,
}

/// Works out what a hang weighs.
pub fn hang_load(hang: &Hang, release: Option<&Release>) -> HangLoad {
    let unit_kg = release.filter(|release| release.units > 0).map(|release| {
        let figures = weight_figures(hang, release);
        let least = figures.units_kg.iter().copied().fold(f64::INFINITY, f64::min);
        (figures.most_kg().0, least)
    });
    HangLoad { cloth_kg: hang.width_m * hang.drop_m * hang.areal_mass_kg_m2, hardware_kg: hang.hardware_kg, unit_kg }
}

/// What each bar of the room is to carry.
pub fn bar_loads(show: &Show) -> Vec<BarLoad> {
    let Some(room) = &show.room else { return Vec::new() };
    let of = |bar: &Bar| {
        let hung: Vec<&Hang> = room
            .fabrics
            .iter()
            .filter(|place| place.bar == bar.name)
            .filter_map(|place| show.hang(&place.hang))
            .collect();
        let hung_kg = hung.iter().map(|hang| hang_load(hang, None)).map(|load| load.cloth_kg + load.hardware_kg).sum();
        BarLoad {
            bar: bar.name.clone(),
            own_kg: bar.mass_kg,
            hung_kg,
            per_metre_kg: hung_kg / bar.length_m,
            hangs: hung.iter().map(|hang| hang.name.clone()).collect(),
            points: room.points.iter().filter(|point| point.bar == bar.name).map(|point| point.name.clone()).collect(),
        }
    };
    room.bars.iter().map(of).collect()
}

//! What hangs: figures for the conversation with the competent person, who decides. No forces in bars or roofs, no capacity, no verdict.

use crate::reveal::weight_figures;
use crate::show::room::{Bar, Room};
use crate::show::{Hang, Release, Show};

/// What a hang weighs and what its units' maker states.
#[derive(Debug, Clone, PartialEq)]
pub struct HangLoad {
    /// The cloth, kilograms, counted flat and without what weighs its hem. It is also what is carried when it is folded.
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
    /// The most of it on a metre of the bar, where it hangs: each fabric spread over its own width. A figure to talk over; units and fittings
    /// pull at points.
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
    HangLoad { cloth_kg: hang.cloth_kg(), hardware_kg: hang.hardware_kg, unit_kg }
}

/// The most kilograms on a metre of a bar: where fabrics hang one before the other, their masses add up.
fn densest(room: &Room, bar: &Bar, hung: &[&Hang]) -> f64 {
    let spans: Vec<(f64, f64, f64)> = hung
        .iter()
        .filter_map(|hang| {
            let place = room.fabric(&hang.key)?;
            let load = hang_load(hang, None);
            let width = hang.width_m.min(bar.length_m);
            let left = place.across_m - width / 2.0;
            Some((left, left + width, (load.cloth_kg + load.hardware_kg) / width))
        })
        .collect();
    let at = |x: f64| spans.iter().filter(|(from, to, _)| *from <= x && x < *to).map(|(.., kg)| kg).sum::<f64>();
    spans.iter().map(|(from, ..)| at(*from)).fold(0.0, f64::max)
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
            per_metre_kg: densest(room, bar, &hung),
            hangs: hung.iter().map(|hang| hang.name.clone()).collect(),
            points: room.points.iter().filter(|point| point.bar == bar.name).map(|point| point.name.clone()).collect(),
        }
    };
    room.bars.iter().map(of).collect()
}

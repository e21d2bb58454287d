//! Who looks, who is looked at, and the lamps behind them.

use super::Spot;
use crate::show::rig::is_default;
use crate::show::{HangKey, PresetKey};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A seat that is looked from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Seat {
    /// Its name, such as "row A, middle".
    pub name: String,
    /// Which it is.
    #[serde(default)]
    pub kind: SeatKind,
    /// The eye of whoever sits there, above the floor of the hall.
    pub eye: Spot,
}

/// Which seat it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SeatKind {
    /// In the front.
    Front,
    /// In the middle.
    #[default]
    Centre,
    /// The worst one that is sold.
    Worst,
}

impl SeatKind {
    /// All of them.
    pub const ALL: [SeatKind; 3] = [SeatKind::Front, SeatKind::Centre, SeatKind::Worst];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            SeatKind::Front => "front",
            SeatKind::Centre => "centre",
            SeatKind::Worst => "worst",
        }
    }
}

/// A block of rows, each as far behind and above the one before it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SeatBlock {
    /// Its name, such as "stalls".
    pub name: String,
    /// How many rows.
    pub rows: u16,
    /// Seats in each row.
    pub seats: u16,
    /// Its middle, metres across.
    #[serde(default)]
    pub across_m: f64,
    /// From one seat to the next, metres.
    #[serde(default = "half")]
    pub seat_m: f64,
    /// The eyes of the first row: metres before the stage's front edge.
    pub first_m: f64,
    /// From one row to the next, metres.
    pub row_m: f64,
    /// How much higher each row's floor is than that before it, metres.
    #[serde(default, skip_serializing_if = "is_default")]
    pub rise_m: f64,
    /// The first row's floor above that of the hall, metres.
    #[serde(default, skip_serializing_if = "is_default")]
    pub floor_m: f64,
    /// The eye above the row's own floor, metres. 1.2 m seated: EN 13200-1 uses it.
    #[serde(default = "eye")]
    pub eye_m: f64,
    /// Whether each row sits in the gaps of the row in front.
    #[serde(default, skip_serializing_if = "is_default")]
    pub staggered: bool,
}

const fn half() -> f64 {
    0.5
}

const fn eye() -> f64 {
    1.2
}

/// Somebody behind the fabric.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Performer {
    /// Who, as a role, such as "conductor".
    pub name: String,
    /// Metres across.
    pub across_m: f64,
    /// Metres deep.
    pub deep_m: f64,
    /// The top of the head above where they stand, metres.
    #[serde(default = "head")]
    pub head_m: f64,
    /// What they stand on above the floor there, metres.
    #[serde(default, skip_serializing_if = "is_default")]
    pub raised_m: f64,
    /// Their width, metres.
    #[serde(default = "half")]
    pub width_m: f64,
}

const fn head() -> f64 {
    1.7
}

/// A lamp behind a fabric that throws silhouettes on it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BackLamp {
    /// Its name.
    pub name: String,
    /// The fabric that it shines on.
    pub hang: HangKey,
    /// Where it is.
    pub at: Spot,
    /// Width of what shines, metres: a lens or a bare lamp, not the housing.
    pub source_m: f64,
    /// The preset with which it is on; not given: with every one that lights this fabric from behind.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub preset: Option<PresetKey>,
}

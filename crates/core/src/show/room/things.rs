//! What hangs and stands in the room.

use super::{Known, Spot};
use crate::show::rig::is_default;
use crate::show::{HangKey, OutputKey};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A bar, batten or truss across the stage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Bar {
    /// Its name, such as "bar 2".
    pub name: String,
    /// What it is.
    #[serde(default)]
    pub kind: BarKind,
    /// How deep it hangs, metres upstage of the stage's front edge.
    pub deep_m: f64,
    /// Its middle, metres across.
    #[serde(default)]
    pub across_m: f64,
    /// Its length, metres.
    pub length_m: f64,
    /// Its trim: how high it hangs at the show above the floor beneath it, metres.
    pub trim_m: f64,
    /// Its own mass, kilograms, if somebody has stated it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_kg: Option<f64>,
    /// Who stated these, and when.
    #[serde(default, skip_serializing_if = "is_default")]
    pub known: Known,
}

/// What carries a fabric.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BarKind {
    /// A pipe or bar.
    #[default]
    Bar,
    /// A wooden batten.
    Batten,
    /// A truss.
    Truss,
    /// A wire or catenary.
    Wire,
}

impl BarKind {
    /// All of them.
    pub const ALL: [BarKind; 4] = [BarKind::Bar, BarKind::Batten, BarKind::Truss, BarKind::Wire];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            BarKind::Bar => "bar",
            BarKind::Batten => "batten",
            BarKind::Truss => "truss",
            BarKind::Wire => "wire",
        }
    }
}

/// A place from which something should be hung. Whether it may be is for the competent person to say; Letfall notes the answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HangingPoint {
    /// Its name, such as "P3".
    pub name: String,
    /// Where it is.
    pub at: Spot,
    /// The bar that it should carry.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub bar: String,
    /// What is above the false ceiling there, or what it is fixed to.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub above: String,
    /// Its limit in the words of whoever stated it. Empty: nobody has.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub limit: String,
    /// Who stated the limit, and when.
    #[serde(default, skip_serializing_if = "is_default")]
    pub known: Known,
    /// How people reach it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub reach: String,
}

/// Something in the way, as an upright box.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Obstacle {
    /// Its name.
    pub name: String,
    /// What it is.
    #[serde(default)]
    pub kind: ObstacleKind,
    /// The middle of its underside.
    pub at: Spot,
    /// Width across, metres.
    pub width_m: f64,
    /// Depth, metres.
    pub depth_m: f64,
    /// Height, metres.
    pub height_m: f64,
    /// How far everything must keep from it, metres, as marked on it or as stated. Not given: the usual, if there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep_m: Option<f64>,
    /// Who measured or stated it, and when.
    #[serde(default, skip_serializing_if = "is_default")]
    pub known: Known,
}

/// What is in the way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ObstacleKind {
    /// Anything else.
    #[default]
    Other,
    /// Loudspeakers.
    Speakers,
    /// A beam or column.
    Beam,
    /// A sprinkler's deflector. Under it stays free what the installer or the local code says; 0.45 m is often asked for.
    Sprinkler,
    /// A hot lamp, with the distance that is marked on it.
    HotLamp,
    /// A railing, such as a balcony's front.
    Railing,
    /// A wall.
    Wall,
}

impl ObstacleKind {
    /// All of them.
    pub const ALL: [ObstacleKind; 7] = [
        ObstacleKind::Other,
        ObstacleKind::Speakers,
        ObstacleKind::Beam,
        ObstacleKind::Sprinkler,
        ObstacleKind::HotLamp,
        ObstacleKind::Railing,
        ObstacleKind::Wall,
    ];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            ObstacleKind::Other => "something else",
            ObstacleKind::Speakers => "loudspeakers",
            ObstacleKind::Beam => "beam or column",
            ObstacleKind::Sprinkler => "sprinkler",
            ObstacleKind::HotLamp => "hot lamp",
            ObstacleKind::Railing => "railing",
            ObstacleKind::Wall => "wall",
        }
    }
}

impl Obstacle {
    /// The room to keep under a sprinkler's deflector where nobody has stated another, metres. 0.45 m: common practice, no source;
    /// the installer and the local code decide.
    pub const UNDER_SPRINKLER_M: f64 = 0.45;

    /// Whose figure the distance is, if it is `assumed` or not.
    pub fn keep_words(&self, assumed: bool) -> &'static str {
        match (assumed, self.known.is_stated()) {
            (true, _) => "assumed, ask whoever installed it",
            (false, true) => "as stated",
            (false, false) => "as entered, and nobody stands for it",
        }
    }

    /// How far things must keep from it, and whether nobody has stated it and the usual is assumed. `None` if nothing is asked for.
    pub fn keeps(&self) -> Option<(f64, bool)> {
        match (self.keep_m, self.kind) {
            (Some(metres), _) => Some((metres, false)),
            (None, ObstacleKind::Sprinkler) => Some((Self::UNDER_SPRINKLER_M, true)),
            (None, _) => None,
        }
    }
}

/// Where a fabric hangs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FabricPlace {
    /// Which.
    pub hang: HangKey,
    /// Its middle, metres across.
    #[serde(default)]
    pub across_m: f64,
    /// How deep, metres upstage of the stage's front edge.
    pub deep_m: f64,
    /// The bar that carries it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub bar: String,
    /// Room that the competent person wants between its top edge and what carries it, metres. Not given: nobody has said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clearance_m: Option<f64>,
}

/// Where a screen's picture is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ScreenPlace {
    /// The output that shows on it.
    pub output: OutputKey,
    /// The middle of its lower edge.
    pub at: Spot,
    /// Width, metres.
    pub width_m: f64,
    /// Height, metres.
    pub height_m: f64,
}

/// Where a projector stands or hangs, and its lens.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Projector {
    /// Its name.
    pub name: String,
    /// The output that it shines on.
    pub output: OutputKey,
    /// Its lens.
    pub at: Spot,
    /// The lens's smallest throw ratio: distance divided by the picture's width.
    pub throw_least: f64,
    /// Its greatest; the same for a lens that cannot zoom.
    pub throw_most: f64,
    /// How far the lens can shift the picture up or down, in percent of the picture's height. 0: not at all.
    #[serde(default, skip_serializing_if = "is_default")]
    pub shift_percent: f64,
    /// Pixels across the picture; 0 if not known.
    #[serde(default, skip_serializing_if = "is_default")]
    pub pixels: u32,
    /// Who stated it, and when.
    #[serde(default, skip_serializing_if = "is_default")]
    pub known: Known,
}

/// Floor that stays free.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FreeArea {
    /// Its name.
    pub name: String,
    /// What it is.
    #[serde(default)]
    pub kind: FreeKind,
    /// Its middle, metres across.
    pub across_m: f64,
    /// Its middle, metres deep.
    pub deep_m: f64,
    /// Width across, metres.
    pub width_m: f64,
    /// Depth, metres.
    pub depth_m: f64,
}

/// Why it stays free.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum FreeKind {
    /// A way out.
    #[default]
    Exit,
    /// An aisle.
    Aisle,
    /// Where fabric falls.
    DropZone,
}

impl FreeKind {
    /// All of them.
    pub const ALL: [FreeKind; 3] = [FreeKind::Exit, FreeKind::Aisle, FreeKind::DropZone];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            FreeKind::Exit => "way out",
            FreeKind::Aisle => "aisle",
            FreeKind::DropZone => "drop zone",
        }
    }
}

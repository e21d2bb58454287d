//! The room: what is where, as facts with who found them out and when. Letfall draws and measures it; it never says what holds.
//!
//! One set of coordinates for plan, section and every seat's view, in metres. *Across* is counted from the middle of the stage's front
//! edge, to the right as the audience sees it. *Deep* is counted from that edge, upstage; the audience sits at negative depths. *High*
//! is counted from the floor of the hall, but for what a crew gives from the floor beneath it: the trim of a bar, the top of a
//! fabric and the height of a person.

mod people;
mod survey;
mod things;
mod validate;

pub use people::{BackLamp, Performer, Seat, SeatBlock, SeatKind};
pub use survey::{SurveyAnswer, SurveyPart, SurveyQuestion};
pub use things::{
    Bar, BarKind, FabricPlace, FreeArea, FreeKind, HangingPoint, Obstacle, ObstacleKind, Projector, ScreenPlace,
};
pub(super) use validate::room as validate;

use super::rig::is_default;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Where a fact comes from.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Known {
    /// Who found it out or stated it, and how, such as "lighting operator, with a tape". Empty: nobody has said.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub by: String,
    /// When, as YYYY-MM-DD.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub on: String,
}

impl Known {
    /// Whether somebody stands for the fact.
    pub fn is_stated(&self) -> bool {
        !self.by.trim().is_empty()
    }

    /// Who and when, such as "caretaker, 2026-10-02"; empty if nobody.
    pub fn words(&self) -> String {
        match (self.by.trim(), self.on.trim()) {
            ("", _) => String::new(),
            (by, "") => by.to_owned(),
            (by, on) => format!("{by}, {on}"),
        }
    }
}

/// A place in the room, metres.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Spot {
    /// Across, to the right as the audience sees it.
    #[serde(rename = "across_m")]
    pub across: f64,
    /// Deep, upstage from the stage's front edge.
    #[serde(rename = "deep_m")]
    pub deep: f64,
    /// High, above the floor of the hall.
    #[serde(rename = "high_m", default)]
    pub high: f64,
}

/// The room in which the show plays.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Room {
    /// Its width between the walls, metres.
    pub width_m: f64,
    /// From the stage's front edge to the wall behind the audience, metres.
    pub house_m: f64,
    /// Height of the ceiling, or of the false ceiling, above the floor of the hall, metres.
    pub ceiling_m: f64,
    /// Who measured these, and when.
    #[serde(default, skip_serializing_if = "is_default")]
    pub known: Known,
    /// The stage.
    pub stage: StageFloor,
    /// Bars, battens and trusses.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bars: Vec<Bar>,
    /// Where something should be hung from.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub points: Vec<HangingPoint>,
    /// What stands or hangs in the way.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub obstacles: Vec<Obstacle>,
    /// Where the fabrics hang.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fabrics: Vec<FabricPlace>,
    /// Where the screens are.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub screens: Vec<ScreenPlace>,
    /// Where projectors stand or hang.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub projectors: Vec<Projector>,
    /// Seats that are looked from.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub seats: Vec<Seat>,
    /// Blocks of rows.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub blocks: Vec<SeatBlock>,
    /// Who stands where at the big moment.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub performers: Vec<Performer>,
    /// Lamps that throw silhouettes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lamps: Vec<BackLamp>,
    /// Exits and aisles that stay free.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub keep_free: Vec<FreeArea>,
    /// What was found out on a walk round the room.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub survey: Vec<SurveyAnswer>,
}

/// The stage's floor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StageFloor {
    /// Width, metres. It lies in the middle of the room.
    pub width_m: f64,
    /// Depth from its front edge to the wall behind it, metres.
    pub depth_m: f64,
    /// Height above the floor of the hall, metres; 0 for none.
    #[serde(default)]
    pub height_m: f64,
    /// Who measured it, and when.
    #[serde(default, skip_serializing_if = "is_default")]
    pub known: Known,
}

impl Room {
    /// A room of a usual size with a stage and nothing in it, to begin from. Nobody has measured it, and it says so.
    pub fn usual() -> Room {
        Room {
            width_m: 14.0,
            house_m: 18.0,
            ceiling_m: 7.0,
            known: Known::default(),
            stage: StageFloor { width_m: 10.0, depth_m: 7.0, height_m: 0.9, known: Known::default() },
            bars: Vec::new(),
            points: Vec::new(),
            obstacles: Vec::new(),
            fabrics: Vec::new(),
            screens: Vec::new(),
            projectors: Vec::new(),
            seats: Vec::new(),
            blocks: Vec::new(),
            performers: Vec::new(),
            lamps: Vec::new(),
            keep_free: Vec::new(),
            survey: Vec::new(),
        }
    }

    /// Height of the floor at a place above the floor of the hall, metres: the stage's on the stage, 0 elsewhere.
    pub fn floor_at(&self, across: f64, deep: f64) -> f64 {
        let on_stage = across.abs() <= self.stage.width_m / 2.0 && (0.0..=self.stage.depth_m).contains(&deep);
        if on_stage { self.stage.height_m } else { 0.0 }
    }

    /// The bar with this name.
    pub fn bar(&self, name: &str) -> Option<&Bar> {
        self.bars.iter().find(|bar| bar.name == name)
    }

    /// Where a fabric hangs.
    pub fn fabric(&self, hang: &super::HangKey) -> Option<&FabricPlace> {
        self.fabrics.iter().find(|place| place.hang == *hang)
    }

    /// What was found out about a question of the survey, if anything.
    pub fn answer(&self, question: SurveyQuestion) -> Option<&SurveyAnswer> {
        self.survey.iter().find(|answer| answer.question == question && !answer.answer.trim().is_empty())
    }
}

//! The days from load-in to return: who is needed when, what is hung, and the rehearsals that lead to the moment, each a step of one
//! ladder. Letfall lists what people have settled; how people work overhead is for the competent person and the local rules.

use super::rig::is_default;
use crate::time::WallTime;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The plan of the days.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Week {
    /// When the house is open to the crew.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub access: String,
    /// When it must be quiet or empty.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub curfew: String,
    /// Lift or tower: from whom, from when to when, who may drive it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub lift: String,
    /// Power: who connects it, and when.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub power: String,
    /// The calls.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub calls: Vec<WeekCall>,
}

impl Week {
    /// Whether nobody has planned anything.
    pub fn is_empty(&self) -> bool {
        is_default(self)
    }

    /// The calls in the order of their days and hours; those without a day come last, in the order in which they stand.
    pub fn in_order(&self) -> Vec<&WeekCall> {
        let mut calls: Vec<&WeekCall> = self.calls.iter().collect();
        calls.sort_by_key(|call| {
            let day = call.date.trim();
            (day.is_empty(), day, call.from.map(WallTime::micros))
        });
        calls
    }
}

/// One call: people come together to do something.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct WeekCall {
    /// The day, as YYYY-MM-DD; empty while it is open.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub date: String,
    /// From when.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<WallTime>,
    /// Until when; past midnight if it is earlier than `from`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub until: Option<WallTime>,
    /// What, such as "load-in".
    pub what: String,
    /// Which step of the rehearsals it is, if it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub step: Option<RehearsalStep>,
    /// Roles that are needed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub who: Vec<String>,
    /// Whether people work overhead or beneath something that is being hung.
    #[serde(skip_serializing_if = "is_default")]
    pub overhead: bool,
    /// Anything else.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// Whether two texts name the same role, however they are written.
pub fn is_same_role(one: &str, other: &str) -> bool {
    one.trim().to_lowercase() == other.trim().to_lowercase()
}

impl WeekCall {
    /// Whether it needs a role.
    pub fn needs(&self, role: &str) -> bool {
        self.who.iter().any(|who| is_same_role(who, role))
    }
}

/// A step of the rehearsals, each of which makes the next one possible. Common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum RehearsalStep {
    /// Round a table.
    Paper,
    /// From cue to cue, without the fabric.
    CueToCue,
    /// The fabric is up, and the stand-in is sent in place of the release.
    StandIn,
    /// The first drops, in working light on an empty stage.
    FirstDrops,
    /// Drops in show light.
    ShowLight,
    /// With performers in their places.
    InPlace,
    /// As on the night.
    Dress,
}

impl RehearsalStep {
    /// All steps in their order.
    pub const ALL: [RehearsalStep; 7] = [
        RehearsalStep::Paper,
        RehearsalStep::CueToCue,
        RehearsalStep::StandIn,
        RehearsalStep::FirstDrops,
        RehearsalStep::ShowLight,
        RehearsalStep::InPlace,
        RehearsalStep::Dress,
    ];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            RehearsalStep::Paper => "on paper",
            RehearsalStep::CueToCue => "cue to cue, no fabric",
            RehearsalStep::StandIn => "fabric up, stand-in",
            RehearsalStep::FirstDrops => "first drops, working light",
            RehearsalStep::ShowLight => "drops in show light",
            RehearsalStep::InPlace => "performers in place",
            RehearsalStep::Dress => "dress",
        }
    }

    /// What is hung.
    pub const fn hung(self) -> &'static str {
        match self {
            RehearsalStep::Paper | RehearsalStep::CueToCue => "nothing",
            RehearsalStep::StandIn => "the fabric, ties on",
            _ => "the fabric, ties off and counted before each drop",
        }
    }

    /// What happens at the release.
    pub const fn mode(self) -> &'static str {
        match self {
            RehearsalStep::Paper => "read aloud",
            RehearsalStep::CueToCue => "release locked",
            RehearsalStep::StandIn => "stand-in sent, contact out",
            RehearsalStep::FirstDrops => "armed, three drops at least, each one timed",
            RehearsalStep::ShowLight | RehearsalStep::InPlace | RehearsalStep::Dress => "armed as on the night",
        }
    }

    /// Who is behind or beneath the fabric.
    pub const fn behind(self) -> &'static str {
        match self {
            RehearsalStep::Paper | RehearsalStep::CueToCue => "whoever is needed",
            RehearsalStep::StandIn => "performers at their marks, away from the drop zone",
            RehearsalStep::FirstDrops | RehearsalStep::ShowLight => "nobody: the stage is empty",
            RehearsalStep::InPlace | RehearsalStep::Dress => "performers at their marks, the drop zone clear",
        }
    }
}

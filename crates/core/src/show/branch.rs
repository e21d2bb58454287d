//! What is said, done and sent when a release takes another course than the planned one: the fabric stays, is stuck, or falls early.

use super::rig::is_default;
use super::{Label, MediaKey, PresetKey, RouteKey};
use crate::time::SongSpan;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The courses that a release can take, other than falling when planned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Course {
    /// Nobody armed it in time, or let go: it is not sent.
    Stays,
    /// It was sent, and part of the fabric did not fall.
    Stuck,
    /// The fabric fell before its time.
    Early,
}

impl Course {
    /// All of them.
    pub const ALL: [Course; 3] = [Course::Stays, Course::Stuck, Course::Early];

    /// Its name, as it is shown.
    pub const fn name(self) -> &'static str {
        match self {
            Course::Stays => "fabric stays",
            Course::Stuck => "stuck",
            Course::Early => "early",
        }
    }
}

/// What people say and do, and what Letfall sends at once, when a release takes another course.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Branch {
    /// Who says it, as a role.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub caller: String,
    /// The words.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub words: String,
    /// Who tells those without a headset, such as band and choir, and how.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub told_by: String,
    /// Lighting presets to recall.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lights: Vec<PresetKey>,
    /// Media to start, such as a still picture of the film.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub media: Vec<MediaKey>,
    /// What outputs show.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub show: Vec<RouteKey>,
    /// What is done next.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub then: String,
}

/// What happens if a unit stays shut.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HangUp {
    /// Who calls it, as a role.
    #[serde(default)]
    pub caller: String,
    /// The words of the call.
    #[serde(default)]
    pub words: String,
    /// Who tells those without a headset, such as band and choir, and how.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub told_by: String,
    /// Cues to hold.
    #[serde(default)]
    pub hold: Vec<Label>,
    /// Lighting presets to recall.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lights: Vec<PresetKey>,
    /// Media to start.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub media: Vec<MediaKey>,
    /// What outputs show meanwhile.
    #[serde(default)]
    pub show: Vec<RouteKey>,
    /// What is done next.
    #[serde(default)]
    pub then: String,
    /// How long to wait before trying again, µs; 0 for never.
    #[serde(rename = "wait_us", default, skip_serializing_if = "is_default")]
    pub wait: SongSpan,
}

/// What is sent at once when a release takes another course: lights first, because people come before pictures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SentInstead<'a> {
    /// Lighting presets.
    pub lights: &'a [PresetKey],
    /// Media.
    pub media: &'a [MediaKey],
    /// Routes of outputs.
    pub routes: &'a [RouteKey],
}

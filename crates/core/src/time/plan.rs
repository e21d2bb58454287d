//! What a person writes down about a song's time: metre marks, tempo marks, pins. [`super::Grid`] is built from it.

use super::{BarBeat, Metre, SongTime, Tempo, TickSpan};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The marks a grid is built from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GridPlan {
    /// Song time of the downbeat of bar 1 in microseconds. Only used if there are no pins.
    #[serde(rename = "origin_us", default, skip_serializing_if = "is_zero")]
    pub origin: SongTime,
    /// Metre marks in bar order; the first at bar 1.
    pub metres: Vec<MetreMark>,
    /// Tempo marks in order; the first at 1|1.
    pub tempos: Vec<TempoMark>,
    /// Bar lines whose song time is known, in bar order. Between two pins the marked tempo is stretched evenly.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pins: Vec<Pin>,
}

#[allow(clippy::trivially_copy_pass_by_ref)] // serde's signature
fn is_zero(time: &SongTime) -> bool {
    *time == SongTime::ZERO
}

/// A metre that starts at this bar.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MetreMark {
    /// Bar number.
    pub bar: i32,
    /// The metre.
    pub metre: Metre,
    /// Cuts this one bar to so many ticks (a pick-up, or a metre change in mid-bar); the next bar is whole again.
    #[serde(rename = "cut_ticks", default, skip_serializing_if = "Option::is_none")]
    pub cut: Option<TickSpan>,
}

/// A tempo that starts at this place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TempoMark {
    /// Where it starts.
    pub at: BarBeat,
    /// The tempo there.
    pub tempo: Tempo,
    /// Changes gradually to another tempo until the next mark, instead of staying constant.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ramp: Option<Ramp>,
}

/// A gradual change of tempo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Ramp {
    /// The tempo reached at the next mark.
    pub to: Tempo,
    /// How it gets there. Possible laws differ by up to 0.67 s over two bars, so the file names the one that is meant.
    pub law: RampLaw,
}

/// How a ramp goes from one tempo to the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum RampLaw {
    /// Beats a minute change evenly with each beat: 60 N ln(b1/b0) / (b1 − b0) seconds for N beats.
    BpmLinearInBeats,
}

/// A bar line at a known song time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pin {
    /// Bar number.
    pub bar: i32,
    /// Song time of its downbeat, in microseconds.
    #[serde(rename = "at_us")]
    pub at: SongTime,
}

impl GridPlan {
    /// One metre and one tempo throughout, bar 1 at song time 0.
    pub fn steady(metre: Metre, tempo: Tempo) -> GridPlan {
        GridPlan {
            origin: SongTime::ZERO,
            metres: vec![MetreMark { bar: 1, metre, cut: None }],
            tempos: vec![TempoMark { at: BarBeat::downbeat(1), tempo, ramp: None }],
            pins: Vec::new(),
        }
    }
}

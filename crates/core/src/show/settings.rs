//! Settings for the whole show.

use super::DayCalls;
use crate::time::SongSpan;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Units in which people read lengths and weights. The file is always metric.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Units {
    /// Metres and kilograms.
    #[default]
    Metric,
    /// Feet and pounds.
    Imperial,
}

/// Settings for the whole show.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Settings {
    /// Units on screen and paper.
    pub units: Units,
    /// How far ahead of a go its standby is said, µs; moved back to a whole beat. 8 s: common practice, no source.
    #[serde(rename = "standby_us")]
    pub standby: SongSpan,
    /// How far ahead of a release's go its standby is said, µs; moved back to a whole beat. 30 s: common practice, no source.
    #[serde(rename = "release_standby_us")]
    pub release_standby: SongSpan,
    /// How long a person takes from the caller's word to the press of a key, µs. 0.4 s: common practice, no source.
    #[serde(rename = "person_us")]
    pub person: SongSpan,
    /// Its standard deviation, µs. 0.15 s: common practice, no source.
    #[serde(rename = "person_spread_us")]
    pub person_spread: SongSpan,
    /// Speech rate of the person who calls, words a minute. 150: common practice, no source.
    pub words_per_minute: u16,
    /// How much before its beat a picture may land, µs. ITU-R BT.1359-1 detectability: 125 ms (sound late).
    #[serde(rename = "early_us")]
    pub early: SongSpan,
    /// How much after its beat a picture may land, µs. ITU-R BT.1359-1 detectability: 45 ms (sound early).
    #[serde(rename = "late_us")]
    pub late: SongSpan,
    /// How long the audience may be left with nothing to see at a handover, µs.
    #[serde(rename = "gap_us")]
    pub gap: SongSpan,
    /// Bars of count-in before bar 1.
    pub count_in_bars: u16,
    /// Distance from loudspeaker to the seat where picture and sound should meet, metres. 0: no correction.
    pub seat_m: f64,
    /// Air temperature, °C, for the speed of sound.
    pub air_c: f64,
    /// The calls of the day.
    pub day_calls: DayCalls,
    /// How long before the doors open all work between two services is to be done, minutes. 10: common practice, no source.
    pub before_doors_min: u16,
}

impl Settings {
    /// The first bar that is counted: that of the count-in, which is 1 without one.
    pub fn first_bar(&self) -> i32 {
        1 - i32::from(self.count_in_bars)
    }
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            units: Units::Metric,
            standby: SongSpan::from_millis(8000),
            release_standby: SongSpan::from_millis(30_000),
            person: SongSpan::from_millis(400),
            person_spread: SongSpan::from_millis(150),
            words_per_minute: 150,
            early: SongSpan::from_millis(125),
            late: SongSpan::from_millis(45),
            gap: SongSpan::from_millis(250),
            count_in_bars: 2,
            seat_m: 0.0,
            air_c: 20.0,
            day_calls: DayCalls::default(),
            before_doors_min: 10,
        }
    }
}

//! Where a cue lands, in the show file: `{ "bar": 33, "beat": 2 }` with `ticks` and `nudge_us` where they are not 0, or a song time,
//! `{ "song_us": 83456789 }`. The text of older files, `33|2+480 -0.12s` or `83.456789s`, is read too.

use super::Anchor;
use crate::text_form::text_or_fields;
use crate::time::{BarBeat, SongSpan, SongTime};
use serde::{Deserialize, Serialize};

/// The numbers of an anchor: bar, beat, ticks and nudge, or a song time alone.
#[derive(Serialize, Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct Fields {
    #[serde(skip_serializing_if = "Option::is_none")]
    bar: Option<i32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    beat: Option<u16>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ticks: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    nudge_us: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    song_us: Option<i64>,
}

impl From<&Anchor> for Fields {
    fn from(anchor: &Anchor) -> Fields {
        match anchor {
            Anchor::Clock(time) => Fields { song_us: Some(time.micros()), ..Fields::default() },
            Anchor::Grid { place, nudge } => Fields {
                bar: Some(place.bar),
                beat: Some(place.beat),
                ticks: Some(place.tick).filter(|ticks| *ticks > 0),
                nudge_us: Some(nudge.micros()).filter(|nudge| *nudge != 0),
                song_us: None,
            },
        }
    }
}

impl TryFrom<Fields> for Anchor {
    type Error = String;

    fn try_from(fields: Fields) -> Result<Anchor, String> {
        let Fields { bar, beat, ticks, nudge_us, song_us } = fields;
        // A nudge has the range of a song time.
        let song_time = |micros| SongTime::from_micros(micros).map_err(|why| why.to_string());
        match (song_us, bar) {
            (Some(song), None) if (beat, ticks, nudge_us) == (None, None, None) => song_time(song).map(Anchor::Clock),
            (Some(_), _) => Err("song_us stands alone: a cue is on a bar or on the clock, not on both".to_owned()),
            (None, None) => Err("missing field `bar`".to_owned()),
            (None, Some(bar)) => {
                let place = BarBeat { bar, beat: beat.unwrap_or(1), tick: ticks.unwrap_or(0) }.sane()?;
                let nudge = SongSpan::from_micros(song_time(nudge_us.unwrap_or(0))?.micros());
                Ok(Anchor::Grid { place, nudge })
            }
        }
    }
}

text_or_fields!(Anchor, Fields, "where a cue lands, such as { \"bar\": 33, \"beat\": 2 } or { \"song_us\": 83456789 }");

impl schemars::JsonSchema for Anchor {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Anchor".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        let day = SongTime::MAX.micros();
        schemars::json_schema!({
            "description": "where a cue lands: a place in the bars (bar and counted beat, ticks of 1/960 quarter after the beat, µs after that), or a song time in µs",
            "type": "object",
            "properties": {
                "bar": { "type": "integer", "minimum": -BarBeat::MAX_BAR, "maximum": BarBeat::MAX_BAR },
                "beat": { "type": "integer", "minimum": 1, "maximum": 64, "default": 1 },
                "ticks": { "type": "integer", "minimum": 0, "maximum": BarBeat::MAX_TICK, "default": 0 },
                "nudge_us": { "type": "integer", "minimum": -day, "maximum": day, "default": 0 },
                "song_us": { "type": "integer", "minimum": -day, "maximum": day }
            },
            "additionalProperties": false
        })
    }
}

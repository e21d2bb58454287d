//! Where a cue lands, in the show file: `{ "bar": 33, "beat": 2 }` with `ticks` and `nudge_us` where they are not 0, or a song time,
//! `{ "song_us": 83456789 }`. The text of older files, `33|2+480 -0.12s` or `83.456789s`, is read too.

use super::Anchor;
use crate::time::{BarBeat, SongSpan, SongTime};
use serde::de::{Error as _, MapAccess, Visitor};
use serde::ser::SerializeMap as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

impl Serialize for Anchor {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut map = to.serialize_map(None)?;
        match self {
            Anchor::Clock(time) => map.serialize_entry("song_us", &time.micros())?,
            Anchor::Grid { place, nudge } => {
                map.serialize_entry("bar", &place.bar)?;
                map.serialize_entry("beat", &place.beat)?;
                if place.tick > 0 {
                    map.serialize_entry("ticks", &place.tick)?;
                }
                if *nudge != SongSpan::ZERO {
                    map.serialize_entry("nudge_us", &nudge.micros())?;
                }
            }
        }
        map.end()
    }
}

const FIELDS: [&str; 5] = ["bar", "beat", "ticks", "nudge_us", "song_us"];

impl<'de> Deserialize<'de> for Anchor {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Anchor, D::Error> {
        struct Form;

        impl<'de> Visitor<'de> for Form {
            type Value = Anchor;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("where a cue lands, such as { \"bar\": 33, \"beat\": 2 } or { \"song_us\": 83456789 }")
            }

            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Anchor, E> {
                text.parse().map_err(E::custom)
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Anchor, A::Error> {
                let (mut bar, mut beat, mut tick, mut nudge, mut song) = (None, None, None, None, None);
                while let Some(name) = map.next_key::<String>()? {
                    match name.as_str() {
                        "bar" => bar = Some(map.next_value()?),
                        "beat" => beat = Some(map.next_value()?),
                        "ticks" => tick = Some(map.next_value()?),
                        "nudge_us" => nudge = Some(map.next_value::<i64>()?),
                        "song_us" => song = Some(map.next_value::<i64>()?),
                        other => return Err(A::Error::unknown_field(other, &FIELDS)),
                    }
                }
                match (song, bar) {
                    (Some(song), None) if beat.is_none() && tick.is_none() && nudge.is_none() => {
                        SongTime::from_micros(song).map(Anchor::Clock).map_err(A::Error::custom)
                    }
                    (Some(_), _) => {
                        Err(A::Error::custom("song_us stands alone: a cue is on a bar or on the clock, not on both"))
                    }
                    (None, None) => Err(A::Error::missing_field("bar")),
                    (None, Some(bar)) => {
                        let place = BarBeat { bar, beat: beat.unwrap_or(1), tick: tick.unwrap_or(0) };
                        if !place.is_sane() {
                            return Err(A::Error::custom(crate::time::out_of_bounds(place)));
                        }
                        let nudge = nudge.unwrap_or(0);
                        SongTime::from_micros(nudge).map_err(A::Error::custom)?; // a nudge has the same range
                        Ok(Anchor::Grid { place, nudge: SongSpan::from_micros(nudge) })
                    }
                }
            }
        }

        from.deserialize_any(Form)
    }
}

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

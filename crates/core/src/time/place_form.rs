//! Places in the bars in the show file: separate numbers, as in `{ "bar": 33, "beat": 2, "ticks": 480 }`. Ticks of 0 are left out. The
//! text of older files, `33|2+480`, is read too.

use super::BarBeat;
use serde::de::{Error as _, MapAccess, Visitor};
use serde::ser::SerializeMap as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

impl Serialize for BarBeat {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut map = to.serialize_map(None)?;
        map.serialize_entry("bar", &self.bar)?;
        map.serialize_entry("beat", &self.beat)?;
        if self.tick > 0 {
            map.serialize_entry("ticks", &self.tick)?;
        }
        map.end()
    }
}

impl<'de> Deserialize<'de> for BarBeat {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<BarBeat, D::Error> {
        struct Place;

        impl<'de> Visitor<'de> for Place {
            type Value = BarBeat;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a place in the bars, such as { \"bar\": 33, \"beat\": 2 }")
            }

            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<BarBeat, E> {
                text.parse().map_err(E::custom)
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<BarBeat, A::Error> {
                let mut place = BarBeat { bar: 1, beat: 1, tick: 0 };
                let mut has_bar = false;
                while let Some(name) = map.next_key::<String>()? {
                    match name.as_str() {
                        "bar" => (place.bar, has_bar) = (map.next_value()?, true),
                        "beat" => place.beat = map.next_value()?,
                        "ticks" => place.tick = map.next_value()?,
                        other => return Err(A::Error::unknown_field(other, &["bar", "beat", "ticks"])),
                    }
                }
                if !has_bar {
                    return Err(A::Error::missing_field("bar"));
                }
                if place.is_sane() { Ok(place) } else { Err(A::Error::custom(out_of_bounds(place))) }
            }
        }

        from.deserialize_any(Place)
    }
}

/// Why a place is refused.
pub(crate) fn out_of_bounds(place: BarBeat) -> String {
    format!(
        "{place} is no place in the bars; use bars within ±{}, beats from 1 to 64 and at most {} ticks",
        BarBeat::MAX_BAR,
        BarBeat::MAX_TICK
    )
}

impl schemars::JsonSchema for BarBeat {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "BarBeat".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "description": "a place in the bars: bar and counted beat, and ticks of 1/960 quarter after the beat",
            "type": "object",
            "properties": {
                "bar": { "type": "integer", "minimum": -BarBeat::MAX_BAR, "maximum": BarBeat::MAX_BAR },
                "beat": { "type": "integer", "minimum": 1, "maximum": 64, "default": 1 },
                "ticks": { "type": "integer", "minimum": 0, "maximum": BarBeat::MAX_TICK, "default": 0 }
            },
            "required": ["bar"],
            "additionalProperties": false
        })
    }
}

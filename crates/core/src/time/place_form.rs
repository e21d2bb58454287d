//! Places in the bars in the show file: separate numbers, as in `{ "bar": 33, "beat": 2, "ticks": 480 }`. Ticks of 0 are left out. The
//! text of older files, `33|2+480`, is read too.

use super::BarBeat;
use crate::text_form::text_or_fields;
use serde::{Deserialize, Serialize};

/// The numbers of a place.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Fields {
    bar: i32,
    #[serde(default = "first")]
    beat: u16,
    #[serde(default, skip_serializing_if = "is_none")]
    ticks: u32,
}

const fn first() -> u16 {
    1
}

#[allow(clippy::trivially_copy_pass_by_ref)] // serde's signature
const fn is_none(ticks: &u32) -> bool {
    *ticks == 0
}

impl From<&BarBeat> for Fields {
    fn from(place: &BarBeat) -> Fields {
        Fields { bar: place.bar, beat: place.beat, ticks: place.tick }
    }
}

impl TryFrom<Fields> for BarBeat {
    type Error = String;

    fn try_from(fields: Fields) -> Result<BarBeat, String> {
        BarBeat { bar: fields.bar, beat: fields.beat, tick: fields.ticks }.sane()
    }
}

text_or_fields!(BarBeat, Fields, "a place in the bars, such as { \"bar\": 33, \"beat\": 2 }");

impl BarBeat {
    /// The place, if it is within the bounds that a show may have, or else why it is refused.
    pub(crate) fn sane(self) -> Result<BarBeat, String> {
        if self.is_sane() {
            return Ok(self);
        }
        Err(format!(
            "{self} is no place in the bars; use bars within ±{}, beats from 1 to 64 and at most {} ticks",
            BarBeat::MAX_BAR,
            BarBeat::MAX_TICK
        ))
    }
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

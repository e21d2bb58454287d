//! Types that are short text in the show file. They are parsed without a copy, a refusal gives the type's own reason, and the
//! JSON Schema describes them by a pattern.

/// Makes a type with `Display` and `FromStr` a string in the file.
macro_rules! text_form {
    ($type:ty, $name:literal, $what:literal, $pattern:literal) => {
        impl serde::Serialize for $type {
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                to.collect_str(self)
            }
        }

        impl<'de> serde::Deserialize<'de> for $type {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                struct Text;
                impl serde::de::Visitor<'_> for Text {
                    type Value = $type;
                    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                        f.write_str($what)
                    }
                    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<$type, E> {
                        text.parse().map_err(E::custom)
                    }
                }
                from.deserialize_str(Text)
            }
        }

        impl schemars::JsonSchema for $type {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                $name.into()
            }
            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!({ "type": "string", "description": $what, "pattern": $pattern })
            }
        }
    };
}

/// Makes a type the fields of `$fields` in the file, and reads the text of older files too. `$fields` is made from a reference to the type,
/// and the type from it, or else a reason.
macro_rules! text_or_fields {
    ($type:ty, $fields:ty, $what:literal) => {
        impl serde::Serialize for $type {
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                <$fields>::from(self).serialize(to)
            }
        }

        impl<'de> serde::Deserialize<'de> for $type {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                struct Form;
                impl<'de> serde::de::Visitor<'de> for Form {
                    type Value = $type;
                    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                        f.write_str($what)
                    }
                    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<$type, E> {
                        text.parse().map_err(E::custom)
                    }
                    fn visit_map<A: serde::de::MapAccess<'de>>(self, map: A) -> Result<$type, A::Error> {
                        let fields = <$fields>::deserialize(serde::de::value::MapAccessDeserializer::new(map))?;
                        <$type>::try_from(fields).map_err(serde::de::Error::custom)
                    }
                }
                from.deserialize_any(Form)
            }
        }
    };
}

/// Makes a whole-number type an integer in the file. `$read` is a function from `i64` to the type, `$write` the other way.
macro_rules! number_form {
    ($type:ty, $name:literal, $what:literal, $min:expr, $max:expr, $read:expr, $write:expr) => {
        impl serde::Serialize for $type {
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                let write: fn(&$type) -> i64 = $write;
                to.serialize_i64(write(self))
            }
        }

        impl<'de> serde::Deserialize<'de> for $type {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                let number = <i64 as serde::Deserialize>::deserialize(from)?;
                if !($min..=$max).contains(&number) {
                    return Err(serde::de::Error::custom(format!(
                        "{number} is not {}; use {} to {}",
                        $what, $min, $max
                    )));
                }
                let read: fn(i64) -> $type = $read;
                Ok(read(number))
            }
        }

        impl schemars::JsonSchema for $type {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                $name.into()
            }
            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!({ "type": "integer", "description": $what, "minimum": $min, "maximum": $max })
            }
        }
    };
}

pub(crate) use {number_form, text_form, text_or_fields};

//! The limits of numbers, written into the schema of the show file.

use crate::limits::{self, Limit};
use serde_json::{Map, Value, json};

/// Adds the range, unit and step to every number in the schema that has a limit.
pub fn limit(schema: &mut Value) {
    for limit in limits::ALL {
        let Some((kind, field)) = limit.field.split_once('.') else { continue };
        if let Some(of) = schema.get_mut("$defs").and_then(|kinds| kinds.get_mut(kind)) {
            write(of, field, limit);
        }
    }
}

/// Adds a limit to every field of this name, anywhere within a type.
fn write(schema: &mut Value, field: &str, limit: &Limit) {
    match schema {
        Value::Object(object) => {
            if let Some(Value::Object(found)) = object.get_mut("properties").and_then(|fields| fields.get_mut(field)) {
                into(found, limit);
            }
            object.values_mut().for_each(|below| write(below, field, limit));
        }
        Value::Array(list) => list.iter_mut().for_each(|below| write(below, field, limit)),
        _ => {}
    }
}

fn into(field: &mut Map<String, Value>, limit: &Limit) {
    // For a list, the limit is that of each of its numbers.
    if let Some(Value::Object(items)) = field.get_mut("items") {
        into(items, limit);
        return;
    }
    field.insert("minimum".into(), number(limit.low));
    field.insert("maximum".into(), number(limit.high));
    field.insert("x-step".into(), number(limit.step));
    if !limit.unit.is_empty() {
        field.insert("x-unit".into(), json!(limit.unit));
    }
}

/// Writes whole numbers as integers, so that the range of an integer field is in integers too.
fn number(value: f64) -> Value {
    let whole = crate::time::round::nearest(value);
    if whole as f64 == value { json!(whole) } else { json!(value) }
}

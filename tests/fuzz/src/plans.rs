//! Shows for the fuzz targets `check`, `schedule` and `export`: a demo show in which the input's bytes replace values by others that the
//! schema allows. What the reader refuses is left out, so that the code behind it is reached.

use letfall_core::file;
use letfall_core::prepared::{OutsideFacts, Prepared, PreparedShow};
use serde_json::Value;
use std::sync::Arc;

const SHOWS: [&str; 3] = [
    include_str!("../../../demo-shows/first-opener.letfall"),
    include_str!("../../../demo-shows/lantern-night.letfall"),
    include_str!("../../../demo-shows/three-houses.letfall"),
];

/// Numbers at which something may go wrong.
const NUMBERS: [f64; 22] = [
    0.0,
    1.0,
    -1.0,
    2.0,
    0.001,
    0.01,
    0.5,
    60.0,
    64.0,
    100.0,
    127.0,
    255.0,
    1000.0,
    65_535.0,
    1e6,
    2e6,
    3.6e9,
    8.64e10,
    -8.64e10,
    1e12,
    2_147_483_647.0,
    -2_147_483_648.0,
];

/// Texts at which something may go wrong.
const TEXTS: [&str; 20] = [
    "",
    " ",
    "go",
    "1|1",
    "-1|1",
    "2000000|1",
    "-2000000|64+245760",
    "33|2 -0.12s",
    "86400s",
    "-86400s",
    "0s",
    "0t",
    "1/8=1000",
    "1000",
    "3.6",
    "23:59:59",
    "latest",
    "stop stop stop",
    "é“—",
    "front",
];

/// How many values there are at or below `value` that can be replaced.
fn count(value: &Value) -> usize {
    match value {
        Value::Object(fields) => fields.values().map(count).sum::<usize>() + fields.len(),
        Value::Array(items) => items.iter().map(count).sum::<usize>() + items.len(),
        _ => 0,
    }
}

/// Replaces the value with number `at`, counted as in [`count`].
fn replace(value: &mut Value, at: &mut usize, with: &dyn Fn(&mut Value)) -> bool {
    let each = |below: &mut Value, at: &mut usize| {
        if *at == 0 {
            with(below);
            return true;
        }
        *at -= 1;
        replace(below, at, with)
    };
    match value {
        Value::Object(fields) => fields.values_mut().any(|below| each(below, at)),
        Value::Array(items) => items.iter_mut().any(|below| each(below, at)),
        _ => false,
    }
}

fn changed(value: &mut Value, [kind, low, high]: [u8; 3]) {
    let number = NUMBERS[usize::from(low) % NUMBERS.len()] + f64::from(high % 3) - 1.0;
    match value {
        Value::Number(old) if kind % 4 == 0 => {
            *value = serde_json::json!(old.as_f64().unwrap_or(0.0) * f64::from(low) / 16.0)
        }
        // Whole numbers stay whole: most fields take nothing else.
        Value::Number(old) if old.is_i64() || old.is_u64() => *value = serde_json::json!(number as i64),
        Value::Number(_) => *value = serde_json::json!(number),
        Value::String(_) => *value = Value::from(TEXTS[usize::from(low) % TEXTS.len()]),
        Value::Bool(flag) => *flag = !*flag,
        Value::Array(items) => match kind % 4 {
            0 => items.clear(),
            1 => items.truncate(usize::from(low) % (items.len() + 1)),
            2 => items.reverse(),
            _ => {
                if let Some(one) = items.get(usize::from(low) % items.len().max(1)).cloned() {
                    items.push(one);
                }
            }
        },
        Value::Object(fields) => {
            let names: Vec<String> = fields.keys().cloned().collect();
            if let Some(name) = names.get(usize::from(low) % names.len().max(1)) {
                fields.remove(name);
            }
        }
        Value::Null => {}
    }
}

/// The show that the input makes, if it is one.
pub fn show(bytes: &[u8]) -> Option<Arc<PreparedShow>> {
    let (first, rest) = bytes.split_first()?;
    let mut value: Value = serde_json::from_str(SHOWS[usize::from(*first) % SHOWS.len()]).ok()?;
    let mut show = file::read(&serde_json::to_vec(&value).ok()?).ok()?;
    for change in rest.chunks_exact(5).take(40) {
        let all = count(&value["show"]).max(1);
        let mut at = usize::from(u16::from_le_bytes([change[0], change[1]])) % all;
        let mut other = value.clone();
        replace(&mut other["show"], &mut at, &|below| changed(below, [change[2], change[3], change[4]]));
        // A change that the reader refuses is left out, so that the others still count.
        if let Ok(read) = file::read(&serde_json::to_vec(&other).ok()?) {
            (value, show) = (other, read);
        }
    }
    Some(PreparedShow::new(Arc::new(show), OutsideFacts::none()))
}

/// Its services that can be prepared.
#[allow(dead_code)] // not by every target
pub fn services(show: &Arc<PreparedShow>) -> Vec<Arc<Prepared>> {
    (0..show.show().services.len()).filter_map(|at| show.prepare(at).ok()).collect()
}

/// Samples enough: a song of hours would only take long.
#[allow(dead_code)] // not by every target
pub fn is_short(plan: &Prepared) -> bool {
    let start = plan.grid().time_at(plan.schedule().opens_at());
    (plan.end() - start).secs_f64() < 120.0
}

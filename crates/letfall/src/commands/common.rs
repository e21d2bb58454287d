//! Helpers for several commands: finding the service, preparing its plan, writing lines of text.

use letfall_core::prepared::{OutsideFacts, Prepared, PreparedShow};
use letfall_core::show::{Label, Service, Show};
use letfall_core::time::round;
use letfall_files::Failure;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::path::Path;
use std::sync::Arc;

/// Appends a line of text.
macro_rules! line {
    ($to:expr, $($words:tt)*) => {{
        $to.push_str(&format!($($words)*));
        $to.push('\n');
    }};
}
pub(super) use line;

/// The named service, or the only one if no name is given.
pub fn service<'a>(show: &'a Show, name: Option<&str>) -> Result<&'a Service, Failure> {
    let names = || show.services.iter().map(|s| format!("\"{}\"", s.name)).collect::<Vec<_>>().join(", ");
    match (name, show.services.as_slice()) {
        (_, []) => Err(Failure::Service("the show has no service; add one".to_owned())),
        (None, [only]) => Ok(only),
        (None, _) => {
            Err(Failure::Service(format!("the show has several services; say --service with one of {}", names())))
        }
        (Some(name), _) => show
            .service(name)
            .ok_or_else(|| Failure::Service(format!("the show has no service \"{name}\"; it has {}", names()))),
    }
}

/// Appends a JSON object and a newline.
pub fn json_line(to: &mut String, value: &impl Serialize) {
    to.push_str(&serde_json::to_string(value).unwrap_or_default());
    to.push('\n');
}

/// What a JSON file says; an error names the file and the place in it.
pub fn from_json<T: DeserializeOwned>(path: &Path, bytes: &[u8]) -> Result<T, Failure> {
    let in_file = |why: &dyn std::fmt::Display| Failure::Use(format!("{}: {why}", path.display()));
    let mut json = serde_json::Deserializer::from_slice(bytes);
    let value = serde_path_to_error::deserialize(&mut json).map_err(|why| in_file(&why))?;
    json.end().map_err(|why| in_file(&why))?;
    Ok(value)
}

/// Rounded to three decimal places.
pub fn thousandths(x: f64) -> f64 {
    round::nearest(x * 1000.0) as f64 / 1000.0
}

/// "1 cue", "2 cues".
pub fn count(n: usize, thing: &str) -> String {
    format!("{n} {thing}{}", if n == 1 { "" } else { "s" })
}

/// The first labels, as many as `most`, and how many more there are.
pub fn listed(labels: &[Label], most: usize) -> String {
    let shown: Vec<String> = labels.iter().take(most).map(ToString::to_string).collect();
    let more = if labels.len() > most { format!(" and {} more", labels.len() - most) } else { String::new() };
    format!("{}{more}", shown.join(", "))
}

/// Reads a show and prepares the named service, or the only one. Does not look for recordings.
pub fn prepared(path: &Path, name: Option<&str>) -> Result<Arc<Prepared>, Failure> {
    let show = Arc::new(crate::streams::read_show(path)?);
    let name = service(&show, name)?.name.clone();
    Ok(PreparedShow::new(show, OutsideFacts::none()).prepare_named(&name)?)
}

//! The show file format: JSON (RFC 8259) with a version number. This module works on bytes and never touches the disk.

mod layout;
mod limited;

use crate::show::{Invalid, Show};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The version this program writes. Newer files are refused rather than half understood.
pub const VERSION: u32 = 1;

/// The file's outermost object.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "Letfall show file", description = "One show: rig, services and cues. See the README of Letfall.")]
struct Envelope<S> {
    /// Version of the file format.
    letfall: u32,
    /// The show.
    show: S,
}

/// Why bytes could not be read as a show. Every message says where, why and what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FileError {
    /// Not UTF-8 text.
    #[error("byte {at} is not UTF-8 text, so this is no show file; save it as UTF-8 or choose another file")]
    NotUtf8 {
        /// Offset of the first bad byte.
        at: usize,
    },
    /// Written in a later version of the format.
    #[error("it is of file version {found} and this Letfall reads up to {VERSION}; open it with a newer Letfall")]
    Newer {
        /// The file's version.
        found: u64,
    },
    /// JSON, but not a show file.
    #[error("it has no \"letfall\" version number at the top, so it is no show file; choose another file")]
    NotAShow,
    /// Malformed JSON, or an invalid field.
    #[error("line {line}, column {column}{}: {why}", if path.is_empty() { String::new() } else { format!(", at {path}") })]
    Json {
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// The field, such as `show.services[0].cues[3].at`; empty where JSON itself is broken.
        path: String,
        /// What is wrong.
        why: String,
    },
    /// Well-formed, but the show fails validation.
    #[error("{0}")]
    Invalid(#[from] Invalid),
}

/// Reads a show.
///
/// # Errors
/// [`FileError`]. There is no partial result.
pub fn read(bytes: &[u8]) -> Result<Show, FileError> {
    let text = std::str::from_utf8(bytes).map_err(|e| FileError::NotUtf8 { at: e.valid_up_to() })?;
    // RFC 8259, 8.1: a byte order mark may be ignored.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let envelope: Envelope<Show> = match serde_json::from_str(text) {
        Ok(envelope) => envelope,
        Err(_) => return Err(explain(text)),
    };
    if envelope.letfall != VERSION {
        return Err(wrong_version(u64::from(envelope.letfall)));
    }
    envelope.show.validate()?;
    Ok(envelope.show)
}

fn wrong_version(found: u64) -> FileError {
    if found > u64::from(VERSION) { FileError::Newer { found } } else { FileError::NotAShow }
}

/// Parses again with a slower reader that tracks where the error is. Only broken files pay for this.
fn explain(text: &str) -> FileError {
    #[derive(Deserialize)]
    struct Peek {
        letfall: Option<serde_json::Value>,
    }
    // A newer file may have fields we do not know. Say that it is newer, not that a field is wrong.
    if let Ok(peek) = serde_json::from_str::<Peek>(text) {
        match peek.letfall.as_ref().map(serde_json::Value::as_u64) {
            None => return FileError::NotAShow,
            Some(Some(found)) if found != u64::from(VERSION) => return wrong_version(found),
            _ => {}
        }
    }
    let mut json = serde_json::Deserializer::from_str(text);
    let slow = serde_path_to_error::deserialize::<_, Envelope<Show>>(&mut json);
    match slow
        .map_err(|e| (e.path().to_string(), e.into_inner()))
        .and_then(|_| json.end().map_err(|e| (String::new(), e)))
    {
        Ok(()) => FileError::NotAShow, // unreachable: the quick parse failed
        Err((path, why)) => {
            let message = why.to_string();
            let (line, column) = (why.line(), why.column());
            let place = format!(" at line {line} column {column}");
            let why: String = message.strip_suffix(&place).unwrap_or(&message).chars().take(300).collect();
            FileError::Json { line, column, path: if path == "." { String::new() } else { path }, why }
        }
    }
}

/// Writes a show. The same show always gives the same bytes. Each cue is on one line, so that line-based diffs work.
pub fn write(show: &Show) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(4096 + 160 * show.services.iter().map(|s| s.cues.len()).sum::<usize>());
    let mut to = serde_json::Serializer::with_formatter(&mut bytes, layout::Lines::default());
    match (Envelope { letfall: VERSION, show }).serialize(&mut to) {
        Ok(()) => bytes.push(b'\n'),
        // Writing to a `Vec` cannot fail, keys are strings, and a number that is not finite is written as null.
        Err(why) => unreachable!("a show always serialises: {why}"),
    }
    bytes
}

/// The JSON Schema of the show file, as indented JSON.
pub fn schema() -> String {
    let mut schema = schemars::schema_for!(Envelope<Show>).to_value();
    limited::limit(&mut schema);
    let mut text = serde_json::to_string_pretty(&schema).unwrap_or_default();
    text.push('\n');
    text
}

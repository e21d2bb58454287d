//! Refusing a show: where, why, and the looks at single numbers and names that every part of the validation shares.

use crate::limits::Limit;
use crate::time::SongSpan;
use std::collections::HashSet;
use std::fmt::Display;

/// Why a show cannot be used, and where.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{place}: {why}")]
pub struct Invalid {
    /// Where in the file, such as `services "Early", cue L12`.
    pub place: String,
    /// What is wrong and what to do.
    pub why: String,
}

/// Whether something may be in memory.
pub(super) type ValidationResult = Result<(), Invalid>;

/// Refuses something at a place.
pub(super) fn refuse(place: impl Display, why: impl Display) -> ValidationResult {
    Err(Invalid { place: place.to_string(), why: why.to_string() })
}

/// Checks that a number is in its range.
pub(super) fn number(place: &dyn Display, value: f64, limit: &Limit) -> ValidationResult {
    limit.check(value).map_err(|why| Invalid { place: place.to_string(), why })
}

/// Checks that a number, if given, is in its range.
pub(super) fn maybe(place: &dyn Display, value: Option<f64>, limit: &Limit) -> ValidationResult {
    value.map_or(Ok(()), |value| number(place, value, limit))
}

/// Checks that a duration is in its range.
pub(super) fn span(place: &dyn Display, value: SongSpan, limit: &Limit) -> ValidationResult {
    limit.check_span(value).map_err(|why| Invalid { place: place.to_string(), why })
}

/// Checks that names or keys do not repeat.
pub(super) fn ensure_unique<'a>(list: &str, names: impl Iterator<Item = &'a str>) -> ValidationResult {
    let mut seen = HashSet::new();
    for name in names {
        if !seen.insert(name) {
            return refuse(list, format!("\"{name}\" stands twice; give one of them another name"));
        }
    }
    Ok(())
}

//! What differs between two services.

use super::EditError;
use super::carry::{Match, placed};
use super::placing::grid_of;
use super::step::service;
use crate::show::{Anchor, Cue, Label, Service, Show};
use crate::time::Grid;

/// One difference between services A and B.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Difference {
    /// Only A has it.
    OnlyFirst(Label),
    /// Only B has it.
    OnlySecond(Label),
    /// Both have it, but these fields differ.
    Differs(Label, Vec<Field>),
}

/// One field that differs between two cues with the same label, and its text in A and B.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Field {
    /// Its name: `at`, `does`, `desk`, `text`, `track`, `length`, `lead`, `call`, `note` or `resting`.
    pub name: &'static str,
    /// In A.
    pub first: String,
    /// In B.
    pub second: String,
}

/// Compares two services cue by cue. Two places count as the same if carrying by `matching` would map one to the other: the
/// same bar, the same bar of the same section, or the same song time.
///
/// # Errors
/// [`EditError::NoService`], [`EditError::Grid`].
pub fn compare(show: &Show, first: &str, second: &str, matching: Match) -> Result<Vec<Difference>, EditError> {
    compare_services(service(show, first)?, service(show, second)?, matching)
}

/// As [`compare`], for two services that may come from two versions of a show.
///
/// # Errors
/// [`EditError::Grid`].
pub fn compare_services(a: &Service, b: &Service, matching: Match) -> Result<Vec<Difference>, EditError> {
    let (grid_a, grid_b) = (grid_of(a)?, grid_of(b)?);
    let mut out = Vec::new();
    let (mut left, mut right) = (a.cues.iter().peekable(), b.cues.iter().peekable());
    loop {
        match (left.peek(), right.peek()) {
            (None, None) => return Ok(out),
            (Some(l), Some(r)) if l.label == r.label => {
                let mut fields = differing(l, r, &grid_a, &grid_b);
                // The place that carrying would give counts as the same. The same bar number elsewhere in the song does not.
                match placed(l.at, a, &grid_a, b, &grid_b, matching) {
                    Ok(there) if same_place(there, r.at, &grid_b) => fields.retain(|f| f.name != "at"),
                    Ok(_) if fields.iter().all(|f| f.name != "at") => {
                        fields.insert(0, Field { name: "at", first: l.at.to_string(), second: r.at.to_string() });
                    }
                    _ => {}
                }
                if !fields.is_empty() {
                    out.push(Difference::Differs(l.label, fields));
                }
                left.next();
                right.next();
            }
            (Some(l), r) if r.is_none_or(|r| l.label < r.label) => {
                out.push(Difference::OnlyFirst(l.label));
                left.next();
            }
            (_, Some(r)) => {
                out.push(Difference::OnlySecond(r.label));
                right.next();
            }
            (Some(_), None) => unreachable!("a left cue with no right one is taken above"),
        }
    }
}

/// Whether two anchors are the same place on a grid: the same beat and nudge, or the same microsecond.
fn same_place(a: Anchor, b: Anchor, grid: &Grid) -> bool {
    a == b || a.time(grid) == b.time(grid)
}

/// What differs between a cue and its counterpart.
pub(crate) fn differing(a: &Cue, b: &Cue, grid_a: &Grid, grid_b: &Grid) -> Vec<Field> {
    let mut out = Vec::new();
    let mut field = |name, first: String, second: String| {
        if first != second {
            out.push(Field { name, first, second });
        }
    };
    let place = |cue: &Cue, grid: &Grid| match cue.at {
        Anchor::Grid { place, nudge } => {
            let plain = grid.place_of(grid.tick_of(place));
            Anchor::Grid { place: plain, nudge }.to_string()
        }
        clock @ Anchor::Clock(_) => clock.to_string(),
    };
    field("at", place(a, grid_a), place(b, grid_b));
    field("does", json(&a.does), json(&b.does));
    field("desk", a.desk.clone(), b.desk.clone());
    field("text", a.text.clone(), b.text.clone());
    field("track", a.track.to_string(), b.track.to_string());
    field("length", json(&a.length), json(&b.length));
    field("lead", a.lead_adjust.to_string(), b.lead_adjust.to_string());
    field("call", json(&a.call), json(&b.call));
    field("note", a.note.clone(), b.note.clone());
    field("resting", a.resting.to_string(), b.resting.to_string());
    out
}

fn json(value: &impl serde::Serialize) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

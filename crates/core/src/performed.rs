//! What is known of a performance after it: for the report, and for a page that sets it beside the plan.

use crate::show::Label;
use crate::time::WallTime;

/// A performance.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Performed {
    /// When song time 0 was, by the time of day.
    pub began: Option<WallTime>,
    /// When the run stopped for the last time.
    pub ended: Option<WallTime>,
    /// What became of each release, as far as people said and the log tells.
    pub releases: Vec<PerformedRelease>,
    /// What people chose and where the song left the straight line: when, and what.
    pub lines: Vec<(WallTime, String)>,
}

/// What became of a release. A message that was sent does not mean that a fabric fell: only what people said counts, and what was not sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PerformedRelease {
    /// Its cue.
    pub label: Label,
    /// Somebody said that all of it is down.
    pub down: bool,
    /// Somebody said that it is stuck, and what of it: all, left or right.
    pub stuck: Option<String>,
    /// Somebody said that it fell early.
    pub early: bool,
    /// It was not sent, so the fabric stayed unless somebody said otherwise.
    pub stayed: bool,
    /// Who armed it and what was sent, when.
    pub told: Vec<(WallTime, String)>,
}

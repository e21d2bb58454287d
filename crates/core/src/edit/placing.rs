//! Moving an anchor: by how much, on which grid, and within song time.

use super::EditError;
use crate::show::{Anchor, Cue, Label, Service};
use crate::time::{BarBeat, Grid, SongSpan, SongTime, Tick, TickSpan, TimeError, round};
use std::str::FromStr;

/// How far to shift.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum By {
    /// Whole bars; the beat in the bar stays.
    Bars(i32),
    /// Counted beats.
    Beats(i64),
    /// Time.
    Time(SongSpan),
}

impl FromStr for By {
    type Err = String;

    /// Reads `2bars`, `-1beat`, `250ms`, `1.5s`.
    fn from_str(text: &str) -> Result<By, String> {
        let fail = || format!("\"{text}\" is no distance; write bars, beats, ms or s, such as 2bars, -1beat or 250ms");
        let split = text.find(|c: char| c.is_ascii_alphabetic()).ok_or_else(fail)?;
        let (number, unit) = text.split_at(split);
        let number = number.trim().trim_start_matches('+');
        Ok(match unit {
            "bar" | "bars" => By::Bars(number.parse().map_err(|_| fail())?),
            "beat" | "beats" => By::Beats(number.parse().map_err(|_| fail())?),
            "ms" | "s" => {
                let plain = number.bytes().all(|b| b.is_ascii_digit() || b == b'.' || b == b'-');
                let value: f64 = number.parse().ok().filter(|_| plain).ok_or_else(fail)?;
                let micros = value * if unit == "ms" { 1e3 } else { 1e6 };
                if micros.abs() > SongTime::MAX.micros() as f64 {
                    return Err(fail());
                }
                By::Time(SongSpan::from_micros(round::nearest(micros)))
            }
            _ => return Err(fail()),
        })
    }
}

impl std::fmt::Display for By {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let s = |n: i64| if n.abs() == 1 { "" } else { "s" };
        match self {
            By::Bars(n) => write!(f, "{n} bar{}", s(i64::from(*n))),
            By::Beats(n) => write!(f, "{n} beat{}", s(*n)),
            By::Time(span) => write!(f, "{span}"),
        }
    }
}

pub(super) fn grid_of(service: &Service) -> Result<Grid, EditError> {
    service.song.grid.build().map_err(|why| EditError::Grid { service: service.name.clone(), why })
}

/// The bars in which any ordinary beat and nudge is within song time. Worked out once for a whole batch of cues.
pub(super) struct TimeRangeGuard<'a> {
    grid: &'a Grid,
    near: std::ops::Range<i32>,
}

impl<'a> TimeRangeGuard<'a> {
    pub fn new(grid: &'a Grid) -> TimeRangeGuard<'a> {
        // 20 h, plus a beat and ticks of at most 256 quarters (71 minutes at the slowest), plus a nudge under 1 h, is within 24
        // h.
        let bar = |hours: i64| grid.place_of(grid.tick_at(SongTime::saturating(hours * 3_600_000_000))).bar;
        TimeRangeGuard { grid, near: bar(-20)..bar(20) }
    }

    /// The anchor if it is within song time, else the error.
    pub fn within(&self, label: Label, anchor: Anchor) -> Result<Anchor, EditError> {
        let range = |why| EditError::Range { label, why };
        if let Anchor::Grid { place, nudge } = anchor {
            if self.near.contains(&place.bar) && place.tick <= 4 * 960 && nudge.abs() < SongSpan::from_millis(3_600_000)
            {
                return Ok(anchor);
            }
            let micros = self.grid.micros_at(self.grid.tick_of(place)) + nudge.micros() as f64;
            if !place.is_sane() {
                return Err(range(TimeError::OutOfRange { micros: round::nearest(micros) }));
            }
            SongTime::from_micros(round::nearest(micros)).map_err(range)?;
        }
        Ok(anchor)
    }
}

/// The shifted anchor.
pub(super) fn shifted(at: Anchor, by: By, grid: &Grid) -> Result<Anchor, TimeError> {
    let far = || TimeError::OutOfRange { micros: at.time(grid).micros() };
    Ok(match (at, by) {
        (Anchor::Grid { place, nudge }, By::Bars(bars)) => {
            let bar = place.bar.checked_add(bars).filter(|bar| BarBeat::downbeat(*bar).is_sane()).ok_or_else(far)?;
            Anchor::Grid { place: BarBeat { bar, ..place }, nudge }
        }
        (Anchor::Grid { place, nudge }, By::Beats(beats)) => {
            // A beat past the end of its bar counts as the beat it really lands on.
            let real = if place.beat > grid.beats_in(place.bar) { grid.place_of(grid.tick_of(place)) } else { place };
            let (bar, beat) = beats_on(grid, real, beats).ok_or_else(far)?;
            Anchor::Grid { place: BarBeat { bar, beat, ..real }, nudge }
        }
        (Anchor::Grid { place, nudge }, By::Time(span)) => Anchor::Grid { place, nudge: nudge + span },
        (Anchor::Clock(time), By::Time(span)) => Anchor::Clock(time.checked_add(span)?),
        (Anchor::Clock(time), _) => {
            // Measured from the bar line or beat at or before it, so that equal bars give an exact way back.
            let near = grid.place_of(grid.tick_at(time));
            let from = match by {
                By::Bars(_) => BarBeat::downbeat(near.bar),
                _ => BarBeat { tick: 0, ..near },
            };
            let Anchor::Grid { place: to, .. } = shifted(Anchor::at(from), by, grid)? else { return Ok(at) };
            let distance = grid.time_at(grid.tick_of(to)) - grid.time_at(grid.tick_of(from));
            Anchor::Clock(time.checked_add(distance)?)
        }
    })
}

fn beats_on(grid: &Grid, place: BarBeat, beats: i64) -> Option<(i32, u16)> {
    let index = grid.beat_index(place.bar, place.beat).checked_add(beats)?;
    if index.abs() > i64::from(BarBeat::MAX_BAR) {
        return None;
    }
    Some(grid.beat_place(index))
}

/// The anchor moved by ticks (grid), or by as long as those ticks last from `first` (clock).
pub(super) fn moved_by(at: Anchor, first: Tick, by: TickSpan, grid: &Grid) -> Anchor {
    match at {
        _ if by == TickSpan::ZERO => at,
        Anchor::Grid { place, nudge } => Anchor::Grid { place: grid.place_of(grid.tick_of(place) + by), nudge },
        Anchor::Clock(time) => {
            let span: SongSpan = grid.time_at(first + by) - grid.time_at(first);
            Anchor::Clock(time + span)
        }
    }
}

/// The cues with these labels, in label order.
pub(super) fn named<'a>(service: &'a Service, labels: &[Label]) -> Result<Vec<&'a Cue>, EditError> {
    let mut sorted = labels.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    sorted
        .into_iter()
        .map(|label| service.cues.get(label).ok_or_else(|| EditError::NoCue(label, service.name.clone())))
        .collect()
}

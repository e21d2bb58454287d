//! Verbs on cues that are already there: shift, quantize, stretch, change, delete.

use super::step::service;
use super::{Edit, EditError, Moved};
use crate::show::{Anchor, Cue, Label, Length, Service, Show, TrackKey};
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

/// The bars that lie within song time however far their beats and nudges go, found once for a whole batch.
pub(super) struct Reach<'a> {
    grid: &'a Grid,
    near: std::ops::Range<i32>,
}

impl<'a> Reach<'a> {
    pub fn new(grid: &'a Grid) -> Reach<'a> {
        // 20 h, a beat and ticks of at most 256 quarters (71 minutes at the slowest) and a nudge under 1 h are within 24 h.
        let bar = |hours: i64| grid.place_of(grid.tick_at(SongTime::saturating(hours * 3_600_000_000))).bar;
        Reach { grid, near: bar(-20)..bar(20) }
    }

    /// An anchor that stays within song time, or why not.
    pub fn within(&self, label: Label, anchor: Anchor) -> Result<Anchor, EditError> {
        let range = |why| EditError::Range { label, why };
        if let Anchor::Grid { place, nudge } = anchor {
            if self.near.contains(&place.bar) && place.tick <= 4 * 960 && nudge.abs() < SongSpan::from_millis(3_600_000)
            {
                return Ok(anchor);
            }
            let micros = self.grid.micros_at(self.grid.tick_of(place)) + nudge.micros() as f64;
            if place.bar.abs() > BarBeat::MAX_BAR || place.tick > BarBeat::MAX_TICK {
                return Err(range(TimeError::OutOfRange { micros: round::nearest(micros) }));
            }
            SongTime::from_micros(round::nearest(micros)).map_err(range)?;
        }
        Ok(anchor)
    }
}

fn moves(
    show: &Show,
    name: &str,
    labels: &[Label],
    mut to: impl FnMut(&Cue, &Grid) -> Result<Anchor, EditError>,
) -> Result<Edit, EditError> {
    let service = service(show, name)?;
    let grid = grid_of(service)?;
    let mut sorted = labels.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    let reach = Reach::new(&grid);
    let mut moves = Vec::with_capacity(sorted.len());
    for (label, cue) in sorted.iter().zip(service.cues.matching(sorted.iter().copied())) {
        let cue = cue.ok_or_else(|| EditError::NoCue(*label, name.to_owned()))?;
        let after = reach.within(cue.label, to(cue, &grid)?)?;
        if after != cue.at {
            moves.push(Moved { label: cue.label, before: cue.at, after });
        }
    }
    Ok(Edit::Move { service: name.to_owned(), moves })
}

/// Shifts cues.
///
/// Grid-anchored cues keep their beat and ticks when shifted by bars or beats, and are nudged when shifted by time, so a
/// shift and its opposite leave them as they were. A clock-anchored cue shifted by bars or beats keeps its distance from
/// the bar line or beat before it.
///
/// # Errors
/// [`EditError`] when a cue is missing or would leave song time; then no cue moves.
pub fn shift(show: &Show, service: &str, labels: &[Label], by: By) -> Result<Edit, EditError> {
    moves(show, service, labels, |cue, grid| {
        shifted(cue.at, by, grid).map_err(|why| EditError::Range { label: cue.label, why })
    })
}

/// Moves cues by a musical distance, as when they are dragged: grid-anchored ones in ticks, clock-anchored ones by as long
/// as those ticks last from `from`.
///
/// # Errors
/// As [`shift`].
pub fn slide(show: &Show, service: &str, labels: &[Label], from: Tick, by: TickSpan) -> Result<Edit, EditError> {
    moves(show, service, labels, |cue, grid| Ok(super::clipboard::moved_by(cue.at, from, by, grid)))
}

/// An anchor shifted.
pub(super) fn shifted(at: Anchor, by: By, grid: &Grid) -> Result<Anchor, TimeError> {
    let far = || TimeError::OutOfRange { micros: at.time(grid).micros() };
    Ok(match (at, by) {
        (Anchor::Grid { place, nudge }, By::Bars(bars)) => {
            let bar = place.bar.checked_add(bars).filter(|b| b.abs() <= BarBeat::MAX_BAR).ok_or_else(far)?;
            Anchor::Grid { place: BarBeat { bar, ..place }, nudge }
        }
        (Anchor::Grid { place, nudge }, By::Beats(beats)) => {
            // A beat that its bar does not have is counted as the one it really lands on.
            let real = if place.beat > grid.beats_in(place.bar) { grid.place_of(grid.tick_of(place)) } else { place };
            let (bar, beat) = beats_on(grid, real, beats).ok_or_else(far)?;
            Anchor::Grid { place: BarBeat { bar, beat, ..real }, nudge }
        }
        (Anchor::Grid { place, nudge }, By::Time(span)) => Anchor::Grid { place, nudge: nudge + span },
        (Anchor::Clock(time), By::Time(span)) => Anchor::Clock(time.checked_add(span)?),
        (Anchor::Clock(time), _) => {
            // From the bar line or beat at or before it, so that equal bars give an exact way back.
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

/// Moves cues to the nearest multiple of `step` ticks after their bar line; nudges go.
///
/// A clock-anchored cue goes to the song time of that place and stays on the clock.
///
/// # Errors
/// [`EditError::Figure`] for a step that is not positive; otherwise as [`shift`].
pub fn quantize(show: &Show, service: &str, labels: &[Label], step: TickSpan) -> Result<Edit, EditError> {
    if step.get() <= 0 {
        return Err(EditError::Figure("the step to quantize to must be longer than nothing".to_owned()));
    }
    moves(show, service, labels, |cue, grid| {
        let near = snap(grid, grid.ticks_at(cue.at.time(grid).micros() as f64), step);
        Ok(match cue.at {
            Anchor::Grid { .. } => Anchor::at(grid.place_of(near)),
            Anchor::Clock(_) => Anchor::Clock(grid.time_at(near)),
        })
    })
}

/// The nearest multiple of `step` after a bar line, or the next bar line if that is nearer.
pub fn snap(grid: &Grid, tick: f64, step: TickSpan) -> Tick {
    let bar = grid.place_of(Tick::new(round::nearest(libm::floor(tick + 1e-6)))).bar;
    let (start, end) = (grid.bar_tick(bar), grid.bar_tick(bar + 1));
    let steps = round::nearest((tick - start.get() as f64) / step.get() as f64);
    let inside = start + TickSpan::new(steps.saturating_mul(step.get()));
    let to_end = end.get() as f64 - tick;
    if inside >= end || to_end < (inside.get() as f64 - tick).abs() { end } else { inside }
}

/// Stretches cues about the earliest of them: their distance from it, and their own lengths, times `factor`.
///
/// Grid-anchored cues stretch in ticks, clock-anchored ones in time. Nudges stay.
///
/// # Errors
/// [`EditError::Figure`] unless `factor` is between 0.01 and 100; otherwise as [`shift`].
pub fn stretch(show: &Show, name: &str, labels: &[Label], factor: f64) -> Result<Edit, EditError> {
    if !(0.01..=100.0).contains(&factor) {
        return Err(EditError::Figure(format!("a stretch of {factor} is beyond reason; give 0.01 to 100")));
    }
    let service = service(show, name)?;
    let grid = grid_of(service)?;
    let cues = named(service, labels)?;
    let Some(first) = cues.iter().map(|c| c.at.time(&grid)).min() else { return Ok(Edit::Nothing) };
    let first_tick = cues
        .iter()
        .filter_map(|c| match c.at {
            Anchor::Grid { place, .. } => Some(grid.tick_of(place)),
            Anchor::Clock(_) => None,
        })
        .min()
        .unwrap_or(Tick::ZERO);
    let scaled = |n: i64| round::nearest(n as f64 * factor);
    let reach = Reach::new(&grid);
    let mut into = Vec::with_capacity(cues.len());
    for cue in &cues {
        let at = match cue.at {
            Anchor::Grid { place, nudge } => {
                let from_first = grid.tick_of(place) - first_tick;
                let tick = first_tick + TickSpan::new(scaled(from_first.get()));
                Anchor::Grid { place: grid.place_of(tick), nudge }
            }
            Anchor::Clock(time) => Anchor::Clock(first + SongSpan::from_micros(scaled((time - first).micros()))),
        };
        let length = cue.length.map(|length| match length {
            Length::Ticks(span) => Length::Ticks(TickSpan::new(scaled(span.get()))),
            Length::Time(span) => Length::Time(SongSpan::from_micros(scaled(span.micros()))),
        });
        into.push(Cue { at: reach.within(cue.label, at)?, length, ..(*cue).clone() });
    }
    Ok(changed(name, &cues, into))
}

/// The cues of these labels, in label order.
pub(super) fn named<'a>(service: &'a Service, labels: &[Label]) -> Result<Vec<&'a Cue>, EditError> {
    let mut sorted = labels.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    sorted
        .into_iter()
        .map(|label| service.cues.get(label).ok_or_else(|| EditError::NoCue(label, service.name.clone())))
        .collect()
}

/// An edit from cues as they were to cues as they will be, both in label order.
pub(super) fn changed(service: &str, before: &[&Cue], after: Vec<Cue>) -> Edit {
    let (out, into) =
        before.iter().zip(after).filter(|(old, new)| **old != new).map(|(old, new)| ((*old).clone(), new)).unzip();
    Edit::Cues { service: service.to_owned(), out, into }
}

/// Changes cues by a function that must leave their labels alone.
///
/// # Errors
/// [`EditError::NoCue`], [`EditError::NoService`].
pub fn change(show: &Show, name: &str, labels: &[Label], mut by: impl FnMut(&mut Cue)) -> Result<Edit, EditError> {
    let cues = named(service(show, name)?, labels)?;
    let after = cues
        .iter()
        .map(|cue| {
            let mut new = (*cue).clone();
            by(&mut new);
            new.label = cue.label;
            new
        })
        .collect();
    Ok(changed(name, &cues, after))
}

/// Moves cues to another track. A track of another kind is refused when the edit is committed.
///
/// # Errors
/// As [`change`].
pub fn to_track(show: &Show, service: &str, labels: &[Label], track: &TrackKey) -> Result<Edit, EditError> {
    change(show, service, labels, |cue| cue.track = track.clone())
}

/// Deletes cues.
///
/// # Errors
/// [`EditError::NoCue`], [`EditError::NoService`].
pub fn delete(show: &Show, name: &str, labels: &[Label]) -> Result<Edit, EditError> {
    let out = named(service(show, name)?, labels)?.into_iter().cloned().collect();
    Ok(Edit::Cues { service: name.to_owned(), out, into: Vec::new() })
}

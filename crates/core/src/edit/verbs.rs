//! Verbs on existing cues: shift, quantize, stretch, change, delete.

use super::placing::{By, TimeRangeGuard, grid_of, moved_by, named, shifted};
use super::step::service;
use super::{Edit, EditError, Moved};
use crate::show::{Anchor, Cue, Label, Length, Show, TrackKey};
use crate::time::{Grid, SongSpan, Tick, TickSpan, round};

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
    let guard = TimeRangeGuard::new(&grid);
    let mut moves = Vec::with_capacity(sorted.len());
    for (label, cue) in sorted.iter().zip(service.cues.matching(sorted.iter().copied())) {
        let cue = cue.ok_or_else(|| EditError::NoCue(*label, name.to_owned()))?;
        let after = guard.within(cue.label, to(cue, &grid)?)?;
        if after != cue.at {
            moves.push(Moved { label: cue.label, before: cue.at, after });
        }
    }
    Ok(Edit::Move { service: name.to_owned(), moves })
}

/// Shifts cues.
///
/// A grid-anchored cue shifted by bars or beats keeps its ticks after the beat; shifted by time, it is nudged. So a shift and
/// its opposite leave it as it was. A clock-anchored cue shifted by bars or beats keeps its distance from the bar line or beat
/// before it.
///
/// # Errors
/// [`EditError`] when a cue is missing or would leave song time; then no cue moves.
pub fn shift(show: &Show, service: &str, labels: &[Label], by: By) -> Result<Edit, EditError> {
    moves(show, service, labels, |cue, grid| {
        shifted(cue.at, by, grid).map_err(|why| EditError::Range { label: cue.label, why })
    })
}

/// Moves cues by a musical distance, as in a drag. Grid-anchored cues move by ticks; clock-anchored cues move by as long as
/// those ticks last from `from`.
///
/// # Errors
/// As [`shift`].
pub fn slide(show: &Show, service: &str, labels: &[Label], from: Tick, by: TickSpan) -> Result<Edit, EditError> {
    moves(show, service, labels, |cue, grid| Ok(moved_by(cue.at, from, by, grid)))
}

/// Moves cues to the nearest multiple of `step` ticks after their bar line. Nudges are removed.
///
/// A clock-anchored cue moves to the song time of that place and stays clock-anchored.
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

/// Stretches cues, with the earliest as the fixed point: their distance from it and their lengths are multiplied by `factor`.
///
/// Grid-anchored cues stretch in ticks, clock-anchored ones in time. Nudges are not stretched.
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
    let guard = TimeRangeGuard::new(&grid);
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
        into.push(Cue { at: guard.within(cue.label, at)?, length, ..(*cue).clone() });
    }
    Ok(changed(name, &cues, into))
}

/// The edit that replaces `before` by `after`, both in label order. Cues that do not differ are left out.
pub(super) fn changed(service: &str, before: &[&Cue], after: Vec<Cue>) -> Edit {
    let (out, into) =
        before.iter().zip(after).filter(|(old, new)| **old != new).map(|(old, new)| ((*old).clone(), new)).unzip();
    Edit::Cues { service: service.to_owned(), out, into }
}

/// Changes cues with a function. If the function changes a label, the old label is put back.
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

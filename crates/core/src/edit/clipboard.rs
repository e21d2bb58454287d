//! Copy, paste and repeat.

use super::placing::{By, TimeRangeGuard, grid_of, moved_by, named, shifted};
use super::step::service;
use super::{Edit, EditError};
use crate::show::{Cue, CueList, Goes, Kind, Label, Show};
use crate::time::{Tick, TickSpan};
use std::collections::HashMap;

/// Copied cues, and the tick at which the earliest of them lands.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Clipboard {
    cues: Vec<Cue>,
    first: Tick,
}

impl Clipboard {
    /// How many cues it holds.
    pub fn len(&self) -> usize {
        self.cues.len()
    }

    /// Whether it holds none.
    pub fn is_empty(&self) -> bool {
        self.cues.is_empty()
    }
}

/// Where to paste.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PasteAt {
    /// The earliest cue lands at this tick; the others keep their distance from it.
    Tick(Tick),
    /// Every cue keeps its bar and beat.
    SamePlace,
}

/// Copies cues.
///
/// # Errors
/// [`EditError::NoCue`], [`EditError::NoService`], [`EditError::Grid`].
pub fn copy(show: &Show, name: &str, labels: &[Label]) -> Result<Clipboard, EditError> {
    let service = service(show, name)?;
    let grid = grid_of(service)?;
    let cues: Vec<Cue> = named(service, labels)?.into_iter().cloned().collect();
    let first = cues.iter().map(|c| grid.tick_at(c.at.time(&grid))).min().unwrap_or_default();
    Ok(Clipboard { cues, first })
}

/// Pastes; returns the edit and the new cues' labels. Pasted cues get free numbers.
///
/// # Errors
/// [`EditError::Range`] when a cue would leave song time, [`EditError::NoLabel`] when numbers run out.
pub fn paste(show: &Show, name: &str, clipboard: &Clipboard, at: PasteAt) -> Result<(Edit, Vec<Label>), EditError> {
    let service = service(show, name)?;
    let grid = grid_of(service)?;
    let by = match at {
        PasteAt::SamePlace => TickSpan::ZERO,
        PasteAt::Tick(tick) => tick - clipboard.first,
    };
    let guard = TimeRangeGuard::new(&grid);
    let moved = clipboard.cues.iter().map(|cue| {
        let at = guard.within(cue.label, moved_by(cue.at, clipboard.first, by, &grid))?;
        Ok(Cue { at, copied_from: None, ..cue.clone() })
    });
    let into = with_free_labels(&service.cues, moved.collect::<Result<Vec<_>, EditError>>()?)?;
    let labels = into.iter().map(|c| c.label).collect();
    Ok((Edit::Cues { service: name.to_owned(), out: Vec::new(), into }, labels))
}

/// Gives cues labels that are free in the list, in the order they come in, and sorts them by the new labels. A cue that comes after one of
/// the others comes after that one's copy.
pub(super) fn with_free_labels(list: &CueList, cues: Vec<Cue>) -> Result<Vec<Cue>, EditError> {
    let mut free: HashMap<Kind, _> = HashMap::new();
    let mut out = Vec::with_capacity(cues.len());
    // Where cues are repeated, each label comes several times: the second copy follows the second copy.
    let (mut times, mut copies): (HashMap<Label, usize>, HashMap<(Label, usize), Label>) = Default::default();
    let mut rounds = Vec::with_capacity(cues.len());
    for cue in cues {
        let kind = cue.label.kind;
        let label = free.entry(kind).or_insert_with(|| list.free_labels(kind)).next().ok_or(EditError::NoLabel)?;
        let round = times.entry(cue.label).or_default();
        copies.insert((cue.label, *round), label);
        rounds.push(*round);
        *round += 1;
        out.push(Cue { label, ..cue });
    }
    for (cue, round) in out.iter_mut().zip(rounds) {
        follow(cue, |first| copies.get(&(first, round)).copied());
    }
    out.sort_by_key(|c| c.label);
    Ok(out)
}

/// Lets a cue that comes after another come after that one's new label, if it has one.
pub(super) fn follow(cue: &mut Cue, renamed: impl Fn(Label) -> Option<Label>) {
    if let Some(call) = &mut cue.call
        && let Some(Goes::After(first)) = call.goes
        && let Some(label) = renamed(first)
    {
        call.goes = Some(Goes::After(label));
    }
}

/// Repeats cues every `bars` bars, `times` times; returns the edit and the new cues' labels.
///
/// # Errors
/// [`EditError::Figure`] if `bars` is 0 or `times` is over 10 000; otherwise as [`paste`].
pub fn repeat(
    show: &Show,
    name: &str,
    labels: &[Label],
    bars: i32,
    times: u32,
) -> Result<(Edit, Vec<Label>), EditError> {
    if bars == 0 || times > 10_000 {
        return Err(EditError::Figure("repeat every 1 or more bars, at most 10000 times".to_owned()));
    }
    let service = service(show, name)?;
    let grid = grid_of(service)?;
    let cues = named(service, labels)?;
    let guard = TimeRangeGuard::new(&grid);
    let mut copies = Vec::with_capacity(cues.len() * times as usize);
    for round in 1..=i64::from(times) {
        for cue in &cues {
            let range = |why| EditError::Range { label: cue.label, why };
            let by = i32::try_from(i64::from(bars) * round).unwrap_or(i32::MAX);
            let at = guard.within(cue.label, shifted(cue.at, By::Bars(by), &grid).map_err(range)?)?;
            copies.push(Cue { at, copied_from: None, ..(*cue).clone() });
        }
    }
    let into = with_free_labels(&service.cues, copies)?;
    let labels = into.iter().map(|c| c.label).collect();
    Ok((Edit::Cues { service: name.to_owned(), out: Vec::new(), into }, labels))
}

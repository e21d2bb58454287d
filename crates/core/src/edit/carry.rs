//! Carrying cues from one service to another.

use super::clipboard::{follow, with_free_labels};
use super::placing::{TimeRangeGuard, grid_of, named};
use super::step::service;
use super::{Edit, EditError};
use crate::show::{Anchor, Cue, Label, Origin, Service, Show};
use crate::time::{BarBeat, Grid, SongTime, round};
use std::collections::{BTreeSet, HashMap};

/// How a place in one song is mapped to another song.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Match {
    /// The same bar and beat.
    Bars,
    /// The same bar of the section of the same name.
    Sections,
    /// The same song time.
    Clock,
}

/// What to do if the other service already has the label, or a cue on the same track at the same time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clash {
    /// Keep its cue; ours is not carried.
    Keep,
    /// Replace its cue by ours.
    Replace,
    /// Keep both; ours gets a free number if its own is taken.
    Both,
}

/// What carrying did to one service.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Carried {
    /// Carried under their own labels.
    pub carried: Vec<Label>,
    /// Carried under a new label: from, to.
    pub relabelled: Vec<(Label, Label)>,
    /// Cues of the other service that were replaced.
    pub replaced: Vec<Label>,
    /// Not carried because the other service kept its own.
    pub kept: Vec<Label>,
    /// Not carried because the other song has no such section.
    pub no_section: Vec<Label>,
    /// Not carried because the other song has no such bar, or the section is shorter there.
    pub no_bar: Vec<Label>,
}

/// Carries cues from one service to another; returns the edit and a summary.
///
/// # Errors
/// [`EditError`] for a missing service or cue, a grid that cannot be built, a place beyond song time, no free label.
pub fn carry(
    show: &Show,
    from: &str,
    to: &str,
    labels: &[Label],
    matching: Match,
    clash: Clash,
) -> Result<(Edit, Carried), EditError> {
    if from == to {
        return Err(EditError::Figure(format!("\"{from}\" cannot be carried to itself; choose another service")));
    }
    let (source, target) = (service(show, from)?, service(show, to)?);
    let (grid, target_grid) = (grid_of(source)?, grid_of(target)?);
    let there = Occupied::new(target, &target_grid);
    let guard = TimeRangeGuard::new(&target_grid);
    let mut told = Carried::default();
    let mut into: Vec<Cue> = Vec::new();
    let mut relabel: Vec<Cue> = Vec::new();
    let mut out: BTreeSet<Label> = BTreeSet::new();
    for cue in named(source, labels)? {
        let at = match placed(cue.at, source, &grid, target, &target_grid, matching) {
            Ok(at) => guard.within(cue.label, at)?,
            Err(UnmappedReason::Section) => {
                told.no_section.push(cue.label);
                continue;
            }
            Err(UnmappedReason::Bar) => {
                told.no_bar.push(cue.label);
                continue;
            }
        };
        let copied_from = Some(Box::new(Origin { service: from.to_owned(), label: cue.label }));
        let placed_on = cue.placed_on.map(|_| target_grid.digest());
        let copy = Cue { at, copied_from, placed_on, ..cue.clone() };
        let clashes = there.clashes(target, &copy, at.time(&target_grid));
        match clash {
            _ if clashes.is_empty() => {
                told.carried.push(cue.label);
                into.push(copy);
            }
            Clash::Keep => told.kept.push(cue.label),
            Clash::Replace => {
                told.carried.push(cue.label);
                out.extend(clashes);
                into.push(copy);
            }
            Clash::Both if target.cues.get(cue.label).is_none() => {
                told.carried.push(cue.label);
                into.push(copy);
            }
            Clash::Both => relabel.push(copy),
        }
    }
    // `out` is a set: a cue of theirs that clashes with two of ours is replaced, and reported, only once.
    told.replaced = out.iter().copied().collect();
    if !relabel.is_empty() {
        let taken = target.cues.iter().chain(&into).cloned().collect();
        let olds: Vec<Label> = relabel.iter().map(|c| c.label).collect();
        let renamed = with_free_labels(&taken, relabel)?;
        told.relabelled = olds.into_iter().zip(renamed.iter().map(|c| c.label)).collect();
        into.extend(renamed);
        // What comes after a cue that got a new label comes after that one.
        for cue in &mut into {
            follow(cue, |first| told.relabelled.iter().find(|(old, _)| *old == first).map(|(_, new)| *new));
        }
    }
    into.sort_by_key(|c| c.label);
    let out: Vec<Cue> = out.iter().filter_map(|label| target.cues.get(*label)).cloned().collect();
    // Replacing a cue by an identical one is no change.
    let same: BTreeSet<Label> = out.iter().filter(|o| into.iter().any(|i| i == *o)).map(|o| o.label).collect();
    let unlike = |cues: Vec<Cue>| cues.into_iter().filter(|c| !same.contains(&c.label)).collect();
    Ok((Edit::Cues { service: to.to_owned(), out: unlike(out), into: unlike(into) }, told))
}

/// The other service's cues by track and time.
struct Occupied<'a> {
    at: HashMap<(&'a str, SongTime), Vec<Label>>,
}

impl<'a> Occupied<'a> {
    fn new(service: &'a Service, grid: &Grid) -> Occupied<'a> {
        let mut at: HashMap<_, Vec<Label>> = HashMap::new();
        for cue in &service.cues {
            at.entry((cue.track.as_str(), cue.at.time(grid))).or_default().push(cue.label);
        }
        Occupied { at }
    }

    fn clashes(&self, service: &Service, cue: &Cue, land: SongTime) -> Vec<Label> {
        let mut found = self.at.get(&(cue.track.as_str(), land)).cloned().unwrap_or_default();
        if service.cues.get(cue.label).is_some() && !found.contains(&cue.label) {
            found.push(cue.label);
        }
        found
    }
}

pub(super) enum UnmappedReason {
    Section,
    Bar,
}

pub(super) fn placed(
    at: Anchor,
    source: &Service,
    grid: &Grid,
    target: &Service,
    target_grid: &Grid,
    matching: Match,
) -> Result<Anchor, UnmappedReason> {
    let time = at.time(grid);
    if matching == Match::Clock {
        return Ok(match at {
            Anchor::Clock(_) => at,
            Anchor::Grid { .. } => {
                let tick = target_grid.tick_at(time);
                Anchor::Grid { place: target_grid.place_of(tick), nudge: time - target_grid.time_at(tick) }
            }
        });
    }
    // The bar that a cue belongs to: the bar it is written in, or for a clock anchor the bar its time falls in.
    let (bar, beyond) = match at {
        Anchor::Grid { place, .. } => (place.bar, false),
        Anchor::Clock(_) => {
            let place: BarBeat = grid.place_of(grid.tick_at(time));
            (place.bar, place.bar >= source.song.end_bar())
        }
    };
    let new_bar = match matching {
        Match::Bars | Match::Clock => bar,
        Match::Sections => {
            let section = source.song.section_at(bar).ok_or(UnmappedReason::Section)?;
            // If several sections have the same name, the first is matched to the first, the second to the second.
            let nth = source.song.sections.iter().filter(|s| s.name == section.name && s.bar < section.bar).count();
            let other = target
                .song
                .sections
                .iter()
                .filter(|s| s.name == section.name)
                .nth(nth)
                .ok_or(UnmappedReason::Section)?;
            let inside = bar - section.bar;
            if i64::from(inside) >= i64::from(other.bars) {
                return Err(UnmappedReason::Bar);
            }
            other.bar + inside
        }
    };
    if new_bar >= target.song.end_bar() || beyond {
        return Err(UnmappedReason::Bar);
    }
    Ok(match at {
        Anchor::Grid { place, nudge } => Anchor::Grid { place: BarBeat { bar: new_bar, ..place }, nudge },
        // Keep the distance from the bar line in beats; at another tempo that is another time.
        Anchor::Clock(time) => {
            let into = grid.ticks_at(time.micros() as f64) - grid.bar_tick(bar).get() as f64;
            let micros = target_grid.micros_at_fraction(target_grid.bar_tick(new_bar).get() as f64 + into);
            Anchor::Clock(SongTime::saturating(round::nearest(micros)))
        }
    })
}

//! What is seen and when, as spans of song time, worked out from a finished schedule.

use super::slot::{LightSlot, light_slot};
use crate::reveal::{FallTime, fall_time};
use crate::schedule::Schedule;
use crate::show::{Action, Carries, HangKey, Instant, Label, Service, Show, Surface};
use crate::time::{SongSpan, SongTime};

/// An output showing one route for a while.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Showing {
    /// The output's index in the show's list.
    pub output: usize,
    /// The route's index in the show's list; `None` if it is missing.
    pub route: Option<usize>,
    /// From.
    pub from: SongTime,
    /// Until when; the song's end if nothing follows.
    pub until: SongTime,
    /// The cue that switched to it; `None` for what the output starts with.
    pub by: Option<Label>,
}

/// A picture or film playing on its layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Playing {
    /// The media item's index in the show's list.
    pub item: usize,
    /// From land.
    pub from: SongTime,
    /// Until.
    pub until: SongTime,
    /// The cue that started it.
    pub by: Label,
}

/// A fabric coming down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Falling {
    /// The hang's index in the show's list.
    pub hang: usize,
    /// When it is let go, as planned.
    pub let_go: SongTime,
    /// How long it takes to the sightline.
    pub to_sightline: FallTime,
    /// How long it takes to the floor.
    pub to_floor: FallTime,
    /// The cue that lets it go.
    pub by: Label,
}

impl Falling {
    /// When its edge is expected to pass the sightline.
    pub fn sightline(&self) -> SongTime {
        self.let_go + SongSpan::from_secs_f64(self.to_sightline.expected)
    }

    /// When it is expected on the floor.
    pub fn floor(&self) -> SongTime {
        self.let_go + SongSpan::from_secs_f64(self.to_floor.expected)
    }
}

/// A lighting preset coming up and staying.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lit {
    /// The preset's index in the show's list.
    pub preset: usize,
    /// Whose state it sets.
    pub slot: LightSlot,
    /// When its fade starts.
    pub from: SongTime,
    /// When its fade is done.
    pub full: SongTime,
    /// The cue that recalled it.
    pub by: Label,
}

/// A whole service as the audience sees it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Stage {
    /// What outputs show, by output and then by time, without gaps.
    pub showing: Vec<Showing>,
    /// What plays, in order of land.
    pub playing: Vec<Playing>,
    /// What falls, in order of let-go.
    pub falling: Vec<Falling>,
    /// Lighting, in order of start.
    pub lit: Vec<Lit>,
}

fn place<T>(list: &[T], is: impl Fn(&T) -> bool) -> Option<usize> {
    list.iter().position(is)
}

impl Stage {
    /// Works out what the audience sees in a service.
    pub(crate) fn new(show: &Show, service: &Service, schedule: &Schedule) -> Stage {
        let mut stage = Stage::default();
        let end = schedule.grid.bar_time(service.song.end_bar());
        let mut switches: Vec<(usize, SongTime, Option<usize>, Label)> = Vec::new();
        for row in schedule.by_land() {
            let cue = &service.cues.as_slice()[row.cue as usize];
            if cue.resting {
                continue;
            }
            match &cue.does {
                Action::Output { route } => {
                    let at = place(&show.routes, |r| r.key == *route);
                    let output = at.and_then(|at| place(&show.outputs, |o| o.key == show.routes[at].output));
                    if let Some(output) = output {
                        switches.push((output, row.land, at, row.label));
                    }
                }
                Action::Media { item } => {
                    if let Some(item) = place(&show.media, |m| m.key == *item) {
                        let own = show.media[item].length;
                        let until = match cue.length {
                            Some(length) => length.end(row.land, &schedule.grid),
                            None if own == SongSpan::ZERO => end.max(row.land),
                            None => row.land + own,
                        };
                        stage.playing.push(Playing { item, from: row.land, until, by: row.label });
                    }
                }
                Action::Release { release, .. } => {
                    let hang = show.release(release).and_then(|r| place(&show.hangs, |h| h.key == r.hang));
                    if let Some(hang) = hang {
                        let fall = |to| fall_time(&show.hangs[hang], to);
                        stage.falling.push(Falling {
                            hang,
                            let_go: row.land - row.lead.action,
                            to_sightline: fall(Instant::Sightline),
                            to_floor: fall(Instant::Floor),
                            by: row.label,
                        });
                    }
                }
                Action::Lighting { preset, fade, .. } => {
                    let slot = light_slot(show, preset, &cue.track);
                    if let Some((preset, slot)) = place(&show.presets, |p| p.key == *preset).zip(slot) {
                        let from = row.land - row.lead.action;
                        let full = from + fade.unwrap_or(show.presets[preset].fade);
                        stage.lit.push(Lit { preset, slot, from, full, by: row.label });
                    }
                }
            }
        }
        end_stills(show, service, &mut stage.playing);
        stage.falling.sort_by_key(|f| f.let_go);
        stage.lit.sort_by_key(|l| l.from);
        stage.showing = showings(show, &switches, end);
        stage
    }

    /// What an output shows at an instant.
    pub fn showing_at(&self, output: usize, at: SongTime) -> Option<&Showing> {
        self.showing.iter().find(|s| s.output == output && s.from <= at && at < s.until)
    }

    /// The fall of an output's fabric, if it has one.
    pub fn fall_of<'s>(&'s self, show: &'s Show, output: usize) -> Option<&'s Falling> {
        let Surface::Fabric(hang) = &show.outputs[output].surface else { return None };
        self.falls_of(show, hang).next()
    }

    /// The falls of a fabric, in order of let-go.
    pub fn falls_of<'s>(&'s self, show: &'s Show, hang: &'s HangKey) -> impl Iterator<Item = &'s Falling> {
        self.falling.iter().filter(move |fall| show.hangs[fall.hang].key == *hang)
    }
}

/// A still without its own length stays until the next item on its layer.
fn end_stills(show: &Show, service: &Service, playing: &mut [Playing]) {
    for at in 0..playing.len() {
        let (item, by, from) = (playing[at].item, playing[at].by, playing[at].from);
        let own_length = service.cues.get(by).is_some_and(|c| c.length.is_some());
        if show.media[item].length > SongSpan::ZERO || own_length {
            continue;
        }
        let layer = &show.media[item].layer;
        let next = playing[at + 1..].iter().find(|p| show.media[p.item].layer == *layer && p.from > from);
        if let Some(next) = next.map(|p| p.from) {
            playing[at].until = playing[at].until.min(next);
        }
    }
}

/// What each output shows, as spans without gaps.
fn showings(show: &Show, switches: &[(usize, SongTime, Option<usize>, Label)], end: SongTime) -> Vec<Showing> {
    let mut out = Vec::new();
    for (output, facts) in show.outputs.iter().enumerate() {
        let start = place(&show.routes, |r| r.key == facts.starts_with);
        let mut now = Showing { output, route: start, from: SongTime::MIN, until: SongTime::MAX, by: None };
        for &(_, at, route, by) in switches.iter().filter(|s| s.0 == output) {
            now.until = at;
            out.push(now);
            now = Showing { output, route, from: at, until: SongTime::MAX, by: Some(by) };
        }
        now.until = now.from.max(end).max(now.until);
        out.push(now);
    }
    out.retain(|s| s.from < s.until);
    out
}

/// Whether a route puts light on its output.
pub fn is_lit(show: &Show, route: Option<usize>) -> bool {
    route.is_some_and(|at| !matches!(show.routes[at].carries, Carries::Blank {}))
}

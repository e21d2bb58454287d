//! Laying out a prepared service: its messages with their bytes, put in the order in which they are due.

use super::parts::{ByHand, ByteRange, ReleaseGuard, ReleaseSet, RunItem, RunRelease};
use crate::command::Mode;
use crate::units::{ItemIndex, MachineSpan, ReleaseIndex, ShowPort};
use letfall_core::midi::{EncodedMessage, encode};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{Row, SEE_AND_ACT};
use letfall_core::show::{Action, Course, FadeShare, Kind, Label, Release, RouteKey, Show, SongBend, TrackKey};
use letfall_core::stage::{LightSlot, light_slot};
use letfall_core::time::{SongSpan, SongTime};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::sync::Arc;

/// A message before sorting. Its final index is not known yet, so the message it ends is named by its index in
/// [`Layout::loose`].
struct Loose {
    item: RunItem,
    /// For the end of a note: the index of the loose message that begins it.
    ends: Option<usize>,
}

/// The show that a run is laid out from, and what has been laid out so far.
pub(super) struct Layout<'a> {
    show: &'a Show,
    guards: &'a [ReleaseGuard],
    bytes: Vec<u8>,
    loose: Vec<Loose>,
    releases: Vec<RunRelease>,
    /// The rows of the stage that something sets, each with its number.
    rows: BTreeMap<StageRow, u32>,
    /// The sets of releases that messages depend on, each once.
    sets_of_releases: Vec<Vec<ReleaseIndex>>,
    /// For each cue, the releases without which it makes no sense, and those that it waits for if they are stuck.
    depends: BTreeMap<Label, [Vec<ReleaseIndex>; 2]>,
    /// The cues that are sent in the first round of a vamp only, each with the vamp's stretch.
    once: Vec<(Label, Range<SongTime>)>,
    /// What each message without a time of its own is.
    instead: Vec<String>,
}

/// A row of the stage: what keeps the state that was last sent for it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum StageRow {
    Light(LightSlot),
    /// An output, by its index in the show's list.
    Output(usize),
}

/// What a layout comes to.
pub(super) struct LaidOut {
    pub items: Vec<RunItem>,
    pub timed: usize,
    pub instead: Vec<String>,
    pub sets_of_releases: Vec<Vec<ReleaseIndex>>,
    pub by_hand: Vec<ByHand>,
    pub releases: Vec<RunRelease>,
    pub bytes: Vec<u8>,
    pub rows: usize,
}

impl<'a> Layout<'a> {
    pub fn new(show: &'a Show, guards: &'a [ReleaseGuard]) -> Layout<'a> {
        Layout {
            show,
            guards,
            bytes: Vec::new(),
            loose: Vec::new(),
            releases: Vec::new(),
            rows: BTreeMap::new(),
            sets_of_releases: vec![Vec::new()],
            depends: BTreeMap::new(),
            once: Vec::new(),
            instead: Vec::new(),
        }
    }

    pub fn all(mut self, prepared: &'a Prepared) -> LaidOut {
        let schedule = prepared.schedule();
        self.depend(prepared);
        let mut by_hand = Vec::new();
        for row in &schedule.rows {
            if let (Some(port), Some(message)) = (row.port, schedule.wire(row)) {
                self.row(prepared, row, ShowPort::at(port as usize), message);
            } else if !row.goes.by_machine()
                && !prepared.cue(row).resting
                && let Some(set) = self.sets(&prepared.cue(row).does, &prepared.cue(row).track)
            {
                // The word comes first; the row is set when the hand follows it.
                by_hand.push(ByHand { due: row.send + row.lead.person, row: set });
            }
        }
        by_hand.sort_by_key(|hand| hand.due);
        let mut order: Vec<usize> = (0..self.loose.len()).collect();
        order.sort_by_key(|at| (self.loose[*at].item.due, self.loose[*at].item.rank, self.loose[*at].item.label));
        let mut places = vec![ItemIndex(0); order.len()];
        for (place, at) in order.iter().enumerate() {
            places[*at] = ItemIndex::at(place);
        }
        let mut items: Vec<RunItem> = order.iter().map(|at| self.loose[*at].item).collect();
        for (at, loose) in self.loose.iter().enumerate() {
            let Some(on) = loose.ends.map(|on| places[on]) else { continue };
            items[places[at].index()].ends = Some(on);
            let begun = &mut items[on.index()];
            if loose.item.only == Some(Mode::Rehearse) {
                begun.stand_in_ended_by = Some(places[at]);
            } else {
                begun.ended_by = Some(places[at]);
            }
        }
        let timed = items.len();
        for (at, item) in items.iter().enumerate().filter(|(_, item)| item.ends.is_none()) {
            for release in &self.sets_of_releases[item.depends.0 as usize] {
                self.releases[release.index()].dependents.push(ItemIndex::at(at));
            }
        }
        for release in 0..self.releases.len() {
            self.instead(prepared, release, &mut items);
        }
        LaidOut {
            items,
            timed,
            instead: self.instead,
            sets_of_releases: self.sets_of_releases,
            by_hand,
            releases: self.releases,
            bytes: self.bytes,
            rows: self.rows.len(),
        }
    }

    /// Finds which cues depend on which releases. The releases get their numbers in the order of the schedule's rows.
    fn depend(&mut self, prepared: &Prepared) {
        let schedule = prepared.schedule();
        let mut next = 0;
        for row in &schedule.rows {
            let Some((facts, _)) = self.release_of(prepared, row).filter(|_| schedule.wire(row).is_some()) else {
                continue;
            };
            let release = ReleaseIndex::at(next);
            next += 1;
            for label in prepared.dependents(row.label) {
                self.depends.entry(label).or_default()[0].push(release);
            }
            let stoppable = |label: &Label| {
                schedule.rows.iter().any(|held| held.label == *label && held.send - row.send >= SEE_AND_ACT)
            };
            let held = facts.hang_up.iter().flat_map(|plan| &plan.hold).filter(|label| stoppable(label));
            for label in held.copied().collect::<BTreeSet<Label>>() {
                self.depends.entry(label).or_default()[1].push(release);
            }
        }
        let grid = prepared.grid();
        for mark in &prepared.service().song.bends {
            if let SongBend::Vamp { once, .. } = &mark.does {
                let stretch = grid.bar_time(mark.bar)..grid.bar_time(mark.end_bar());
                self.once.extend(once.iter().map(|label| (*label, stretch.clone())));
            }
        }
    }

    /// The release that a row fires, with its guard, if the row has a message.
    fn release_of(&self, prepared: &Prepared, row: &Row) -> Option<(&'a Release, usize)> {
        let Action::Release { release: key, .. } = &prepared.cue(row).does else { return None };
        row.port?;
        let guard = self.guards.iter().position(|guard| guard.release == *key)?;
        Some((self.show.release(key)?, guard))
    }

    fn set_of(&mut self, releases: Vec<ReleaseIndex>) -> ReleaseSet {
        let known = self.sets_of_releases.iter().position(|of| *of == releases);
        let at = known.unwrap_or_else(|| {
            self.sets_of_releases.push(releases);
            self.sets_of_releases.len() - 1
        });
        ReleaseSet(u32::try_from(at).unwrap_or(u32::MAX))
    }

    /// Lays out what is sent when a release takes another course.
    fn instead(&mut self, prepared: &Prepared, release: usize, items: &mut Vec<RunItem>) {
        let show = self.show;
        let label = self.releases[release].label;
        let Some(Action::Release { release: key, .. }) = prepared.service().cues.get(label).map(|cue| &cue.does) else {
            return;
        };
        let Some(facts) = show.release(key) else { return };
        for (at, course) in Course::ALL.into_iter().enumerate() {
            let sent = facts.sent_instead(course);
            let lights = sent.lights.iter().filter_map(|key| {
                let preset = show.preset(key)?;
                let does = Action::Lighting { preset: key.clone(), fade: None, share: FadeShare::default() };
                Some((&preset.message, &preset.receiver, &preset.name, does))
            });
            let media = sent.media.iter().filter_map(|key| {
                let item = show.media_item(key)?;
                Some((&item.message, &item.receiver, &item.name, Action::Media { item: key.clone() }))
            });
            let routes = sent.routes.iter().filter_map(|key| {
                let route = show.route(key)?;
                Some((&route.message, &route.receiver, &route.name, Action::Output { route: key.clone() }))
            });
            for (message, receiver, name, does) in lights.chain(media).chain(routes) {
                let Some(receiver) = show.receiver(receiver) else { continue };
                let Some(port) = show.ports.iter().position(|port| port.key == receiver.port) else { continue };
                let Ok(encoded) = encode(message, receiver) else { continue };
                let sets = track_of(prepared, &does).and_then(|track| self.sets(&does, &track));
                let item = RunItem {
                    due: SongTime::MAX,
                    land: SongTime::MAX,
                    label,
                    port: ShowPort::at(port),
                    bytes: self.keep(&encoded.on),
                    ends: None,
                    ended_by: None,
                    stand_in_ended_by: None,
                    only: None,
                    release: None,
                    stand_in: None,
                    sets,
                    rank: does.kind().rank(),
                    depends: ReleaseSet::default(),
                    held: ReleaseSet::default(),
                    once: false,
                };
                let words = format!("{}: {name}", course.name());
                let begun = ItemIndex::at(items.len());
                self.releases[release].instead[at].push(begun);
                let end = encoded.off.map(|(off, _)| self.keep(&off));
                let ended_by = end.map(|_| ItemIndex::at(items.len() + 1));
                items.push(RunItem { ended_by, ..item });
                self.instead.push(words.clone());
                if let Some(bytes) = end {
                    items.push(RunItem { bytes, ends: Some(begun), sets: None, rank: Kind::END_RANK, ..item });
                    self.instead.push(words);
                }
            }
        }
    }

    /// The number of a row of the stage.
    fn slot(&mut self, row: StageRow) -> u32 {
        let next = u32::try_from(self.rows.len()).unwrap_or(u32::MAX);
        *self.rows.entry(row).or_insert(next)
    }

    /// The row of the stage that an action sets.
    fn sets(&mut self, does: &Action, track: &TrackKey) -> Option<u32> {
        let show = self.show;
        match does {
            Action::Lighting { preset, .. } => {
                light_slot(show, preset, track).map(|slot| self.slot(StageRow::Light(slot)))
            }
            Action::Output { route } => {
                let of = show.route(route).map(|r| &r.output);
                let at = show.outputs.iter().position(|o| Some(&o.key) == of);
                at.map(|at| self.slot(StageRow::Output(at)))
            }
            Action::Media { .. } | Action::Release { .. } => None,
        }
    }

    fn keep(&mut self, bytes: &[u8]) -> ByteRange {
        let small = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        let from = small(self.bytes.len());
        self.bytes.extend_from_slice(bytes);
        ByteRange { from, length: small(bytes.len()) }
    }

    fn row(&mut self, prepared: &Prepared, row: &Row, port: ShowPort, message: &EncodedMessage) {
        let (show, cue) = (self.show, prepared.cue(row));
        let (mut release, mut stand_in) = (None, None);
        let sets = self.sets(&cue.does, &cue.track);
        let mut ends: Vec<(Arc<[u8]>, SongSpan, Option<Mode>)> = Vec::new();
        if matches!(cue.does, Action::Release { .. }) {
            let Some((facts, guard)) = self.release_of(prepared, row) else { return };
            let (from, to) = facts.window(row.send, row.land);
            release = Some(ReleaseIndex::at(self.releases.len()));
            self.releases.push(RunRelease {
                label: row.label,
                name: facts.name.clone(),
                port,
                from,
                to,
                send: row.send,
                land: row.land,
                pulse: message.off.is_some().then(|| MachineSpan::of_song(facts.pulse)),
                guard,
                needs: needs(prepared, row.label, port),
                decision: prepared.decision(row.label).map_or(row.send, |decision| decision.at),
                dependents: Vec::new(),
                instead: [const { Vec::new() }; 3],
            });
            let receiver = row.receiver.and_then(|r| show.receivers.get(r as usize));
            let encoded = facts.stand_in.as_ref().zip(receiver).and_then(|(m, r)| encode(m, r).ok());
            if let Some(encoded) = encoded {
                stand_in = Some(self.keep(&encoded.on));
                ends.extend(encoded.off.map(|(off, after)| (off, after, Some(Mode::Rehearse))));
            }
        }
        if let Some((off, after)) = &message.off {
            ends.push((off.clone(), *after, release.map(|_| Mode::Perform)));
        }
        let [depends, held] = self.depends.get(&row.label).cloned().unwrap_or_default();
        let (depends, held) = (self.set_of(depends), self.set_of(held));
        let once = self.once.iter().any(|(label, stretch)| *label == row.label && stretch.contains(&row.land));
        let item = RunItem {
            due: row.send,
            land: row.land,
            rank: row.label.kind.rank(),
            depends,
            held,
            once,
            label: row.label,
            port,
            bytes: self.keep(&message.on),
            ends: None,
            ended_by: None,
            stand_in_ended_by: None,
            only: None,
            release,
            stand_in,
            sets,
        };
        let begun = self.loose.len();
        self.loose.push(Loose { item, ends: None });
        for (off, after, only) in ends {
            let bytes = self.keep(&off);
            let rank = Kind::END_RANK;
            let item = RunItem { due: item.due + after, bytes, only, stand_in: None, sets: None, rank, ..item };
            self.loose.push(Loose { item, ends: Some(begun) });
        }
    }
}

/// The track on which an action would stand: that of a cue which does the same, or else the first of its kind.
fn track_of(prepared: &Prepared, does: &Action) -> Option<TrackKey> {
    let same = prepared.service().cues.iter().find(|cue| cue.does == *does).map(|cue| cue.track.clone());
    same.or_else(|| {
        prepared.show().tracks.iter().find(|track| track.kind == does.kind()).map(|track| track.key.clone())
    })
}

/// The ports that a release needs: its own, and those that switch the pictures of its handover.
fn needs(prepared: &Prepared, label: Label, own: ShowPort) -> Vec<ShowPort> {
    let show = prepared.show();
    let port_of = |route: &RouteKey| {
        let receiver = show.receiver(&show.route(route)?.receiver)?;
        show.ports.iter().position(|p| p.key == receiver.port).map(ShowPort::at)
    };
    let handovers = prepared.service().handovers.iter().filter(|handover| handover.release == label);
    let mut needs = vec![own];
    needs.extend(handovers.flat_map(|handover| [&handover.leave.route, &handover.arrive.route]).filter_map(port_of));
    needs.sort_unstable();
    needs.dedup();
    needs
}

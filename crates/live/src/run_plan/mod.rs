//! A service's schedule, laid out for sending: every message with its bytes, in the order in which they are due. It is made
//! before a run and does not change during the run.

mod layout;
mod parts;

pub use parts::{ByHand, ByteRange, HandGroup, MarkDoes, ReleaseGuard, ReleaseSet, RunItem, RunMark, RunRelease};

use crate::bend::Rate;
use crate::units::{ItemIndex, ReleaseIndex, ShowPort};
use layout::{LaidOut, Layout};
use letfall_core::midi::Doubt;
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{ReleaseOnPort, ReleaseTriggers, SEE_AND_ACT};
use letfall_core::show::{BendMark, Label, Port, Show, SongBend};
use letfall_core::time::{Grid, SongSpan, SongTime, Timecode};
use std::sync::Arc;

/// A service, ready to be sent.
#[derive(Debug, Clone)]
pub struct RunPlan {
    /// What it was made from. The run keeps this, whatever is edited in the meantime.
    pub prepared: Arc<Prepared>,
    /// The service's name.
    pub service: String,
    /// Its grid.
    pub grid: Arc<Grid>,
    /// Messages in the order in which they are due. Those after the first [`RunPlan::timed`] have no time of their own: they are sent when a
    /// release takes another course.
    pub items: Vec<RunItem>,
    /// How many messages have a time of their own.
    pub timed: usize,
    /// What each of the other messages is, in words.
    pub instead: Vec<String>,
    /// Cues that land together, in order.
    pub groups: Vec<HandGroup>,
    /// The group of each message, by its number. `None` for what no hand sends.
    pub(crate) group_of: Vec<Option<usize>>,
    /// Where the song may bend.
    pub marks: Vec<RunMark>,
    /// The sets of releases that messages depend on.
    sets_of_releases: Vec<Vec<ReleaseIndex>>,
    /// When a hand sets a row of the stage, in order: Letfall sends nothing then, and what it sent before holds there no more.
    pub by_hand: Vec<ByHand>,
    /// Its releases.
    pub releases: Vec<RunRelease>,
    /// The show's ports by name.
    pub ports: Vec<String>,
    /// Where the song ends.
    pub end: SongTime,
    /// Timecode of song time 0, where the house runs on it.
    pub timecode: Option<Timecode>,
    /// What is still missing on the safety sheet. While anything is missing, no release is sent.
    pub unsafe_because: Vec<&'static str>,
    /// What might fire the releases of the show.
    pub guards: Vec<ReleaseGuard>,
    /// For each port of the show: whether somebody confirmed by trying that its devices ignore timecode and clock.
    pub sync_confirmed: Vec<bool>,
    /// For each port of the show: how many nanoseconds one byte takes.
    pub nanos_per_byte: Vec<i64>,
    bytes: Vec<u8>,
    /// How many rows of the stage there are.
    pub(crate) rows: usize,
}

impl RunPlan {
    /// Lays out a prepared service.
    pub fn new(prepared: Arc<Prepared>) -> RunPlan {
        let (show, service) = (prepared.show(), prepared.service());
        let guards = guards(show);
        let laid_out = Layout::new(show, &guards).all(&prepared);
        let LaidOut { items, timed, instead, sets_of_releases, by_hand, releases, bytes, rows } = laid_out;
        let groups = groups(&items, timed, &sets_of_releases, &releases);
        RunPlan {
            service: service.name.clone(),
            grid: prepared.grid().clone(),
            timed,
            instead,
            group_of: group_of(&groups, items.len()),
            groups,
            marks: marks(&prepared),
            items,
            sets_of_releases,
            releases,
            ports: show.ports.iter().map(|p| p.name.clone()).collect(),
            end: prepared.end(),
            timecode: service.zero(),
            unsafe_because: show.safety.missing(),
            guards,
            sync_confirmed: show.ports.iter().map(Port::is_sync_confirmed).collect(),
            nanos_per_byte: show.ports.iter().map(|p| p.link.nanos(1)).collect(),
            bytes,
            rows,
            by_hand,
            prepared,
        }
    }

    /// The bytes of a message.
    pub fn bytes(&self, at: ByteRange) -> &[u8] {
        let from = at.from as usize;
        self.bytes.get(from..from + at.length as usize).unwrap_or_default()
    }

    /// A message of the run.
    pub fn item(&self, at: ItemIndex) -> Option<&RunItem> {
        self.items.get(at.index())
    }

    /// The messages that have a time of their own, in the order in which they are due.
    pub fn timed(&self) -> &[RunItem] {
        self.items.get(..self.timed).unwrap_or_default()
    }

    /// What a message is, in words, if it is none of the plan's own but is sent when a release takes another course.
    pub fn instead(&self, item: ItemIndex) -> Option<&str> {
        item.index().checked_sub(self.timed).and_then(|at| self.instead.get(at)).map(String::as_str)
    }

    /// What a message is called: its cue, or the release that takes another course and what is sent instead. A message that is sent because a
    /// fabric stays must never look like the release itself.
    pub fn name_of(&self, item: ItemIndex) -> String {
        let label = self.label(item).map_or_else(String::new, |label| label.to_string());
        self.instead(item).map_or_else(|| label.clone(), |words| format!("{label} {words}"))
    }

    /// The releases of a set.
    pub fn releases_of(&self, set: ReleaseSet) -> &[ReleaseIndex] {
        self.sets_of_releases.get(set.0 as usize).map_or(&[], Vec::as_slice)
    }

    /// How much later in the song a message is due than planned, at a rate: see [`Rate::pace`]. What ends another keeps its distance from
    /// that.
    pub fn pace(&self, item: ItemIndex, rate: Rate) -> SongSpan {
        let begun = |item: &RunItem| item.ends.and_then(|begun| self.item(begun)).unwrap_or(item).lead();
        rate.pace(self.item(item).map_or(SongSpan::ZERO, begun))
    }

    /// The messages that belong to what lands from a place of the song on, and leave before that place, or would if the song went faster.
    /// When a song arrives there by a bend, they leave as long before their land.
    pub fn may_lead_into(&self, place: SongTime) -> impl Iterator<Item = ItemIndex> + '_ {
        let before = self.timed().partition_point(|item| item.due < place + OVERTAKES);
        let into = move |item: &RunItem| match item.ends {
            None => item.land >= place,
            // The end of what leads in leads in too.
            Some(begun) => self.item(begun).is_some_and(|begun| begun.land >= place),
        };
        let all = self.timed()[..before].iter().enumerate();
        all.filter(move |(_, item)| into(item)).map(|(at, _)| ItemIndex::at(at))
    }

    /// How much of the song, at a rate, the first message leaves before a place that belongs to what lands from there on.
    pub fn lead_into(&self, place: SongTime, rate: Rate) -> SongSpan {
        let lead = |at: ItemIndex| Some(place - (self.item(at)?.due + self.pace(at, rate)));
        self.may_lead_into(place).filter_map(lead).max().map_or(SongSpan::ZERO, |lead| lead.max(SongSpan::ZERO))
    }

    /// The cue of a message.
    pub fn label(&self, item: ItemIndex) -> Option<Label> {
        self.item(item).map(|i| i.label)
    }

    /// A release of the run.
    pub fn release(&self, at: ReleaseIndex) -> Option<&RunRelease> {
        self.releases.get(at.index())
    }

    /// Why bytes must not leave by the ports of the show for which `here` is true, which use one machine port: they might fire
    /// a release there. `own` is the guard of the release that they are meant to fire. `None` where they provably fire no
    /// other.
    pub(crate) fn doubt(&self, row: &[u8], own: Option<usize>, here: impl Fn(ShowPort) -> bool) -> Option<Doubt> {
        let mut ports = self.sync_confirmed.iter().enumerate();
        let sync_confirmed = ports.all(|(at, confirmed)| *confirmed || !here(ShowPort::at(at)));
        let mut others = self.guards.iter().enumerate().filter(|(at, guard)| own != Some(*at) && here(guard.port));
        others.find_map(|(_, guard)| guard.trigger.doubt_in_row(row, sync_confirmed))
    }

    /// Why a message, its stand-in or the end of either is not sent by the ports for which `here` is true. `None` where all of
    /// them are.
    fn refusal(&self, item: &RunItem, here: impl Fn(ShowPort) -> bool) -> Option<Doubt> {
        let end = |at: Option<ItemIndex>| at.and_then(|at| self.item(at)).map(|end| end.bytes);
        let guard = item.release.and_then(|release| self.release(release)).map(|release| release.guard);
        let own = [Some(item.bytes), end(item.ended_by)].map(|row| (row, guard));
        let stand_in = [item.stand_in, end(item.stand_in_ended_by)].map(|row| (row, None));
        let mut rows = own.into_iter().chain(stand_in);
        rows.find_map(|(row, guard)| self.doubt(self.bytes(row?), guard, &here))
    }

    /// Why a part of the song must not be looped: it is very short, or its messages would keep a port busy for more than half
    /// of the time, so that other messages on that port would be late. `None` where it may be looped.
    pub fn loop_refusal(&self, from: SongTime, to: SongTime) -> Option<LoopRefusal> {
        let length = to - from;
        if length < LEAST_LOOP {
            return Some(LoopRefusal::Short);
        }
        let at = |place: SongTime| self.items.partition_point(|item| item.due < place);
        let within = self.items.get(at(from)..at(to)).unwrap_or_default();
        let busy = |(port, nanos): (usize, &i64)| {
            let bytes: i64 = within.iter().filter(|i| i.port.index() == port).map(|i| i64::from(i.bytes.length)).sum();
            bytes.saturating_mul(*nanos) / 1000 > length.micros() / 2
        };
        let busy = self.nanos_per_byte.iter().enumerate().find(|at| busy(*at));
        busy.map(|(port, _)| LoopRefusal::Floods(ShowPort::at(port)))
    }

    /// The cues that a run would not send because they might fire a release. `names` gives the machine port for each port
    /// of the show.
    pub fn held_back(&self, names: &[Option<String>]) -> Vec<Label> {
        let name = |port: ShowPort| names.get(port.index()).and_then(Option::as_ref);
        let one = |a: ShowPort, b: ShowPort| a == b || name(a).is_some() && name(a) == name(b);
        let held = |item: &&RunItem| item.ends.is_none() && self.refusal(item, |of| one(of, item.port)).is_some();
        let held = self.items.iter().filter(held);
        let mut labels: Vec<Label> = held.map(|item| item.label).collect();
        labels.sort_unstable();
        labels.dedup();
        labels
    }
}

/// Why a part of the song must not be looped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LoopRefusal {
    /// It is shorter than a second.
    Short,
    /// Its messages would keep a port busy more than half of the time.
    Floods(ShowPort),
}

/// A message that is due this much later than another never overtakes it, at any tempo that is followed: no lead is longer. Our own figure.
pub(crate) const OVERTAKES: SongSpan = SongSpan::from_millis(5_000);

/// A loop shorter than this is refused, because nobody can rehearse anything in it. Our own figure.
const LEAST_LOOP: SongSpan = SongSpan::from_millis(1000);

/// Cues that land closer together than this are sent by one key. Our own figure.
const TOGETHER: SongSpan = SongSpan::from_millis(1);

/// Puts the messages into groups that land together. What depends on a release and lands before it, or within the time in which nobody could
/// press again, goes with it.
fn groups(items: &[RunItem], timed: usize, sets: &[Vec<ReleaseIndex>], releases: &[RunRelease]) -> Vec<HandGroup> {
    let land = |item: &RunItem| {
        let of = sets.get(item.depends.0 as usize).into_iter().flatten();
        let lands = of.filter_map(|release| releases.get(release.index())).map(|release| release.land);
        lands.filter(|land| item.land <= *land + SEE_AND_ACT).max().unwrap_or(item.land)
    };
    let begins = items.iter().take(timed).enumerate().filter(|(_, item)| item.ends.is_none());
    let mut all: Vec<(SongTime, ItemIndex)> = begins.map(|(at, item)| (land(item), ItemIndex::at(at))).collect();
    all.sort_unstable();
    let mut groups: Vec<HandGroup> = Vec::new();
    for (land, item) in all {
        let release = items.get(item.index()).and_then(|item| item.release);
        match groups.last_mut().filter(|group| land - group.land < TOGETHER) {
            Some(group) => {
                group.items.push(item);
                group.releases.extend(release);
            }
            None => groups.push(HandGroup { land, items: vec![item], releases: release.into_iter().collect() }),
        }
    }
    // Messages are numbered in the order in which they are due.
    for group in &mut groups {
        group.items.sort_unstable();
    }
    groups
}

/// The group of each of so many messages.
fn group_of(groups: &[HandGroup], items: usize) -> Vec<Option<usize>> {
    let mut all = vec![None; items];
    for (number, group) in groups.iter().enumerate() {
        for item in &group.items {
            if let Some(of) = all.get_mut(item.index()) {
                *of = Some(number);
            }
        }
    }
    all
}

/// Where the song of a service may bend, in order.
fn marks(prepared: &Prepared) -> Vec<RunMark> {
    let grid = prepared.grid();
    let mark = |mark: &BendMark| {
        let end = grid.bar_time(mark.end_bar());
        let does = match mark.does {
            SongBend::Wait {} => MarkDoes::Wait,
            SongBend::Vamp { .. } => MarkDoes::Vamp(end),
            SongBend::Cut { .. } => MarkDoes::Cut(end),
            // It concerns only whoever follows the band.
            SongBend::Free { .. } => return None,
        };
        Some(RunMark { at: grid.bar_time(mark.bar), does, name: mark.name(), words: mark.words.clone() })
    };
    let mut marks: Vec<RunMark> = prepared.service().song.bends.iter().filter_map(mark).collect();
    marks.sort_by_key(|mark| mark.at);
    marks
}

/// What might fire each release of a show, in the show's order. A release whose message cannot be encoded is left out.
fn guards(show: &Show) -> Vec<ReleaseGuard> {
    let guard = |of: &ReleaseOnPort<'_>| {
        let port = show.ports.iter().position(|port| port.key == *of.port).map(ShowPort::at)?;
        let (trigger, row) = (of.trigger.clone(), of.message.on.clone());
        Some(ReleaseGuard { port, trigger, row, release: of.release.key.clone() })
    };
    ReleaseTriggers::new(show).each().filter_map(guard).collect()
}

//! A service's schedule, laid out for sending: every message with its bytes, in the order in which they are due. It is made
//! before a run and does not change during the run.

use crate::command::Mode;
use crate::units::{ItemIndex, MachineSpan, ReleaseIndex, ShowPort};
use letfall_core::midi::{Doubt, EncodedMessage, ReleaseTrigger, encode};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{ReleaseOnPort, ReleaseTriggers, Row};
use letfall_core::show::{Action, Kind, Label, Port, ReleaseKey, RouteKey, Show, TrackKey};
use letfall_core::stage::{LightSlot, light_slot};
use letfall_core::time::{Grid, SongSpan, SongTime, Timecode};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A release of the run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RunRelease {
    /// Its cue.
    pub label: Label,
    /// Its name.
    pub name: String,
    /// The port by which its message leaves.
    pub port: ShowPort,
    /// Song time from which it can be armed.
    pub from: SongTime,
    /// Song time until which it can be armed and sent.
    pub to: SongTime,
    /// When its message is planned to leave.
    pub send: SongTime,
    /// When it is to land.
    pub land: SongTime,
    /// How long its contact stays closed before the port's thread opens it. `None` where the box opens it by itself.
    pub pulse: Option<MachineSpan>,
    /// Its index in [`RunPlan::guards`].
    pub guard: usize,
    /// The show's ports that it needs: its own, and those of its handover.
    pub needs: Vec<ShowPort>,
}

/// What might fire a release of the show. It covers releases without a cue in this service too, because their contact is still
/// connected to the port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReleaseGuard {
    /// The port by which its message leaves.
    pub port: ShowPort,
    /// What might fire it.
    pub trigger: ReleaseTrigger,
    /// The bytes of its message.
    pub row: Arc<[u8]>,
    /// The release.
    pub release: ReleaseKey,
}

/// A range among the bytes of a run: where it starts, and how many bytes it has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ByteRange {
    from: u32,
    length: u32,
}

/// One message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RunItem {
    /// When it is due.
    pub due: SongTime,
    /// Its cue.
    pub label: Label,
    /// Its port.
    pub port: ShowPort,
    /// Where its bytes are.
    pub bytes: ByteRange,
    /// For the end of a note: the message that begins the note.
    pub ends: Option<ItemIndex>,
    /// The message that ends the note which this one begins. For a release, the end of its own message, not of its stand-in's.
    pub ended_by: Option<ItemIndex>,
    /// The message that ends the note of a release's stand-in.
    pub stand_in_ended_by: Option<ItemIndex>,
    /// The only mode in which it is sent. Set for the ends of a release's note and of its stand-in's note.
    pub only: Option<Mode>,
    /// The release that it fires.
    pub release: Option<ReleaseIndex>,
    /// For a release: what is sent instead of it in rehearsal. `None` sends nothing.
    pub stand_in: Option<ByteRange>,
    /// The row of the stage that it sets. A row keeps what was last sent for it. `None` sets no row.
    pub sets: Option<u32>,
}

/// A row of the stage that an operator or a desk sets by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ByHand {
    /// When.
    pub due: SongTime,
    /// Which row, by its number.
    pub row: u32,
}

/// A service, ready to be sent.
#[derive(Debug, Clone)]
pub struct RunPlan {
    /// What it was made from. The run keeps this, whatever is edited in the meantime.
    pub prepared: Arc<Prepared>,
    /// The service's name.
    pub service: String,
    /// Its grid.
    pub grid: Arc<Grid>,
    /// Messages in the order in which they are due.
    pub items: Vec<RunItem>,
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
        let LaidOut { items, by_hand, releases, bytes, rows } = Layout::new(show, &guards).all(&prepared);
        RunPlan {
            service: service.name.clone(),
            grid: prepared.grid().clone(),
            items,
            releases,
            ports: show.ports.iter().map(|p| p.name.clone()).collect(),
            end: prepared.end(),
            timecode: service.timecode.as_ref().and_then(|t| t.parse().ok()),
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

impl RunItem {
    /// Its order among messages that are due at the same time. The lowest rank leaves first.
    pub const fn rank(&self) -> u8 {
        if self.ends.is_some() { Kind::END_RANK } else { self.label.kind.rank() }
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

/// A loop shorter than this is refused, because nobody can rehearse anything in it. Our own figure.
const LEAST_LOOP: SongSpan = SongSpan::from_millis(1000);

/// What might fire each release of a show, in the show's order. A release whose message cannot be encoded is left out.
fn guards(show: &Show) -> Vec<ReleaseGuard> {
    let guard = |of: &ReleaseOnPort<'_>| {
        let port = show.ports.iter().position(|port| port.key == *of.port).map(ShowPort::at)?;
        let (trigger, row) = (of.trigger.clone(), of.message.on.clone());
        Some(ReleaseGuard { port, trigger, row, release: of.release.key.clone() })
    };
    ReleaseTriggers::new(show).each().filter_map(guard).collect()
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

/// A message before sorting. Its final index is not known yet, so the message it ends is named by its index in
/// [`Layout::loose`].
struct Loose {
    item: RunItem,
    rank: u8,
    /// For the end of a note: the index of the loose message that begins it.
    ends: Option<usize>,
}

/// The show that a run is laid out from, and what has been laid out so far.
struct Layout<'a> {
    show: &'a Show,
    guards: &'a [ReleaseGuard],
    bytes: Vec<u8>,
    loose: Vec<Loose>,
    releases: Vec<RunRelease>,
    /// The rows of the stage that something sets, each with its number.
    rows: BTreeMap<StageRow, u32>,
}

/// A row of the stage: what keeps the state that was last sent for it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum StageRow {
    Light(LightSlot),
    /// An output, by its index in the show's list.
    Output(usize),
}

/// What a layout comes to.
struct LaidOut {
    items: Vec<RunItem>,
    by_hand: Vec<ByHand>,
    releases: Vec<RunRelease>,
    bytes: Vec<u8>,
    rows: usize,
}

impl<'a> Layout<'a> {
    fn new(show: &'a Show, guards: &'a [ReleaseGuard]) -> Layout<'a> {
        Layout { show, guards, bytes: Vec::new(), loose: Vec::new(), releases: Vec::new(), rows: BTreeMap::new() }
    }

    fn all(mut self, prepared: &'a Prepared) -> LaidOut {
        let schedule = prepared.schedule();
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
        order.sort_by_key(|at| (self.loose[*at].item.due, self.loose[*at].rank, self.loose[*at].item.label));
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
        LaidOut { items, by_hand, releases: self.releases, bytes: self.bytes, rows: self.rows.len() }
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
        if let Action::Release { release: key, .. } = &cue.does {
            let guard = self.guards.iter().position(|guard| guard.release == *key);
            let Some((facts, guard)) = show.release(key).zip(guard) else { return };
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
        let item = RunItem {
            due: row.send,
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
        self.loose.push(Loose { item, rank: row.label.kind.rank(), ends: None });
        for (off, after, only) in ends {
            let bytes = self.keep(&off);
            let item = RunItem { due: item.due + after, bytes, only, stand_in: None, sets: None, ..item };
            self.loose.push(Loose { item, rank: Kind::END_RANK, ends: Some(begun) });
        }
    }
}

//! A service's schedule, laid out for sending: every message with its bytes, in the order in which they are due. Made before a
//! run and never changed during one.

use crate::command::Mode;
use crate::units::{ItemIndex, PhysicalPort, ReleaseIndex, ShowPort};
use letfall_core::midi::{EncodedMessage, encode};
use letfall_core::prepared::Prepared;
use letfall_core::schedule::{ReleaseTriggers, Row};
use letfall_core::show::{Action, Kind, Label, PortKey, Show};
use letfall_core::time::{Grid, SongSpan, SongTime, Timecode};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A release among the messages.
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
}

/// Where some bytes of a run stand: from and how many.
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
    /// A note's end: the message that begins the note.
    pub ends: Option<ItemIndex>,
    /// What ends the note that it begins; of a release the end of its own message.
    pub ended_by: Option<ItemIndex>,
    /// What ends the note of a release's stand-in.
    pub stand_in_ended_by: Option<ItemIndex>,
    /// It is sent in this mode alone: the ends of a release's note and of its stand-in's.
    pub only: Option<Mode>,
    /// The release that it fires.
    pub release: Option<ReleaseIndex>,
    /// What is sent in rehearsal in its place: `None` sends nothing.
    pub stand_in: Option<ByteRange>,
    /// Which of `trigger_ports` are ports by which its message, or the stand-in's, would fire a release, as a device
    /// takes it: by those it is never sent as anything but that release.
    pub triggers: (u32, u32),
    /// The row of the stage that it sets: what was sent last for a row holds. `None` sets none.
    pub sets: Option<u16>,
}

/// A service, ready to be sent.
#[derive(Debug, Clone)]
pub struct RunPlan {
    /// What it was made from: the plan that this run keeps, whatever is edited meanwhile.
    pub prepared: Arc<Prepared>,
    /// The service's name.
    pub service: String,
    /// Its grid.
    pub grid: Arc<Grid>,
    /// Messages in the order in which they are due.
    pub items: Vec<RunItem>,
    /// Its releases.
    pub releases: Vec<RunRelease>,
    /// The show's ports by name.
    pub ports: Vec<String>,
    /// Where the song ends.
    pub end: SongTime,
    /// Timecode of song time 0, where the house runs on it.
    pub timecode: Option<Timecode>,
    /// What is still open on the safety sheet: with anything open no release is ever sent.
    pub unsafe_because: Vec<&'static str>,
    bytes: Vec<u8>,
    trigger_ports: Vec<ShowPort>,
    /// How many rows of the stage there are.
    pub(crate) rows: usize,
}

impl RunPlan {
    /// Lays out a prepared service.
    pub fn new(prepared: Arc<Prepared>) -> RunPlan {
        let (items, releases, bytes, trigger_ports) = Layout::new(prepared.show()).all(&prepared);
        let (show, service) = (prepared.show(), prepared.service());
        RunPlan {
            service: service.name.clone(),
            grid: prepared.grid().clone(),
            items,
            releases,
            ports: show.ports.iter().map(|p| p.name.clone()).collect(),
            end: prepared.end(),
            timecode: service.timecode.as_ref().and_then(|t| t.parse().ok()),
            unsafe_because: show.safety.missing(),
            bytes,
            trigger_ports,
            rows: show.receivers.len() + show.outputs.len(),
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

    /// Whether a message, or its stand-in, would fire a release by one of the ports that leave where its own does, as `one` says:
    /// it must not be sent.
    pub fn would_release(&self, item: &RunItem, one: impl Fn(ShowPort, ShowPort) -> bool) -> bool {
        let (from, to) = item.triggers;
        let ports = self.trigger_ports.get(from as usize..to as usize).unwrap_or_default();
        ports.iter().any(|port| *port == item.port || one(*port, item.port))
    }

    /// Cues that a run does not send with these ports of the machine for the show's, because they would let a fabric go.
    pub fn held_back(&self, names: &[Option<String>]) -> Vec<Label> {
        let name = |port: ShowPort| names.get(port.index()).and_then(Option::as_ref);
        let one = |a: ShowPort, b: ShowPort| name(a).is_some() && name(a) == name(b);
        let held = self.items.iter().filter(|item| item.ends.is_none() && self.would_release(item, one));
        let mut labels: Vec<Label> = held.map(|item| item.label).collect();
        labels.sort_unstable();
        labels.dedup();
        labels
    }
}

/// Whether two ports of the show leave by one port of the machine.
pub fn are_one(physical: &[Option<PhysicalPort>], a: ShowPort, b: ShowPort) -> bool {
    let of = |port: ShowPort| physical.get(port.index()).copied().flatten();
    of(a).is_some() && of(a) == of(b)
}

/// A message before all stand in order: its place is not known yet, so what it ends is named by the order of laying out.
struct Loose {
    item: RunItem,
    rank: u8,
    /// For the end of a note: which of the loose messages began it.
    ends: Option<usize>,
}

/// What a run is laid out from, and what has been laid out so far.
struct Layout<'a> {
    show: &'a Show,
    triggers: ReleaseTriggers<'a>,
    ports: BTreeMap<&'a PortKey, ShowPort>,
    bytes: Vec<u8>,
    trigger_ports: Vec<ShowPort>,
    loose: Vec<Loose>,
    releases: Vec<RunRelease>,
}

type LaidOut = (Vec<RunItem>, Vec<RunRelease>, Vec<u8>, Vec<ShowPort>);

impl<'a> Layout<'a> {
    fn new(show: &'a Show) -> Layout<'a> {
        Layout {
            show,
            triggers: ReleaseTriggers::new(show),
            ports: show.ports.iter().enumerate().map(|(at, p)| (&p.key, ShowPort::at(at))).collect(),
            bytes: Vec::new(),
            trigger_ports: Vec::new(),
            loose: Vec::new(),
            releases: Vec::new(),
        }
    }

    fn all(mut self, prepared: &'a Prepared) -> LaidOut {
        let schedule = prepared.schedule();
        for row in &schedule.rows {
            if let (Some(port), Some(message)) = (row.port, schedule.wire(row)) {
                self.row(prepared, row, ShowPort::at(port as usize), message);
            }
        }
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
        (items, self.releases, self.bytes, self.trigger_ports)
    }

    fn keep(&mut self, bytes: &[u8]) -> ByteRange {
        let small = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        let from = small(self.bytes.len());
        self.bytes.extend_from_slice(bytes);
        ByteRange { from, length: small(bytes.len()) }
    }

    /// Notes the ports by which bytes would fire a release.
    fn triggered_by(&mut self, bytes: &[u8]) -> (u32, u32) {
        let small = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        let from = small(self.trigger_ports.len());
        let ports = self.triggers.anywhere(bytes).filter_map(|(on, _)| self.ports.get(on).copied());
        self.trigger_ports.extend(ports);
        (from, small(self.trigger_ports.len()))
    }

    fn row(&mut self, prepared: &Prepared, row: &Row, port: ShowPort, message: &EncodedMessage) {
        let (show, cue) = (self.show, prepared.cue(row));
        let (mut release, mut stand_in, mut sets) = (None, None, None);
        let mut ends: Vec<(Arc<[u8]>, SongSpan, Option<Mode>)> = Vec::new();
        let mut triggers = (0, 0);
        match &cue.does {
            Action::Release { release: key, .. } => {
                let Some(facts) = show.release(key) else { return };
                release = Some(ReleaseIndex::at(self.releases.len()));
                self.releases.push(RunRelease {
                    label: row.label,
                    name: facts.name.clone(),
                    port,
                    from: row.land - facts.arm_before,
                    to: row.land + facts.arm_after,
                    send: row.send,
                    land: row.land,
                });
                let receiver = row.receiver.and_then(|r| show.receivers.get(r as usize));
                let encoded = facts.stand_in.as_ref().zip(receiver).and_then(|(m, r)| encode(m, r).ok());
                if let Some(encoded) = encoded {
                    triggers = self.triggered_by(&encoded.on);
                    stand_in = Some(self.keep(&encoded.on));
                    ends.extend(encoded.off.map(|(off, after)| (off, after, Some(Mode::Rehearse))));
                }
            }
            Action::Lighting { .. } => sets = row.receiver.and_then(|r| u16::try_from(r).ok()),
            Action::Output { route } => {
                let of = show.route(route).map(|r| &r.output);
                let at = show.outputs.iter().position(|o| Some(&o.key) == of);
                sets = at.and_then(|at| u16::try_from(show.receivers.len() + at).ok());
            }
            Action::Media { .. } => {}
        }
        if release.is_none() {
            triggers = self.triggered_by(&message.on);
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
            triggers,
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

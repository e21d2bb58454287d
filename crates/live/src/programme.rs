//! A service's schedule, laid out for sending: every message with its bytes, in the order in which they are due. Made before a
//! run and never changed during one.

use crate::engine::Mode;
use letfall_core::schedule::{Fires, Schedule, wire};
use letfall_core::show::{Action, Kind, Label, Service, Show};
use letfall_core::time::{Grid, SongSpan, SongTime, Timecode};
use std::sync::Arc;

/// A release among the messages.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Release {
    /// Its cue.
    pub label: Label,
    /// Its name.
    pub name: String,
    /// Song time from which it can be armed.
    pub from: SongTime,
    /// Song time until which it can be armed and sent.
    pub to: SongTime,
    /// When its message is planned to leave.
    pub send: SongTime,
    /// When it is to land.
    pub land: SongTime,
}

/// One message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Item {
    /// Song time at which it is due, µs.
    pub due: i64,
    /// Its cue.
    pub label: Label,
    /// The port, by its place in the show's list.
    pub port: u16,
    /// Where its bytes are.
    pub bytes: (u32, u32),
    /// A note's end: the place of its begin.
    pub ends: Option<u32>,
    /// It is sent in this mode alone: the ends of a release's note and of its stand-in's.
    pub only: Option<Mode>,
    /// The release that it fires, by its place in [`Programme::releases`].
    pub release: Option<u16>,
    /// What is sent in rehearsal in its place: `None` sends nothing.
    pub stand_in: Option<(u32, u32)>,
    /// Ports of the show by which its message, or the stand-in's, would fire a release, as a device takes it: by those it is
    /// never sent as anything but that release. Where [`Programme::would_release`] finds them.
    pub fires_by: (u32, u32),
    /// The row of the stage that it sets: what was sent last for a row holds. `None` sets none.
    pub sets: Option<u16>,
}

/// A service, ready to be sent.
#[derive(Debug, Clone)]
pub struct Programme {
    /// The service's name.
    pub service: String,
    /// Its grid.
    pub grid: Arc<Grid>,
    /// Messages in the order in which they are due.
    pub items: Vec<Item>,
    /// Its releases.
    pub releases: Vec<Release>,
    /// The show's ports by name.
    pub ports: Vec<String>,
    /// Where the song ends.
    pub end: SongTime,
    /// Timecode of song time 0, where the house runs on it.
    pub timecode: Option<Timecode>,
    /// What is still open on the safety sheet: with anything open no release is ever sent.
    pub unsafe_because: Vec<&'static str>,
    bytes: Vec<u8>,
    fires_by: Vec<u16>,
    /// How many rows of the stage there are.
    pub(crate) rows: usize,
}

impl Programme {
    /// Lays out a service's schedule.
    pub fn new(show: &Show, service: &Service, schedule: &Schedule) -> Programme {
        let (mut bytes, mut fires_by): (Vec<u8>, Vec<u16>) = (Vec::new(), Vec::new());
        let small = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
        let span = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        let mut keep = |of: &[u8]| {
            let from = u32::try_from(bytes.len()).unwrap_or(u32::MAX);
            bytes.extend_from_slice(of);
            (from, u32::try_from(of.len()).unwrap_or(u32::MAX))
        };
        let (mut items, mut releases): (Vec<(Item, u8)>, Vec<Release>) = (Vec::new(), Vec::new());
        let cues = service.cues.as_slice();
        let fires = Fires::new(show);
        for row in &schedule.rows {
            let (Some(port), Some(wire)) = (row.port, row.wire) else { continue };
            let Some(cue) = cues.get(row.cue as usize).filter(|c| !c.resting) else { continue };
            let wire = &schedule.messages[wire as usize];
            let mut fires_there = |bytes: &[u8]| {
                let from = fires_by.len();
                let places = fires.anywhere(bytes).filter_map(|(on, _)| show.ports.iter().position(|p| p.key == *on));
                fires_by.extend(places.map(small));
                (span(from), span(fires_by.len()))
            };
            let (mut release, mut stand_in, mut sets) = (None, None, None);
            let mut ends: Vec<(&[u8], SongSpan, Option<Mode>)> = Vec::new();
            let encoded;
            let mut refused = (0, 0);
            match &cue.does {
                Action::Release { release: key, .. } => {
                    let Some(facts) = show.release(key) else { continue };
                    release = Some(small(releases.len()));
                    releases.push(Release {
                        label: row.label,
                        name: facts.name.clone(),
                        from: row.land - facts.arm_before,
                        to: row.land + facts.arm_after,
                        send: row.send,
                        land: row.land,
                    });
                    let receiver = row.receiver.and_then(|r| show.receivers.get(r as usize));
                    encoded = facts.stand_in.as_ref().zip(receiver).and_then(|(m, r)| wire::encode(m, r).ok());
                    refused = encoded.as_ref().map_or((0, 0), |w| fires_there(&w.on));
                    stand_in = encoded.as_ref().map(|w| keep(&w.on));
                    if let Some((off, after)) = encoded.as_ref().and_then(|w| w.off.as_ref()) {
                        ends.push((off, *after, Some(Mode::Rehearse)));
                    }
                }
                Action::Lighting { preset, .. } => {
                    let of = show.preset(preset).map(|p| &p.receiver);
                    sets = show.receivers.iter().position(|r| Some(&r.key) == of).map(small);
                }
                Action::Output { route } => {
                    let of = show.route(route).map(|r| &r.output);
                    let at = show.outputs.iter().position(|o| Some(&o.key) == of);
                    sets = at.map(|at| small(show.receivers.len() + at));
                }
                Action::Media { .. } => {}
            }
            if release.is_none() {
                refused = fires_there(&wire.on);
            }
            if let Some((off, after)) = &wire.off {
                ends.push((off, *after, release.map(|_| Mode::Perform)));
            }
            let item = Item {
                due: row.send.micros(),
                label: row.label,
                port: small(port as usize),
                bytes: keep(&wire.on),
                ends: None,
                only: None,
                release,
                stand_in,
                fires_by: refused,
                sets,
            };
            items.push((item, row.label.kind.rank()));
            for (off, after, only) in ends {
                // The note that it ends is found once all stand in order.
                let due = item.due + after.micros();
                let off =
                    Item { due, bytes: keep(off), ends: Some(u32::MAX), only, stand_in: None, sets: None, ..item };
                items.push((off, Kind::END_RANK));
            }
        }
        items.sort_by_key(|(item, rank)| (item.due, *rank, item.label));
        let mut items: Vec<Item> = items.into_iter().map(|(item, _)| item).collect();
        for at in 0..items.len() {
            if items[at].ends.is_some() {
                let (label, port) = (items[at].label, items[at].port);
                let on = items[..at].iter().rposition(|i| i.label == label && i.port == port && i.ends.is_none());
                items[at].ends = on.and_then(|on| u32::try_from(on).ok());
            }
        }
        let end = schedule.grid.bar_time(service.song.end_bar());
        let timecode = service.timecode.as_ref().and_then(|t| t.parse().ok());
        Programme {
            service: service.name.clone(),
            grid: schedule.grid.clone(),
            items,
            releases,
            ports: show.ports.iter().map(|p| p.name.clone()).collect(),
            end,
            timecode,
            unsafe_because: show.safety.missing(),
            bytes,
            fires_by,
            rows: show.receivers.len() + show.outputs.len(),
        }
    }

    /// The bytes of a message.
    pub fn bytes(&self, at: (u32, u32)) -> &[u8] {
        let from = at.0 as usize;
        self.bytes.get(from..from + at.1 as usize).unwrap_or_default()
    }

    /// Whether a message, or its stand-in, would fire a release by one of the ports that leave where its own does, as `one` says:
    /// it must not be sent.
    pub fn would_release(&self, item: &Item, one: impl Fn(u16, u16) -> bool) -> bool {
        let ports = self.fires_by.get(item.fires_by.0 as usize..item.fires_by.1 as usize).unwrap_or_default();
        ports.iter().any(|port| *port == item.port || one(*port, item.port))
    }

    /// Cues that a run does not send with these ports of the machine for the show's, because they would let a fabric go.
    pub fn held_back(&self, names: &[Option<String>]) -> Vec<Label> {
        let name = |port: u16| names.get(usize::from(port)).and_then(Option::as_ref);
        let one = |a: u16, b: u16| name(a).is_some() && name(a) == name(b);
        let held = self.items.iter().filter(|item| item.ends.is_none() && self.would_release(item, one));
        let mut labels: Vec<Label> = held.map(|item| item.label).collect();
        labels.sort_unstable();
        labels.dedup();
        labels
    }

    /// The port by which a release's message leaves, by its place in the show's list.
    pub fn port_of(&self, release: usize) -> Option<u16> {
        let fires = |i: &&Item| i.release.map(usize::from) == Some(release) && i.ends.is_none();
        self.items.iter().find(fires).map(|i| i.port)
    }
}

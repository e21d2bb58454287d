//! Works back from the beat: each cue's land, lead and send.

use super::queue::{self, PortUse};
use super::row::{Fault, Lead, Row};
use super::terms::{LeadTerm, assumed, lighting_term, media_term, output_term, receiver_term, release_terms};
use crate::fnv::Fnv;
use crate::midi::{self, EncodeError, EncodedMessage};
use crate::reveal::{FallTime, LEVEL, Uncertainty, fall_time, sound_delay};
use crate::show::{Action, Cue, FadeShare, Goes, Instant, Kind, Label, Latency, Message, Receiver, Service, Show};
use crate::time::{Grid, SongSpan, SongTime, Tick, TimeError, round};
use std::collections::HashMap;
use std::hash::BuildHasherDefault;
use std::sync::Arc;

/// Why a service has no schedule.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ScheduleError {
    /// Its grid cannot be built.
    #[error("service \"{service}\": {why}")]
    Grid {
        /// The service.
        service: String,
        /// What is wrong with the grid.
        #[source]
        why: TimeError,
    },
}

/// A service's finished schedule.
#[derive(Debug, Clone)]
pub struct Schedule {
    /// The grid it is built on.
    pub grid: Arc<Grid>,
    /// Rows in order of sending. Rows due together are in the order releases, outputs, lighting, media, then by label.
    pub rows: Vec<Row>,
    /// The messages that rows refer to: one for each preset, media item, release and route.
    pub messages: Vec<EncodedMessage>,
    /// How each port is used, in the show's order.
    pub ports: Vec<PortUse>,
    /// Bars of count-in before bar 1.
    first_bar: i32,
}

/// What a preset, media item, release or route sends and how long it takes. Worked out once, however many cues use it.
struct ResolvedAction<'a> {
    receiver: Option<(u32, &'a Receiver)>,
    port: Option<u32>,
    wire: Result<u32, Fault>,
    wire_micros: i64,
    device: SongSpan,
    action: SongSpan,
    /// What its latencies leave open, in seconds.
    spread: Uncertainty,
    /// The same as a range either way, at the level of [`LEVEL`].
    plus_minus: SongSpan,
    /// The same with the spread of a hand that follows a word; 0 if no cue of the service is set off so.
    spread_with_person: SongSpan,
    /// How much later it may come by what nobody has stated and Letfall assumes.
    assumed_late: SongSpan,
}

/// A show's receivers, each with what its latency leaves open. The range is worked out once, because that takes a while.
struct Receivers<'a> {
    show: &'a Show,
    ranges: Vec<SongSpan>,
    /// What the hand of an operator leaves open, in seconds, if any cue is set off by one.
    person: Option<Uncertainty>,
}

impl<'a> Receivers<'a> {
    fn new(show: &'a Show, service: &Service) -> Receivers<'a> {
        let range = |receiver: &Receiver| range(of_latency(receiver.latency));
        let by_hand = service.cues.iter().any(|cue| show.goes(cue) == Goes::Operator);
        Receivers { show, ranges: show.receivers.iter().map(range).collect(), person: by_hand.then(|| of_person(show)) }
    }
}

/// What a latency leaves open, in seconds.
pub(super) fn of_latency(latency: Latency) -> Uncertainty {
    Uncertainty::of_spread(latency.spread.secs_f64(), latency.measured)
}

/// What the hand of an operator leaves open, in seconds.
pub(super) fn of_person(show: &Show) -> Uncertainty {
    Uncertainty::of_spread(show.settings.person_spread.secs_f64(), 0)
}

fn range(spread: Uncertainty) -> SongSpan {
    SongSpan::from_secs_f64(spread.half_width(LEVEL))
}

impl<'a> ResolvedAction<'a> {
    fn new(
        receivers: &Receivers<'a>,
        messages: &mut Vec<EncodedMessage>,
        receiver: &crate::show::ReceiverKey,
        encode: impl Fn(&Receiver) -> Result<EncodedMessage, EncodeError>,
        extra: Latency,
    ) -> ResolvedAction<'a> {
        let show = receivers.show;
        let found = show.receivers.iter().position(|r| r.key == *receiver);
        let receiver = found.map(|at| (index(at), &show.receivers[at]));
        let port = receiver.and_then(|(_, r)| show.ports.iter().position(|p| p.key == r.port));
        let wire = match receiver {
            None => Err(Fault::NoReceiver),
            Some(_) if port.is_none() => Err(Fault::NoPort),
            Some((_, r)) => encode(r).map_err(Fault::Message),
        };
        let bytes = wire.as_ref().map_or(0, |w| w.on.len());
        let nanos = port.map_or(0, |at| show.ports[at].link.nanos(bytes));
        let latency = receiver.map_or(Latency::default(), |(_, r)| r.latency);
        let spread = Uncertainty::of_sum([of_latency(latency), of_latency(extra)].into_iter());
        let known = found.filter(|_| extra.spread == SongSpan::ZERO).map(|at| receivers.ranges[at]);
        ResolvedAction {
            receiver,
            port: port.map(index),
            wire: wire.map(|wire| {
                messages.push(wire);
                index(messages.len() - 1)
            }),
            wire_micros: i64::try_from(round::div_nearest(i128::from(nanos), 1000)).unwrap_or(0),
            device: latency.mean + extra.mean,
            action: SongSpan::ZERO,
            spread,
            plus_minus: known.unwrap_or_else(|| range(spread)),
            spread_with_person: receivers
                .person
                .map_or(SongSpan::ZERO, |person| range(Uncertainty::of_sum([spread, person].into_iter()))),
            assumed_late: SongSpan::ZERO,
        }
    }

    /// How early and late it may land.
    fn range(&self) -> (SongSpan, SongSpan) {
        (self.plus_minus, self.plus_minus + self.assumed_late)
    }

    fn with_action(self, action: SongSpan) -> ResolvedAction<'a> {
        ResolvedAction { action, ..self }
    }

    fn with_warm_up(self, warm_up: SongSpan) -> ResolvedAction<'a> {
        ResolvedAction { device: self.device + warm_up, ..self }
    }

    /// The delays besides the receiver's own, which depends on the kind of cue.
    fn with_terms(self, kind: Kind, more: impl IntoIterator<Item = LeadTerm>) -> ResolvedAction<'a> {
        let own = self.receiver.map(|(_, receiver)| receiver_term(receiver, kind));
        ResolvedAction { assumed_late: assumed(own.into_iter().chain(more)).1, ..self }
    }
}

fn index(at: usize) -> u32 {
    u32::try_from(at).unwrap_or(u32::MAX)
}

/// A release's fall to a moment: how long it takes, and how early and late it may land, latencies included.
#[derive(Clone, Copy)]
struct Fall {
    expected: SongSpan,
    early: SongSpan,
    late: SongSpan,
}

impl Fall {
    /// What was measured and what was stated has a t distribution; what the model leaves open comes on top, because it may lie
    /// wholly on one side.
    fn new(fall: FallTime, latencies: Uncertainty, assumed_late: SongSpan) -> Fall {
        let both = range(Uncertainty::of_sum([fall.spread, latencies].into_iter()));
        let secs = SongSpan::from_secs_f64;
        Fall {
            expected: secs(fall.expected),
            early: both - secs(fall.model.0),
            late: both + secs(fall.model.1) + assumed_late,
        }
    }
}

/// Keys are short and trusted, so a simple hash is fastest. Nothing depends on the order of these maps.
type ByKey<'a, T> = HashMap<&'a str, T, BuildHasherDefault<Fnv>>;

/// All actions of a show, by key.
struct ResolvedActions<'a> {
    media: ByKey<'a, ResolvedAction<'a>>,
    presets: ByKey<'a, (ResolvedAction<'a>, SongSpan)>,
    routes: ByKey<'a, ResolvedAction<'a>>,
    releases: ByKey<'a, (ResolvedAction<'a>, [Fall; 3])>,
}

impl<'a> ResolvedActions<'a> {
    fn new(show: &'a Show, service: &Service, messages: &mut Vec<EncodedMessage>) -> ResolvedActions<'a> {
        let none = Latency::default();
        let receivers = Receivers::new(show, service);
        let mut resolved = |receiver, message: &Message, extra| {
            ResolvedAction::new(&receivers, messages, receiver, |to| midi::encode(message, to), extra)
        };
        ResolvedActions {
            media: show
                .media
                .iter()
                .map(|m| {
                    let resolved = resolved(&m.receiver, &m.message, none).with_action(m.pre_roll);
                    let more = resolved.receiver.and_then(|(_, receiver)| media_term(receiver));
                    (m.key.as_str(), resolved.with_terms(Kind::Media, more))
                })
                .collect(),
            presets: show
                .presets
                .iter()
                .map(|p| {
                    let resolved = resolved(&p.receiver, &p.message, none);
                    let receiver = resolved.receiver.map(|(_, receiver)| receiver);
                    let warm_up = receiver.and_then(|r| r.warm_up).unwrap_or(SongSpan::ZERO);
                    let terms = receiver.map(lighting_term);
                    (p.key.as_str(), (resolved.with_warm_up(warm_up).with_terms(Kind::Lighting, terms), p.fade))
                })
                .collect(),
            routes: show
                .routes
                .iter()
                .map(|r| {
                    let output = show.output(&r.output);
                    let switch = output.map_or(SongSpan::ZERO, |o| o.switch + o.resync.unwrap_or(SongSpan::ZERO));
                    let resolved = resolved(&r.receiver, &r.message, none).with_action(switch);
                    (r.key.as_str(), resolved.with_terms(Kind::Output, [output_term(output)]))
                })
                .collect(),
            releases: show
                .releases
                .iter()
                .map(|r| {
                    let hang = show.hang(&r.hang);
                    let fall = |to| hang.map_or(FallTime::NONE, |h| fall_time(h, to));
                    let encode = |to: &Receiver| midi::encode_release(r, to);
                    let resolved = ResolvedAction::new(&receivers, messages, &r.receiver, encode, r.contact)
                        .with_terms(Kind::Release, release_terms(r));
                    let falls = [Instant::LetGo, Instant::Sightline, Instant::Floor]
                        .map(|to| Fall::new(fall(to), resolved.spread, resolved.assumed_late));
                    (r.key.as_str(), (resolved, falls))
                })
                .collect(),
        }
    }
}

/// What one cue's action sends and how long it takes.
struct Worked<'d, 'a> {
    resolved: &'d ResolvedAction<'a>,
    action: SongSpan,
    /// How early and late it may land.
    range: (SongSpan, SongSpan),
}

impl<'a> ResolvedActions<'a> {
    fn of(&self, action: &Action) -> Option<Worked<'_, 'a>> {
        Some(match action {
            Action::Media { item } => {
                let resolved = self.media.get(item.as_str())?;
                Worked { resolved, action: resolved.action, range: resolved.range() }
            }
            Action::Output { route } => {
                let resolved = self.routes.get(route.as_str())?;
                Worked { resolved, action: resolved.action, range: resolved.range() }
            }
            Action::Lighting { preset, fade, share } => {
                let (resolved, own) = self.presets.get(preset.as_str())?;
                let fade = fade.unwrap_or(*own).micros();
                let action = match share {
                    FadeShare::Start => 0,
                    FadeShare::Half => (fade + 1) / 2,
                    FadeShare::Done => fade,
                };
                Worked { resolved, action: SongSpan::from_micros(action), range: resolved.range() }
            }
            Action::Release { release, lands } => {
                let (resolved, falls) = self.releases.get(release.as_str())?;
                let fall = falls[match lands {
                    Instant::LetGo => 0,
                    Instant::Sightline => 1,
                    Instant::Floor => 2,
                }];
                Worked { resolved, action: fall.expected, range: (fall.early, fall.late) }
            }
        })
    }
}

impl Schedule {
    /// Works out a service's schedule.
    ///
    /// # Errors
    /// [`ScheduleError::Grid`] when the service's grid cannot be built.
    pub(crate) fn build(show: &Show, service: &Service) -> Result<Schedule, ScheduleError> {
        let grid = service.song.grid.build();
        let grid = grid.map_err(|why| ScheduleError::Grid { service: service.name.clone(), why })?;
        let mut messages = Vec::new();
        let resolved_actions = ResolvedActions::new(show, service, &mut messages);
        let sound = sound_delay(show.settings.seat_m, show.settings.air_c);
        let mut rows: Vec<Row> = (0u32..)
            .zip(service.cues.as_slice())
            .map(|(at, cue)| work_out(at, cue, show, &grid, &resolved_actions, sound))
            .collect();
        in_sending_order(&mut rows);
        let ports = queue::run(show, &messages, &mut rows);
        for row in &mut rows {
            row.early = (row.early - row.waits).max(SongSpan::ZERO);
            row.late = row.late + row.waits;
        }
        Ok(Schedule { grid: Arc::new(grid), rows, messages, ports, first_bar: show.settings.first_bar() })
    }

    /// The bar line at which every file of this service begins, be it MIDI, click or timecode, so that all can be started together: the
    /// first bar of the count-in, or as many whole bars earlier as it takes to fit song time 0 and every message that must leave before
    /// it.
    pub fn opens_at(&self) -> Tick {
        let grid = &self.grid;
        let sent = self.rows.iter().find(|row| row.goes.by_machine());
        let first = sent.map_or(SongTime::ZERO, |row| row.send).min(SongTime::ZERO);
        let time = first.min(grid.bar_time(self.first_bar));
        let mut bar = grid.place_of(grid.tick_at(time)).bar;
        while grid.bar_time(bar) > time {
            bar -= 1;
        }
        grid.bar_tick(bar)
    }

    /// The number that bar 1 of the song has when the bars of a file of this service are counted from its beginning.
    pub fn bar_1_in_file(&self) -> i32 {
        2 - self.grid.place_of(self.opens_at()).bar
    }

    /// Rows in order of landing, as people read a plan. Rows that land together are in order of label.
    pub fn by_land(&self) -> Vec<&Row> {
        let mut rows: Vec<&Row> = self.rows.iter().collect();
        rows.sort_by_key(|row| (row.land, row.label));
        rows
    }

    /// The bytes a row sends.
    pub fn wire(&self, row: &Row) -> Option<&EncodedMessage> {
        self.messages.get(row.wire? as usize)
    }
}

/// Sorts by send, then label. Sorting small keys means that each row is moved only once.
fn in_sending_order(rows: &mut Vec<Row>) {
    let mut keys: Vec<(SongTime, Label, u32)> =
        (0u32..).zip(rows.iter()).map(|(at, row)| (row.send, row.label, at)).collect();
    keys.sort_unstable();
    *rows = keys.into_iter().map(|(_, _, at)| rows[at as usize].clone()).collect();
}

fn work_out(
    at: u32,
    cue: &Cue,
    show: &Show,
    grid: &Grid,
    resolved_actions: &ResolvedActions<'_>,
    sound: SongSpan,
) -> Row {
    let land = cue.at.time(grid);
    let goes = show.goes(cue);
    let mut row = Row {
        label: cue.label,
        goes,
        cue: at,
        receiver: None,
        port: None,
        land,
        send: land,
        lead: Lead { adjust: cue.lead_adjust, sound, ..Lead::default() },
        early: SongSpan::ZERO,
        late: SongSpan::ZERO,
        waits: SongSpan::ZERO,
        wire: None,
        fault: None,
    };
    match resolved_actions.of(&cue.does) {
        None => row.fault = Some(Fault::Missing(cue.label.kind)),
        Some(Worked { resolved, action, range }) => {
            row.receiver = resolved.receiver.map(|(at, _)| at);
            if goes.by_machine() {
                row.port = resolved.port;
                row.lead.wire = SongSpan::from_micros(resolved.wire_micros);
            }
            row.lead.device = resolved.device;
            row.lead.action = action;
            (row.early, row.late) = range;
            if goes == Goes::Operator {
                // The word comes first; how fast a hand follows it spreads.
                row.lead.person = show.settings.person;
                let spread = resolved.spread_with_person;
                (row.early, row.late) = (range.0.max(spread), range.1.max(spread + resolved.assumed_late));
            }
            match &resolved.wire {
                // What a hand sets off needs no message and no port.
                Ok(_) | Err(Fault::NoPort | Fault::Message(_)) if !goes.by_machine() => {}
                Ok(wire) if !cue.resting => row.wire = Some(*wire),
                Ok(_) => {}
                Err(fault) => row.fault = Some(*fault),
            }
        }
    }
    row.send = land - row.lead.total();
    row
}

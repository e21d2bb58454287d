//! The engine's state machine: its state, its commands, and what is due.

use super::terms::{Chase, Timing};
use crate::command::{Command, Mode};
use crate::event::{Event, EventSink};
use crate::gate::Gate;
use crate::interlock::{DisarmReason, Interlock, Lock};
use crate::orders::{Grip, Orders, Place};
use crate::run_plan::RunPlan;
use crate::sync::{self, SyncPlan};
use crate::units::{ItemIndex, MachineSpan, MachineTime, PhysicalPort, ReleaseIndex, ShowPort};
use letfall_core::time::{SongSpan, SongTime, Timecode};
use std::sync::Arc;

/// When steps are further apart than this, the machine slept or stalled, and locks close. Our own figure.
const STOOD_STILL: MachineSpan = MachineSpan::from_millis(1000);

/// Whether the song runs, and where it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum State {
    Stands { song: SongTime },
    Runs { song: SongTime, at: MachineTime },
}

/// The engine.
#[derive(Debug)]
pub struct Engine {
    pub(super) plan: Arc<RunPlan>,
    pub(super) orders: Arc<Orders>,
    pub(super) sync: SyncPlan,
    pub(super) mode: Mode,
    pub(super) state: State,
    pub(super) looped: Option<(SongTime, SongTime)>,
    /// Whether an external clock may start the run. After stop-all, a person must start it first.
    pub(super) follows: bool,
    /// The next message.
    pub(super) next: usize,
    pub(super) locks: Vec<Interlock>,
    /// The release that the current press serves.
    pub(super) gripped: Option<(ReleaseIndex, Grip)>,
    /// The latest press that we know of.
    pub(super) seen: Grip,
    /// Presses up to this one are over.
    pub(super) over: Grip,
    /// Scratch space for chasing: the message that each row should have.
    pub(super) holds: Vec<Option<ItemIndex>>,
    pub(super) quarter_frame: i64,
    pub(super) clock: Option<i64>,
    /// The timecode that the current set of eight quarter frames carries.
    pub(super) saying: Option<Timecode>,
    /// How many stop-alls and stops have been obeyed.
    obeyed: (u64, u64),
    stepped: Option<MachineTime>,
}

impl Engine {
    /// An engine that is stopped at the song's beginning, in rehearsal mode, with all locks closed.
    pub fn new(plan: Arc<RunPlan>, orders: Arc<Orders>, sync: SyncPlan) -> Engine {
        Engine {
            locks: plan.releases.iter().map(|r| Interlock::new(r.from, r.to)).collect(),
            holds: vec![None; plan.rows],
            plan,
            orders,
            sync,
            mode: Mode::Rehearse,
            state: State::Stands { song: SongTime::ZERO },
            looped: None,
            follows: true,
            next: 0,
            gripped: None,
            seen: Grip::default(),
            over: Grip::default(),
            quarter_frame: 0,
            clock: None,
            saying: None,
            obeyed: (0, 0),
            stepped: None,
        }
    }

    /// The song time at a time of the machine's clock. `None` while stopped.
    pub fn song(&self, now: MachineTime) -> Option<SongTime> {
        match self.state {
            State::Runs { song, at } => Some(song + (now - at).to_song()),
            State::Stands { .. } => None,
        }
    }

    /// Whether it runs.
    pub const fn runs(&self) -> bool {
        matches!(self.state, State::Runs { .. })
    }

    /// The state of a release's lock.
    pub fn lock(&self, release: ReleaseIndex) -> Option<Lock> {
        self.locks.get(release.index()).map(Interlock::lock)
    }

    /// Where it is, for other threads.
    pub fn place(&self, now: MachineTime) -> Place {
        match self.state {
            State::Runs { song, at } => Place { song: song + (now - at).to_song(), at: now, runs: true },
            State::Stands { song } => Place { song, at: now, runs: false },
        }
    }

    /// Takes a command.
    pub fn command(&mut self, command: Command, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        match command {
            Command::Start { song, at, chase } => {
                self.follows = true;
                self.go_to((song, at), chase.then_some(Chase::All), now, gate, tell);
            }
            Command::FollowStart { song, at } => {
                if self.follows || crate::planted!(ClockRestarts) {
                    self.go_to((song, at), Some(Chase::All), now, gate, tell);
                }
            }
            Command::Stop => self.stop(DisarmReason::Stopped, now, gate, tell),
            Command::Locate { song } => {
                self.stop(DisarmReason::Located, now, gate, tell);
                self.state = State::Stands { song };
                self.seek(song);
                self.announce(song, now, gate);
                tell(Event::Stopped { song, at: now });
            }
            Command::Follow { song, at } => self.follow(song, at, now, gate, tell),
            Command::Loop(part) => {
                let may = |(from, to): &(SongTime, SongTime)| self.plan.loop_refusal(*from, *to).is_none();
                self.looped = part.filter(|part| may(part) || crate::planted!(AnyLoop));
            }
            Command::Hold { release, holder, grip, at } => self.hold((release, holder, grip), (at, now), gate, tell),
            Command::SecondTry { release } => self.open_second_try(release, now, tell),
            Command::Mode(mode) => {
                self.stop(DisarmReason::Stopped, now, gate, tell);
                self.mode = mode;
            }
            Command::NewRun => {
                self.stop(DisarmReason::Stopped, now, gate, tell);
                self.locks.iter_mut().for_each(Interlock::renew);
                gate.forget_rows(|_| true);
            }
            Command::Slept => self.close(DisarmReason::Slept, now, tell),
        }
    }

    /// Obeys the stops and stop-alls that were ordered since the last call. After a stop-all the ports' threads end what is still
    /// on, and no external clock can start the run again until a person does.
    pub fn obey_stops(&mut self, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        let (stops_all, stops) = (self.orders.stops_all(), self.orders.stops());
        if std::mem::replace(&mut self.obeyed.0, stops_all) != stops_all {
            self.stop(DisarmReason::Stopped, now, gate, tell);
            self.follows = false;
            gate.stop_all(now, tell);
        }
        if std::mem::replace(&mut self.obeyed.1, stops) != stops {
            gate.begin_epoch();
            self.stop(DisarmReason::Stopped, now, gate, tell);
        }
    }

    /// Whether something that was given under this number of stops was given after the last stop that was obeyed.
    pub const fn has_obeyed(&self, generation: u64) -> bool {
        generation == self.obeyed.0.wrapping_add(self.obeyed.1)
    }

    /// A port of the show was assigned to another machine port, or to none. Releases that need it are disarmed, because they
    /// were armed for the old one.
    pub fn port_assigned(&mut self, gate: &Gate, port: ShowPort, now: MachineTime, tell: EventSink<'_>) {
        self.close_needing(|of| gate.are_one(of, port), now, tell);
    }

    /// The devices of a show port are now reached by another machine port. All rows on that machine port are chased, because
    /// its waiting messages were recalled.
    pub fn port_moved(
        &mut self,
        gate: &mut Gate,
        (port, physical): (ShowPort, PhysicalPort),
        now: MachineTime,
        tell: EventSink<'_>,
    ) {
        gate.forget_rows(|of| of == port);
        self.chase_port(physical, now, gate, tell);
    }

    /// Handles machine ports that were lost or came back.
    fn hear_ports(&mut self, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        while let Some((port, back)) = gate.take_changed() {
            if back {
                self.chase_port(port, now, gate, tell);
            } else {
                self.close_needing(|of| gate.leaves_by(of, port), now, tell);
            }
        }
    }

    fn chase_port(&mut self, port: PhysicalPort, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        if let Some(song) = self.song(now) {
            self.chase(Chase::Port(port), (song, now), now, gate, tell);
        }
    }

    /// Disarms the releases that need a port for which `lost` is true.
    fn close_needing(&mut self, lost: impl Fn(ShowPort) -> bool, now: MachineTime, tell: EventSink<'_>) {
        let plan = self.plan.clone();
        let concerned = |release| plan.release(release).is_some_and(|r| r.needs.iter().any(|of| lost(*of)));
        self.close_if(concerned, DisarmReason::PortLost, now, tell);
    }

    /// Sends what is due. Returns when something is due next, by the machine's clock. `None` while stopped.
    pub fn step(&mut self, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) -> Option<MachineTime> {
        self.hear_ports(now, gate, tell);
        let since = self.stepped.map_or(MachineSpan::ZERO, |stepped| now - stepped);
        self.stepped = Some(now);
        if self.runs() && !(MachineSpan::ZERO..=STOOD_STILL).contains(&since) {
            self.close(DisarmReason::Slept, now, tell);
        }
        self.hear_let_go(now, tell);
        self.tick_locks(now, tell);
        self.releases_due(now, gate);
        loop {
            let State::Runs { song, at } = self.state else { return None };
            let here = song + (now - at).to_song();
            // The time of the machine's clock at which the song is at a place.
            let machine = |place: SongTime| at + MachineSpan::of_song(place - song);
            let due = self.next_due();
            if let Some((from, to)) = self.looped
                && here >= to
                && due.is_none_or(|d| d >= to)
            {
                // The next round starts exactly when the loop's end was due, so that rounds do not drift.
                self.jump((from, machine(to)), now, gate, tell);
                self.releases_due(now, gate);
                continue;
            }
            let ends = self.plan.items.last().map_or(self.plan.end, |last| last.due.max(self.plan.end));
            match due {
                Some(due) if due <= here => self.do_next(due, Timing { due: machine(due), now }, gate, tell),
                Some(due) => {
                    let next = self.looped.map_or(due, |(_, to)| due.min(to));
                    return Some(machine(next));
                }
                None if here > ends && self.looped.is_none() => {
                    self.stop(DisarmReason::Stopped, now, gate, tell);
                }
                None => {
                    let after = ends + SongSpan::from_micros(1);
                    return Some(machine(self.looped.map_or(after, |(_, to)| to)));
                }
            }
        }
    }

    /// The song time of whatever is due next: message, quarter frame or clock.
    fn next_due(&self) -> Option<SongTime> {
        let item = self.plan.items.get(self.next).map(|i| i.due);
        let clock = self.clock.map(|n| sync::clock_due(&self.plan.grid, n));
        [item, self.frame_due(), clock].into_iter().flatten().min()
    }

    /// Does what is due at a song time.
    fn do_next(&mut self, song: SongTime, timing: Timing, gate: &mut Gate, tell: EventSink<'_>) {
        // The show's own messages go before timecode and clock.
        if self.plan.items.get(self.next).is_some_and(|i| i.due == song) {
            let place = ItemIndex::at(self.next);
            self.next += 1;
            self.message(place, timing, gate, tell);
        } else if self.frame_due() == Some(song) {
            self.send_quarter_frame(timing.due, gate);
        } else if let Some(number) = self.clock {
            self.send_clock(number, timing.due, gate);
        }
    }

    /// Stops where it is. Waiting messages are withdrawn, and what is still on is ended.
    pub(super) fn stop(&mut self, why: DisarmReason, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        self.break_off(why, now, gate, tell);
        if let Some(song) = self.song(now) {
            self.state = State::Stands { song };
            self.send_stop(now, gate);
            tell(Event::Stopped { song, at: now });
        }
        self.stepped = None;
    }

    /// Closes all locks, withdraws waiting messages and ends what is still on.
    pub(super) fn break_off(&mut self, why: DisarmReason, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        self.close(why, now, tell);
        gate.withdraw(now, tell);
        gate.end_all(now);
    }

    /// The run has just started: the time between steps is measured from now.
    pub(super) fn begin_steps(&mut self, now: MachineTime) {
        self.stepped = Some(now);
    }
}

//! The engine's state machine: its state and its commands.

use super::parts::{Hand, OVERTAKING, Path, ReleaseCourse, Unsettled};
use super::terms::Chase;
use crate::bend::Rate;
use crate::command::{Command, Mode};
use crate::event::{Event, EventSink, Fate};
use crate::gate::Gate;
use crate::interlock::{DisarmReason, Interlock, Lock};
use crate::orders::{Grip, Moves, Orders, Place};
use crate::run_plan::RunPlan;
use crate::sync::SyncPlan;
use crate::units::{ItemIndex, MachineSpan, MachineTime, PhysicalPort, ReleaseIndex, ShowPort};
use letfall_core::time::{SongSpan, SongTime, Timecode};
use std::sync::Arc;

/// A guide that is off by this much plays elsewhere. It is less than the shortest vamp. Our own figure.
const UNHEARD: SongSpan = SongSpan::from_millis(900);

/// How the song moves, and where it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum State {
    /// It was stopped.
    Stands { song: SongTime },
    /// It is at a place at a time of the machine's clock, and goes on from there.
    Runs { song: SongTime, at: MachineTime, rate: Rate },
    /// It stands at a bar line until somebody goes on.
    Waits { song: SongTime },
    /// A person sends each group of cues. Those before this place have been sent by the clock.
    ByHand { since: SongTime },
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
    /// What is known of each release.
    pub(super) courses: Vec<ReleaseCourse>,
    /// Messages that wait until it is known whether a release left.
    pub(super) unsettled: Vec<Unsettled>,
    /// Messages of a release that is tried once more, each with its own time in the song.
    pub(super) retimed: Vec<(SongTime, ItemIndex)>,
    /// Where the song leaves the straight line.
    pub(super) path: Path,
    /// What goes by hand.
    pub(super) hand: Hand,
    /// Whether a clock from outside leads the time.
    pub(super) led: bool,
    /// Whether it is not sure where the band is.
    pub(super) unsure: bool,
    /// How often the song has left the straight line. Whoever tells where a band is says how many of these turns he has heard of.
    pub(super) turns: u32,
    /// Messages after the next one that were sent before it, because the band goes faster or slower than planned.
    pub(super) overtook: Vec<ItemIndex>,
    /// When followers are told that the song goes on.
    pub(super) start_due: Option<MachineTime>,
    /// How many stop-alls and stops have been obeyed.
    obeyed: (u64, u64),
    pub(super) stepped: Option<MachineTime>,
}

impl Engine {
    /// An engine that is stopped at the song's beginning, in rehearsal mode, with all locks closed.
    pub fn new(plan: Arc<RunPlan>, orders: Arc<Orders>, sync: SyncPlan) -> Engine {
        Engine {
            locks: plan.releases.iter().map(|r| Interlock::new(r.from, r.to)).collect(),
            holds: vec![None; plan.rows],
            courses: vec![ReleaseCourse::default(); plan.releases.len()],
            unsettled: Vec::with_capacity(64),
            retimed: Vec::with_capacity(plan.timed),
            path: Path::with_capacity(plan.timed),
            hand: Hand::with_capacity(plan.timed),
            led: false,
            unsure: false,
            turns: 0,
            overtook: Vec::with_capacity(plan.timed.max(OVERTAKING)),
            start_due: None,
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

    /// The song time at a time of the machine's clock. `None` unless it runs by the clock.
    pub fn song(&self, now: MachineTime) -> Option<SongTime> {
        match self.state {
            State::Runs { song, at, rate } => Some(song + SongSpan::from_micros(rate.song((now - at).micros()))),
            State::Stands { .. } | State::Waits { .. } | State::ByHand { .. } => None,
        }
    }

    /// The time of the machine's clock at which the song is at a place, if it runs by the clock.
    pub(crate) fn machine(&self, place: SongTime) -> Option<MachineTime> {
        let State::Runs { song, at, rate } = self.state else { return None };
        Some(at + MachineSpan::from_micros(rate.machine((place - song).micros())))
    }

    /// How fast the song goes, or would if it ran.
    pub(super) const fn rate(&self) -> Rate {
        match self.state {
            State::Runs { rate, .. } => rate,
            State::Stands { .. } | State::Waits { .. } | State::ByHand { .. } => Rate::PLANNED,
        }
    }

    /// Whether it runs by the clock.
    pub const fn runs(&self) -> bool {
        matches!(self.state, State::Runs { .. })
    }

    /// What is known of a release.
    pub fn fate(&self, release: ReleaseIndex) -> Option<Fate> {
        self.courses.get(release.index()).map(|course| course.fate)
    }

    /// The state of a release's lock.
    pub fn lock(&self, release: ReleaseIndex) -> Option<Lock> {
        self.locks.get(release.index()).map(Interlock::lock)
    }

    /// Where it is, for other threads.
    pub fn place(&self, now: MachineTime) -> Place {
        let stands = |song, moves| Place { song, at: now, moves, rate: Rate::STANDS };
        match self.state {
            State::Runs { rate, .. } => {
                let song = self.song(now).unwrap_or(SongTime::ZERO);
                Place { song, at: now, moves: Moves::Runs, rate }
            }
            State::Stands { song } => stands(song, Moves::Stopped),
            State::Waits { song } => stands(song, Moves::Waits),
            State::ByHand { since } => stands(self.hand.reached.max(since), Moves::ByHand),
        }
    }

    /// Takes a command.
    pub fn command(&mut self, command: Command, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        match command {
            Command::Start { song, at, chase } => {
                self.follows = true;
                (self.led, self.unsure) = (false, false);
                self.go_to((song, at), chase.then_some(Chase::All), now, gate, tell);
            }
            Command::FollowStart { song, at } => {
                if self.follows || crate::planted!(ClockRestarts) {
                    (self.led, self.unsure) = (true, false);
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
            Command::Heard { song, at } => {
                if self.song(at).is_some_and(|own| (song - own).abs() < UNHEARD) {
                    self.follow(song, at, now, gate, tell);
                }
            }
            Command::Loop(part) => {
                let may = |(from, to): &(SongTime, SongTime)| self.plan.loop_refusal(*from, *to).is_none();
                self.looped = part.filter(|part| may(part) || crate::planted!(AnyLoop));
            }
            Command::Hold { release, holder, grip, at } => self.hold((release, holder, grip), (at, now), gate, tell),
            Command::SecondTry { release } => self.open_second_try(release, now, tell),
            Command::Bend { bend, by } => {
                let answer = self.bend(bend, now, gate, tell);
                tell(Event::Bent { bend, by, answer, at: now });
            }
            Command::Band(place) => self.follow_band(place, now, gate, tell),
            Command::BandEnds => self.band_ends(now, tell),
            Command::Mode(mode) => {
                self.stop(DisarmReason::Stopped, now, gate, tell);
                self.forget_rehearsed(mode);
                self.mode = mode;
            }
            Command::NewRun => {
                self.stop(DisarmReason::Stopped, now, gate, tell);
                self.locks.iter_mut().for_each(Interlock::renew);
                self.renew_courses();
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
    pub(super) fn hear_ports(&mut self, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        while let Some((port, back)) = gate.take_changed() {
            if back {
                self.chase_port(port, now, gate, tell);
            } else {
                self.close_needing(|of| gate.leaves_by(of, port), now, tell);
            }
        }
    }

    fn chase_port(&mut self, port: PhysicalPort, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        let by_hand = matches!(self.state, State::ByHand { .. });
        if let Some(song) = self.song(now).or(by_hand.then(|| self.place(now).song)) {
            self.chase(Chase::Port(port), (song, now), now, gate, tell);
        }
    }

    /// Disarms the releases that need a port for which `lost` is true.
    fn close_needing(&mut self, lost: impl Fn(ShowPort) -> bool, now: MachineTime, tell: EventSink<'_>) {
        let plan = self.plan.clone();
        let concerned = |release| plan.release(release).is_some_and(|r| r.needs.iter().any(|of| lost(*of)));
        self.close_if(concerned, DisarmReason::PortLost, now, tell);
    }

    /// Stops where it is. Waiting messages are withdrawn, and what is still on is ended.
    pub(super) fn stop(&mut self, why: DisarmReason, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        self.break_off(why, now, gate, tell);
        if !matches!(self.state, State::Stands { .. }) {
            let song = self.place(now).song;
            self.state = State::Stands { song };
            self.send_stop(now, gate);
            tell(Event::Stopped { song, at: now });
        }
        self.stepped = None;
    }

    /// Closes all locks, withdraws waiting messages and ends what is still on.
    pub(super) fn break_off(&mut self, why: DisarmReason, now: MachineTime, gate: &mut Gate, tell: EventSink<'_>) {
        self.close(why, now, tell);
        self.unsettled.clear();
        self.hand.queue.clear();
        self.path.leave();
        self.start_due = None;
        gate.withdraw(now, tell);
        gate.end_all(now);
    }

    /// The run has just started: the time between steps is measured from now.
    pub(super) fn begin_steps(&mut self, now: MachineTime) {
        self.stepped = Some(now);
    }
}

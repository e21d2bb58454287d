//! The machine itself: what it knows, what it is told, what is due.

use crate::command::{Command, Mode};
use crate::event::{Event, EventSink};
use crate::interlock::{DisarmReason, Interlock, Lock};
use crate::ports::Gone;
use crate::run_plan::RunPlan;
use crate::sync::{self, SyncPlan};
use crate::units::{HolderId, ItemIndex, MachineSpan, MachineTime, PhysicalPort, ReleaseIndex, ShowPort};
use letfall_core::time::{SongSpan, SongTime, Timecode};
use std::sync::Arc;

/// Where messages leave.
pub trait MidiSink {
    /// Sends to a port of the show. Must not wait.
    ///
    /// # Errors
    /// When the port is not there or takes nothing.
    fn send(&mut self, port: ShowPort, bytes: &[u8]) -> Result<(), Gone>;
}

/// Steps further apart than this mean that the machine slept or stood still: locks close. Our own figure.
const STOOD_STILL: MachineSpan = MachineSpan::from_millis(1000);
/// A loop shorter than this is none. Our own figure.
const LEAST_LOOP: SongSpan = SongSpan::from_millis(100);

/// Whether the song runs, and where it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum State {
    Stands { song: SongTime },
    Runs { song: SongTime, at: MachineTime },
}

/// The machine.
#[derive(Debug)]
pub struct Engine {
    pub(super) plan: Arc<RunPlan>,
    pub(super) sync: SyncPlan,
    pub(super) mode: Mode,
    pub(super) state: State,
    pub(super) looped: Option<(SongTime, SongTime)>,
    /// The next message.
    pub(super) next: usize,
    pub(super) locks: Vec<Interlock>,
    /// Notes that were begun and not yet ended, by place; and their places, so that none has to be looked for.
    pub(super) sounding: Vec<bool>,
    pub(super) begun: Vec<ItemIndex>,
    /// Ports that are there.
    pub(super) there: Vec<bool>,
    /// The machine's port of each.
    pub(super) physical: Vec<Option<PhysicalPort>>,
    /// Room to find what should hold.
    pub(super) holds: Vec<Option<ItemIndex>>,
    pub(super) quarter_frame: i64,
    pub(super) clock: Option<i64>,
    /// The timecode that the present set of eight says.
    pub(super) saying: Option<Timecode>,
    stepped: Option<MachineTime>,
}

impl Engine {
    /// A machine that stands at the song's beginning, for rehearsal, all locks closed.
    pub fn new(plan: Arc<RunPlan>, sync: SyncPlan) -> Engine {
        Engine {
            locks: plan.releases.iter().map(|r| Interlock::new(r.from, r.to)).collect(),
            sounding: vec![false; plan.items.len()],
            begun: Vec::with_capacity(plan.items.len()),
            there: vec![true; plan.ports.len()],
            physical: vec![None; plan.ports.len()],
            holds: vec![None; plan.rows],
            plan,
            sync,
            mode: Mode::Rehearse,
            state: State::Stands { song: SongTime::ZERO },
            looped: None,
            next: 0,
            quarter_frame: 0,
            clock: None,
            saying: None,
            stepped: None,
        }
    }

    /// The song time at a time of the machine's clock, where it runs.
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

    /// Where a release's lock stands.
    pub fn lock(&self, release: ReleaseIndex) -> Option<Lock> {
        self.locks.get(release.index()).map(Interlock::lock)
    }

    /// Whether a port is there.
    pub(super) fn is_there(&self, port: ShowPort) -> bool {
        self.there.get(port.index()).copied().unwrap_or(false)
    }

    /// Takes a command.
    pub fn command(&mut self, command: Command, now: MachineTime, wires: &mut dyn MidiSink, tell: EventSink<'_>) {
        match command {
            Command::Start { song, at, chase } => {
                self.close(DisarmReason::Located, now, tell);
                self.end_notes(wires, now, tell);
                if chase {
                    self.chase(song, now, wires, tell);
                }
                self.run_from(song, at, now, wires, tell);
            }
            Command::Stop => self.stop(DisarmReason::Stopped, now, wires, tell),
            Command::StopAll => {
                self.stop(DisarmReason::Stopped, now, wires, tell);
                self.silence(now, wires, tell);
            }
            Command::Locate { song } => {
                self.stop(DisarmReason::Located, now, wires, tell);
                self.state = State::Stands { song };
                self.seek(song);
                self.announce(song, now, wires, tell);
                tell(Event::Stopped { song, at: now });
            }
            Command::Follow { song, at } => self.follow(song, at, now, wires, tell),
            Command::Loop(part) => self.looped = part.filter(|(from, to)| *to - *from >= LEAST_LOOP),
            Command::Hold { release, holder } => self.hold(release, holder, now, tell),
            Command::LetGo { release } => {
                if self.locks.get_mut(release.index()).is_some_and(Interlock::close) {
                    tell(Event::Disarmed { release, why: DisarmReason::LetGo, at: now });
                }
            }
            Command::Mode(mode) => {
                self.stop(DisarmReason::Stopped, now, wires, tell);
                self.mode = mode;
            }
            Command::NewRun => {
                self.stop(DisarmReason::Stopped, now, wires, tell);
                self.locks.iter_mut().for_each(Interlock::renew);
            }
            Command::Port { port, there } => {
                if let Some(known) = self.there.get_mut(port.index())
                    && *known != there
                {
                    *known = there;
                    if !there {
                        tell(Event::PortLost { port, at: now });
                        self.close(DisarmReason::PortLost, now, tell);
                    }
                }
            }
            Command::Assign { port, physical } => {
                if let Some(known) = self.physical.get_mut(port.index())
                    && *known != physical
                {
                    // What is armed was armed for another port.
                    let other = known.is_some();
                    *known = physical;
                    if other {
                        self.close(DisarmReason::PortLost, now, tell);
                    }
                }
            }
            Command::Slept => self.close(DisarmReason::Slept, now, tell),
        }
    }

    /// Sends what is due. Gives the time of the machine's clock at which something is due next; `None` while it stands.
    pub fn step(&mut self, now: MachineTime, wires: &mut dyn MidiSink, tell: EventSink<'_>) -> Option<MachineTime> {
        let since = self.stepped.map_or(MachineSpan::ZERO, |stepped| now - stepped);
        self.stepped = Some(now);
        if self.runs() && !(MachineSpan::ZERO..=STOOD_STILL).contains(&since) {
            self.close(DisarmReason::Slept, now, tell);
        }
        for release in 0..self.locks.len() {
            let song = self.song(now);
            if let Err(why) = self.locks[release].tick(now, song) {
                tell(Event::Disarmed { release: ReleaseIndex::at(release), why, at: now });
            }
        }
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
                self.close(DisarmReason::Located, now, tell);
                self.end_notes(wires, now, tell);
                // The loop's beginning comes exactly as its end is reached, so that rounds do not drift.
                self.run_from(from, machine(to), now, wires, tell);
                continue;
            }
            let ends = self.plan.items.last().map_or(self.plan.end, |last| last.due.max(self.plan.end));
            match due {
                Some(due) if due <= here => self.do_next(due, machine(due), now, wires, tell),
                Some(due) => {
                    let next = self.looped.map_or(due, |(_, to)| due.min(to));
                    return Some(machine(next));
                }
                None if here > ends && self.looped.is_none() => {
                    self.stop(DisarmReason::Stopped, now, wires, tell);
                }
                None => {
                    let after = ends + SongSpan::from_micros(1);
                    return Some(machine(self.looped.map_or(after, |(_, to)| to)));
                }
            }
        }
    }

    /// Song time of what is due next, of all kinds.
    fn next_due(&self) -> Option<SongTime> {
        let item = self.plan.items.get(self.next).map(|i| i.due);
        let clock = self.clock.map(|n| sync::clock_due(&self.plan.grid, n));
        [item, self.frame_due(), clock].into_iter().flatten().min()
    }

    /// Does what is due at a song time, which was at `due` of the machine's clock.
    fn do_next(
        &mut self,
        song: SongTime,
        due: MachineTime,
        now: MachineTime,
        wires: &mut dyn MidiSink,
        tell: EventSink<'_>,
    ) {
        // A show's own messages before those that only keep time.
        if self.plan.items.get(self.next).is_some_and(|i| i.due == song) {
            let place = ItemIndex::at(self.next);
            self.next += 1;
            self.message(place, due, now, wires, tell);
        } else if self.frame_due() == Some(song) {
            self.send_quarter_frame(now, wires, tell);
        } else if let Some(number) = self.clock {
            self.send_clock(number, now, wires, tell);
        }
    }

    /// Closes every lock that is open or being opened.
    pub(super) fn close(&mut self, why: DisarmReason, now: MachineTime, tell: EventSink<'_>) {
        for (at, lock) in self.locks.iter_mut().enumerate() {
            if lock.close() {
                tell(Event::Disarmed { release: ReleaseIndex::at(at), why, at: now });
            }
        }
    }

    fn hold(&mut self, release: ReleaseIndex, holder: HolderId, now: MachineTime, tell: EventSink<'_>) {
        let song = self.song(now);
        // Nothing can be armed in rehearsal, nor while the safety sheet is open.
        if self.mode == Mode::Rehearse || !self.plan.unsafe_because.is_empty() {
            return;
        }
        // A release whose port is not there cannot be sent: it is not armed either.
        if !self.plan.release(release).is_some_and(|r| self.is_there(r.port)) {
            return;
        }
        let Some(lock) = self.locks.get_mut(release.index()) else { return };
        let before = lock.lock();
        match lock.hold(now, song, holder) {
            Ok(true) => tell(Event::Armed { release, holder, at: now }),
            Ok(false) => {
                if before == Lock::Closed && matches!(lock.lock(), Lock::Opening { .. }) {
                    tell(Event::Opening { release, holder, at: now });
                }
            }
            Err(why) => tell(Event::Disarmed { release, why, at: now }),
        }
    }

    /// Stands where it is; what was begun ends.
    pub(super) fn stop(&mut self, why: DisarmReason, now: MachineTime, wires: &mut dyn MidiSink, tell: EventSink<'_>) {
        self.close(why, now, tell);
        self.end_notes(wires, now, tell);
        if let Some(song) = self.song(now) {
            self.state = State::Stands { song };
            self.send_stop(now, wires, tell);
            tell(Event::Stopped { song, at: now });
        }
        self.stepped = None;
    }

    /// From here on steps are counted: the machine has just been told to run.
    pub(super) fn begin_steps(&mut self, now: MachineTime) {
        self.stepped = Some(now);
    }
}

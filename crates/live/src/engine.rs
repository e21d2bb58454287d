//! What is sent when: a plain machine over a clock that is given to it. Nothing here allocates once it was made, and nothing
//! waits.

use crate::interlock::{Interlock, Lapse, Lock};
use crate::programme::{Item, Programme};
use crate::sync::{self, BEAT_TICKS, CLOCK_TICKS, SyncPlan};
use letfall_core::show::Label;
use letfall_core::time::{SongSpan, Timecode};
use std::sync::Arc;

/// Who holds a release open: a number that the screen gives names to.
pub type Holder = u16;

/// Whether releases may leave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Mode {
    /// Stand-ins are sent in the place of releases, and no release ever.
    #[default]
    Rehearse,
    /// Releases are sent while somebody holds them open.
    Perform,
}

/// What the engine is told. Song times are microseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Command {
    /// Runs from a song time, which is at a time of the machine's clock.
    Start {
        /// Where.
        song: i64,
        /// When, µs of the machine's clock.
        at: i64,
        /// What should hold there is sent first.
        chase: bool,
    },
    /// Stops. What was begun and has an end, ends.
    Stop,
    /// Stands elsewhere; stops.
    Locate {
        /// Where.
        song: i64,
    },
    /// The place by another's clock, while running.
    Follow {
        /// Where.
        song: i64,
        /// When, µs of the machine's clock.
        at: i64,
    },
    /// Goes round in a stretch; `None` ends it.
    Loop(Option<(i64, i64)>),
    /// A person holds a release, or goes on holding it.
    Hold {
        /// Which, by its place in the programme.
        release: u16,
        /// Who.
        holder: Holder,
    },
    /// A person let go.
    LetGo {
        /// Which.
        release: u16,
    },
    /// Changes between rehearsing and performing; stops.
    Mode(Mode),
    /// A new run: releases that were sent can be armed again; stops.
    NewRun,
    /// A port was lost, or is back.
    Port {
        /// Which, by its place in the show's list.
        port: u16,
        /// Whether it is there.
        there: bool,
    },
    /// Which of the machine's ports a port of the show leaves by: those of one number are one.
    Line {
        /// Which, by its place in the show's list.
        port: u16,
        /// The machine's; `None` is not known, and then it is one by itself.
        line: Option<u16>,
    },
    /// The machine slept, or its clock jumped.
    Slept,
    /// Everything stops, all notes end, every lock closes.
    StopAll,
}

/// What became of a message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// It was sent. That something moved is not known.
    Sent,
    /// A stand-in was sent in its place.
    StandIn,
    /// It was sent again as what should hold there.
    Chased,
    /// It was not sent: nobody held the release open.
    Locked,
    /// It was not sent: it would have been too late.
    TooLate,
    /// It was not sent: its port is not there.
    NoPort,
    /// It was not sent: the place jumped over it.
    JumpedOver,
    /// It was not sent: this is a rehearsal and there is no stand-in.
    Rehearsed,
    /// It was not sent: it would fire a release.
    WouldRelease,
    /// It was not sent: it was sent before in this run.
    Twice,
}

/// What the engine tells. Song times are microseconds, `at` is µs of the machine's clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Event {
    /// A message was sent, or not.
    Message {
        /// Its place in the programme.
        item: u32,
        /// What became of it.
        what: What,
        /// When it was due.
        due: i64,
        /// When that came.
        at: i64,
        /// Who held the release open.
        holder: Option<Holder>,
    },
    /// It runs from a song time.
    Started {
        /// Where.
        song: i64,
        /// When.
        at: i64,
    },
    /// It stands.
    Stopped {
        /// Where.
        song: i64,
        /// When.
        at: i64,
    },
    /// A person began to hold.
    Opening {
        /// Which release.
        release: u16,
        /// Who.
        holder: Holder,
        /// When.
        at: i64,
    },
    /// A release is armed.
    Armed {
        /// Which.
        release: u16,
        /// Who.
        holder: Holder,
        /// When.
        at: i64,
    },
    /// A lock closed.
    Lapsed {
        /// Which release.
        release: u16,
        /// Why.
        why: Lapse,
        /// When.
        at: i64,
    },
    /// A port failed while it was sent to.
    PortLost {
        /// Which.
        port: u16,
        /// When.
        at: i64,
    },
}

/// Where messages leave.
pub trait Wires {
    /// Sends to a port by its place in the show's list. Must not wait.
    ///
    /// # Errors
    /// When the port is not there or takes nothing.
    fn send(&mut self, port: u16, bytes: &[u8]) -> Result<(), crate::ports::Gone>;
}

/// Who hears events.
pub type Tell<'a> = &'a mut dyn FnMut(Event);

/// Later than this a release is not sent, µs: the moment is gone. Our own figure.
const RELEASE_LATE: i64 = 250_000;
/// Steps further apart than this, µs, mean that the machine slept or stood still: locks close.
const STOOD_STILL: i64 = 1_000_000;
/// A place by another's clock that is off by more than this, µs, is no wander of clocks: locks close.
const HICCUP: i64 = 150_000;
/// A place that is off by more than this, µs, is another place: what lies between is neither sent late nor sent again.
const JUMP: i64 = 2_000_000;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Stands { song: i64 },
    Runs { song: i64, at: i64 },
}

/// The machine.
#[derive(Debug)]
pub struct Engine {
    programme: Arc<Programme>,
    sync: SyncPlan,
    mode: Mode,
    state: State,
    looped: Option<(i64, i64)>,
    /// The next message.
    next: usize,
    locks: Vec<Interlock>,
    /// The port of each release.
    ports_of: Vec<u16>,
    /// Notes that were begun and not yet ended.
    sounding: Vec<bool>,
    /// Ports that are there.
    there: Vec<bool>,
    /// The machine's port of each.
    lines: Vec<Option<u16>>,
    /// Room to find what should hold.
    holds: Vec<Option<u32>>,
    quarter_frame: i64,
    clock: Option<i64>,
    /// The timecode that the present set of eight says.
    saying: Option<Timecode>,
    stepped: i64,
}

impl Engine {
    /// A machine that stands at the song's begin, for rehearsal, all locks closed.
    pub fn new(programme: Arc<Programme>, sync: SyncPlan) -> Engine {
        let locks = programme.releases.iter().map(|r| Interlock::new(r.from.micros(), r.to.micros())).collect();
        let ports_of = (0..programme.releases.len()).map(|r| programme.port_of(r).unwrap_or(u16::MAX)).collect();
        Engine {
            locks,
            ports_of,
            sounding: vec![false; programme.items.len()],
            there: vec![true; programme.ports.len()],
            lines: vec![None; programme.ports.len()],
            holds: vec![None; programme.rows],
            programme,
            sync,
            mode: Mode::Rehearse,
            state: State::Stands { song: 0 },
            looped: None,
            next: 0,
            quarter_frame: 0,
            clock: None,
            saying: None,
            stepped: i64::MIN,
        }
    }

    /// The song time at a time of the machine's clock, where it runs.
    pub fn song(&self, now: i64) -> Option<i64> {
        match self.state {
            State::Runs { song, at } => Some(song + (now - at)),
            State::Stands { .. } => None,
        }
    }

    /// Whether it runs.
    pub const fn runs(&self) -> bool {
        matches!(self.state, State::Runs { .. })
    }

    /// Where a release's lock stands.
    pub fn lock(&self, release: u16) -> Option<Lock> {
        self.locks.get(usize::from(release)).map(Interlock::lock)
    }

    /// Takes a command.
    pub fn command(&mut self, command: Command, now: i64, wires: &mut dyn Wires, tell: Tell<'_>) {
        match command {
            Command::Start { song, at, chase } => {
                self.close(Lapse::Located, now, tell);
                self.end_notes(wires, now, tell);
                if chase {
                    self.chase(song, now, wires, tell);
                }
                self.run_from(song, at, now, wires, tell);
            }
            Command::Stop => self.stop(Lapse::Stopped, now, wires, tell),
            Command::StopAll => {
                self.stop(Lapse::Stopped, now, wires, tell);
                // Whatever sounds anywhere: all notes off and all sound off on every channel (MIDI 1.0, channel mode).
                for port in 0..self.there.len() {
                    for channel in 0..16u8 {
                        for controller in [120, 123] {
                            self.send(
                                u16::try_from(port).unwrap_or(0),
                                &[0xb0 | channel, controller, 0],
                                now,
                                wires,
                                tell,
                            );
                        }
                    }
                }
            }
            Command::Locate { song } => {
                self.stop(Lapse::Located, now, wires, tell);
                self.state = State::Stands { song };
                self.seek(song);
                self.announce(song, now, wires, tell);
                tell(Event::Stopped { song, at: now });
            }
            Command::Follow { song, at } => self.follow(song, at, now, wires, tell),
            Command::Loop(part) => self.looped = part.filter(|(from, to)| to - from >= 100_000),
            Command::Hold { release, holder } => self.hold(release, holder, now, tell),
            Command::LetGo { release } => {
                if self.locks.get_mut(usize::from(release)).is_some_and(Interlock::close) {
                    tell(Event::Lapsed { release, why: Lapse::LetGo, at: now });
                }
            }
            Command::Mode(mode) => {
                self.stop(Lapse::Stopped, now, wires, tell);
                self.mode = mode;
            }
            Command::NewRun => {
                self.stop(Lapse::Stopped, now, wires, tell);
                self.locks.iter_mut().for_each(Interlock::renew);
            }
            Command::Port { port, there } => {
                if let Some(known) = self.there.get_mut(usize::from(port))
                    && *known != there
                {
                    *known = there;
                    if !there {
                        tell(Event::PortLost { port, at: now });
                        self.close(Lapse::PortLost, now, tell);
                    }
                }
            }
            Command::Line { port, line } => {
                if let Some(known) = self.lines.get_mut(usize::from(port))
                    && *known != line
                {
                    // What is armed was armed for another port.
                    let other = known.is_some();
                    *known = line;
                    if other {
                        self.close(Lapse::PortLost, now, tell);
                    }
                }
            }
            Command::Slept => self.close(Lapse::Slept, now, tell),
        }
    }

    /// Sends what is due. Gives the time of the machine's clock at which something is due next; `None` while it stands.
    pub fn step(&mut self, now: i64, wires: &mut dyn Wires, tell: Tell<'_>) -> Option<i64> {
        let stood = self.runs() && self.stepped != i64::MIN && !(0..=STOOD_STILL).contains(&(now - self.stepped));
        self.stepped = now;
        if stood {
            self.close(Lapse::Slept, now, tell);
        }
        for release in 0..self.locks.len() {
            let song = self.song(now);
            if let Err(why) = self.locks[release].tick(now, song) {
                tell(Event::Lapsed { release: u16::try_from(release).unwrap_or(0), why, at: now });
            }
        }
        loop {
            let State::Runs { song, at } = self.state else { return None };
            let here = song + (now - at);
            let due = self.next_due();
            if let Some((from, to)) = self.looped
                && here >= to
                && due.is_none_or(|d| d >= to)
            {
                self.close(Lapse::Located, now, tell);
                self.end_notes(wires, now, tell);
                // The loop's begin comes exactly as its end is reached, so that rounds do not drift.
                self.run_from(from, at + (to - song), now, wires, tell);
                continue;
            }
            let ends = self.programme.end.micros().max(self.programme.items.last().map_or(0, |i| i.due));
            match due {
                Some(due) if due <= here => self.do_next(due, song, at, now, wires, tell),
                Some(due) => {
                    let next = self.looped.map_or(due, |(_, to)| due.min(to));
                    return Some(at + (next - song));
                }
                None if here > ends && self.looped.is_none() => self.stop(Lapse::Stopped, now, wires, tell),
                None => return Some(at + (self.looped.map_or(ends + 1, |(_, to)| to) - song)),
            }
        }
    }

    /// Song time of what is due next, of all kinds.
    fn next_due(&self) -> Option<i64> {
        let item = self.programme.items.get(self.next).map(|i| i.due);
        let frame = self.frame_due();
        let clock = self.clock.map(|n| sync::clock_due(&self.programme.grid, n));
        [item, frame, clock].into_iter().flatten().min()
    }

    fn frame_due(&self) -> Option<i64> {
        let at = self.programme.timecode.filter(|_| !self.sync.timecode.is_empty())?;
        let due = sync::quarter_frame_due(self.quarter_frame, at);
        (due <= self.programme.end.micros()).then_some(due)
    }

    fn do_next(&mut self, due: i64, song: i64, at: i64, now: i64, wires: &mut dyn Wires, tell: Tell<'_>) {
        // A show's own messages before those that only keep time.
        if self.programme.items.get(self.next).is_some_and(|i| i.due == due) {
            let place = self.next;
            self.next += 1;
            let due = at + (due - song);
            self.message(place, due, now, wires, tell);
        } else if self.frame_due() == Some(due) {
            self.send_quarter_frame(now, wires, tell);
        } else if let Some(number) = self.clock {
            let end = self.programme.grid.ticks_at(self.programme.end.micros() as f64);
            let last = ((number + 1) * CLOCK_TICKS) as f64 > end;
            self.clock = (!last).then_some(number + 1);
            for to in 0..self.sync.clock.len() {
                self.send(self.sync.clock[to], &[0xf8], now, wires, tell);
            }
        }
    }

    /// Sends one message, or says why not. `due` and `now` are of the machine's clock.
    fn message(&mut self, place: usize, due: i64, now: i64, wires: &mut dyn Wires, tell: Tell<'_>) {
        let item = self.programme.items[place];
        if let Some(on) = item.ends {
            // An end goes with its begin: what was not begun is not ended.
            let on = on as usize;
            if item.only.is_some_and(|mode| mode != self.mode) || !self.sounding.get(on).copied().unwrap_or(false) {
                return;
            }
            self.sounding[on] = false;
            let what = self.bytes_to(&item, item.bytes, now, wires, tell);
            return told(tell, place, what.unwrap_or(What::Sent), due, now, None);
        }
        let Some(release) = item.release else {
            if self.would_release(&item) {
                return told(tell, place, What::WouldRelease, due, now, None);
            }
            let what = self.bytes_to(&item, item.bytes, now, wires, tell);
            if what.is_none() {
                self.sounding[place] = true;
            }
            return told(tell, place, what.unwrap_or(What::Sent), due, now, None);
        };
        if self.mode == Mode::Rehearse {
            let what = match item.stand_in {
                None => What::Rehearsed,
                Some(_) if self.would_release(&item) => What::WouldRelease,
                Some(bytes) => {
                    let what = self.bytes_to(&item, bytes, now, wires, tell);
                    self.sounding[place] = what.is_none();
                    what.unwrap_or(What::StandIn)
                }
            };
            return told(tell, place, what, due, now, None);
        }
        let song = self.song(now);
        let lock = &mut self.locks[usize::from(release)];
        let what = if lock.lock() == Lock::Spent {
            What::Twice
        } else if now - due > RELEASE_LATE {
            What::TooLate
        } else if !self.programme.unsafe_because.is_empty() {
            What::Locked
        } else if !self.there.get(usize::from(item.port)).copied().unwrap_or(false) {
            What::NoPort
        } else if let Some(holder) = lock.pass(now, song) {
            // The lock is spent whatever the wire says: a message that may have left is never sent again.
            let what = self.bytes_to(&item, item.bytes, now, wires, tell);
            self.sounding[place] = what.is_none();
            return told(tell, place, what.unwrap_or(What::Sent), due, now, Some(holder));
        } else {
            What::Locked
        };
        told(tell, place, what, due, now, None);
    }

    /// Sends bytes of the programme to a message's port; why not, if not.
    fn bytes_to(
        &mut self,
        item: &Item,
        bytes: (u32, u32),
        now: i64,
        wires: &mut dyn Wires,
        tell: Tell<'_>,
    ) -> Option<What> {
        let programme = self.programme.clone();
        (!self.send(item.port, programme.bytes(bytes), now, wires, tell)).then_some(What::NoPort)
    }

    /// Whether a message would fire a release by what its port leaves by.
    fn would_release(&self, item: &Item) -> bool {
        let line = |port: u16| self.lines.get(usize::from(port)).copied().flatten();
        self.programme.would_release(item, |a, b| line(a).is_some() && line(a) == line(b))
    }

    /// Sends to a port that is there; a port that fails is lost from then on, and the others go on.
    fn send(&mut self, port: u16, bytes: &[u8], now: i64, wires: &mut dyn Wires, tell: Tell<'_>) -> bool {
        if !self.there.get(usize::from(port)).copied().unwrap_or(false) {
            return false;
        }
        if wires.send(port, bytes).is_ok() {
            return true;
        }
        self.there[usize::from(port)] = false;
        tell(Event::PortLost { port, at: now });
        self.close(Lapse::PortLost, now, tell);
        false
    }

    /// Ends every note that sounds.
    fn end_notes(&mut self, wires: &mut dyn Wires, now: i64, tell: Tell<'_>) {
        for place in 0..self.programme.items.len() {
            let item = self.programme.items[place];
            let Some(on) = item.ends.map(|on| on as usize) else { continue };
            if item.only.is_none_or(|mode| mode == self.mode) && self.sounding.get(on).copied().unwrap_or(false) {
                let what = self.bytes_to(&item, item.bytes, now, wires, tell);
                told(tell, place, what.unwrap_or(What::Sent), now, now, None);
            }
        }
        self.sounding.fill(false);
    }

    /// Closes every lock that is open or being opened.
    fn close(&mut self, why: Lapse, now: i64, tell: Tell<'_>) {
        for (release, lock) in (0u16..).zip(&mut self.locks) {
            if lock.close() {
                tell(Event::Lapsed { release, why, at: now });
            }
        }
    }

    fn hold(&mut self, release: u16, holder: Holder, now: i64, tell: Tell<'_>) {
        let song = self.song(now);
        // Nothing can be armed in rehearsal, nor while the safety sheet is open.
        if self.mode == Mode::Rehearse || !self.programme.unsafe_because.is_empty() {
            return;
        }
        // A release whose port is not there cannot be sent: it is not armed either.
        let port = self.ports_of.get(usize::from(release)).copied();
        if !port.is_some_and(|p| self.there.get(usize::from(p)).copied().unwrap_or(false)) {
            return;
        }
        let Some(lock) = self.locks.get_mut(usize::from(release)) else { return };
        let before = lock.lock();
        match lock.hold(now, song, holder) {
            Ok(true) => tell(Event::Armed { release, holder, at: now }),
            Ok(false) => {
                if before == Lock::Closed && matches!(lock.lock(), Lock::Opening { .. }) {
                    tell(Event::Opening { release, holder, at: now });
                }
            }
            Err(why) => tell(Event::Lapsed { release, why, at: now }),
        }
    }

    fn stop(&mut self, why: Lapse, now: i64, wires: &mut dyn Wires, tell: Tell<'_>) {
        self.close(why, now, tell);
        self.end_notes(wires, now, tell);
        if let Some(song) = self.song(now) {
            self.state = State::Stands { song };
            for to in 0..self.sync.clock.len() {
                self.send(self.sync.clock[to], &[0xfc], now, wires, tell);
            }
            tell(Event::Stopped { song, at: now });
        }
        self.stepped = i64::MIN;
    }

    /// Puts everything that is due at the first that is due from a song time on.
    fn seek(&mut self, song: i64) {
        self.next = self.programme.items.partition_point(|i| i.due < song);
        self.saying = None;
        if let Some(at) = self.programme.timecode {
            self.quarter_frame = sync::first_quarter_frame(song, at);
        }
        self.clock = (!self.sync.clock.is_empty()).then(|| sync::first_clock(&self.programme.grid, song));
    }

    /// Tells slaves where it stands: a full frame, and the song position.
    fn announce(&mut self, song: i64, now: i64, wires: &mut dyn Wires, tell: Tell<'_>) {
        if let Some(at) = self.programme.timecode {
            let frame = sync::full_frame(at.plus(SongSpan::from_micros(song)).0);
            for to in 0..self.sync.timecode.len() {
                self.send(self.sync.timecode[to], &frame, now, wires, tell);
            }
        }
        if let Some(first) = self.clock {
            let sixteenth = first * CLOCK_TICKS / BEAT_TICKS;
            let pointer = sync::song_position(u16::try_from(sixteenth.clamp(0, 16_383)).unwrap_or(0));
            for to in 0..self.sync.clock.len() {
                self.send(self.sync.clock[to], &pointer, now, wires, tell);
            }
        }
    }

    fn run_from(&mut self, song: i64, at: i64, now: i64, wires: &mut dyn Wires, tell: Tell<'_>) {
        self.seek(song);
        self.announce(song, now, wires, tell);
        // Start from the song's begin, Continue from anywhere else (MIDI 1.0, system real time).
        let begin = self.clock.map_or(0xfb, |first| if first == 0 { 0xfa } else { 0xfb });
        for to in 0..self.sync.clock.len() {
            self.send(self.sync.clock[to], &[begin], now, wires, tell);
        }
        self.state = State::Runs { song, at };
        self.stepped = now;
        tell(Event::Started { song, at });
    }

    /// The place by another's clock. A little off is followed, a hiccup closes locks; a jump passes over what lies between, which is told.
    fn follow(&mut self, song: i64, at: i64, now: i64, wires: &mut dyn Wires, tell: Tell<'_>) {
        let State::Runs { song: own, at: since } = self.state else { return };
        let off = song - (own + (at - since));
        if off.abs() >= HICCUP {
            self.close(Lapse::Located, now, tell);
        }
        if off.abs() < JUMP {
            // What was sent is not sent again, and what is overdue by a hiccup is sent at once: only what comes later moves.
            self.state = State::Runs { song, at };
            return;
        }
        let before = self.next;
        self.end_notes(wires, now, tell);
        self.run_from(song, at, now, wires, tell);
        for place in before..self.next {
            let item = self.programme.items[place];
            if item.ends.is_none() {
                told(tell, place, What::JumpedOver, now, now, None);
            }
        }
    }

    /// Sends what should hold at a song time: the last that set each row of the stage. A release sets none.
    fn chase(&mut self, song: i64, now: i64, wires: &mut dyn Wires, tell: Tell<'_>) {
        self.holds.fill(None);
        let until = self.programme.items.partition_point(|i| i.due < song);
        for (place, item) in (0u32..).zip(&self.programme.items[..until]) {
            if let Some(row) = item.sets.filter(|_| item.release.is_none() && item.ends.is_none())
                && let Some(holds) = self.holds.get_mut(usize::from(row))
            {
                *holds = Some(place);
            }
        }
        for row in 0..self.holds.len() {
            let Some(place) = self.holds[row].map(|p| p as usize) else { continue };
            let item = self.programme.items[place];
            if self.would_release(&item) {
                told(tell, place, What::WouldRelease, now, now, None);
                continue;
            }
            let what = self.bytes_to(&item, item.bytes, now, wires, tell);
            if what.is_none() {
                // A note that recalls something ends at once: its own end is in the past.
                let off = self.programme.items.iter().find(|i| i.ends == u32::try_from(place).ok()).copied();
                if let Some(off) = off {
                    self.bytes_to(&off, off.bytes, now, wires, tell);
                }
            }
            told(tell, place, what.unwrap_or(What::Chased), now, now, None);
        }
    }

    fn send_quarter_frame(&mut self, now: i64, wires: &mut dyn Wires, tell: Tell<'_>) {
        let Some(start) = self.programme.timecode else { return };
        let absolute = self.quarter_frame + start.frames() * 4;
        let piece = u8::try_from(absolute.rem_euclid(8)).unwrap_or(0);
        if piece == 0 || self.saying.is_none() {
            self.saying = Some(Timecode::from_frames(absolute.div_euclid(8) * 2, start.rate()));
        }
        let saying = self.saying.unwrap_or(start);
        self.quarter_frame += 1;
        let bytes = sync::quarter_frame(saying, piece);
        for to in 0..self.sync.timecode.len() {
            self.send(self.sync.timecode[to], &bytes, now, wires, tell);
        }
    }
}

fn told(tell: Tell<'_>, place: usize, what: What, due: i64, at: i64, holder: Option<Holder>) {
    tell(Event::Message { item: u32::try_from(place).unwrap_or(u32::MAX), what, due, at, holder });
}

/// The label of an event's message.
impl Programme {
    /// The cue of a message.
    pub fn label(&self, item: u32) -> Option<Label> {
        self.items.get(item as usize).map(|i| i.label)
    }
}

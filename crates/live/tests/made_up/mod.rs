//! Shared parts of the tests in this folder: the demo show's first service, and an engine, a gate and port workers on a clock
//! that the test sets. The fake ports record what was sent and when.

#![allow(clippy::unwrap_used, dead_code, missing_docs)] // each test takes what it needs

use letfall_core::prepared::Prepared;
use letfall_core::show::{Kind, Link, Show};
use letfall_core::time::SongTime;
use letfall_live::machines::{Connection, PortWorker, WorkerEnds, WorkerParts};
use letfall_live::{
    Clock, Clocks, Command, Engine, Event, Gate, Gone, Grip, HolderId, MachineSpan, MachineTime, Orders, PhysicalPort,
    PortOut, ReleaseIndex, RunPlan, SendOutcome, ShowPort, SyncPlan, UnixTime,
};
use std::collections::BTreeSet;
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::mpsc::Sender;
use std::sync::{Arc, Mutex};

/// A clock that the test sets.
#[derive(Default)]
pub struct Turned(pub AtomicI64);

impl Clocks for Turned {
    fn now(&self) -> MachineTime {
        at(self.0.load(Ordering::Relaxed))
    }
    fn wall(&self) -> UnixTime {
        UnixTime::from_micros(self.0.load(Ordering::Relaxed))
    }
    fn asleep(&self) -> MachineSpan {
        MachineSpan::ZERO
    }
    fn wait_until(&self, _: MachineTime) {}
    fn rest_until(&self, _: MachineTime) {}
}

/// What arrived at the machine ports.
#[derive(Default)]
pub struct Wires {
    /// When, at which machine port, and the bytes of one call of the driver.
    pub sent: Vec<(i64, u16, Vec<u8>)>,
    /// Machine ports that accept nothing.
    pub broken: BTreeSet<u16>,
    /// Keep only counts, so that a long test does not use more and more memory for its own records.
    pub counts_alone: bool,
    pub quarter_frames: u64,
}

struct Wire(u16, Arc<Mutex<Wires>>, Arc<Turned>);

impl PortOut for Wire {
    fn send(&mut self, bytes: &[u8]) -> Result<(), Gone> {
        let mut wires = self.1.lock().unwrap();
        if wires.broken.contains(&self.0) {
            return Err(Gone);
        }
        if wires.counts_alone {
            wires.quarter_frames += u64::from(bytes[0] == 0xf1);
            return Ok(());
        }
        wires.sent.push((self.2.now().micros(), self.0, bytes.to_vec()));
        Ok(())
    }
}

pub fn show() -> Show {
    let mut show: Show =
        letfall_core::file::read(include_bytes!("../../../../demo-shows/lantern-night.letfall")).unwrap();
    // Wires that take practically no time, so that a message leaves when it is due. Waiting is tested elsewhere.
    for port in &mut show.ports {
        port.link = Link::BytesPerSecond(u32::MAX);
    }
    // The straight line, and nothing in place of a release. Other courses and bends are tested by themselves.
    for service in &mut show.services {
        service.song.bends.clear();
    }
    for release in &mut show.releases {
        (release.stays, release.early) = (None, None);
        release.depends.clear();
    }
    // Everything is sent. What a hand sets off is tested by itself.
    for service in &mut show.services {
        let labels: Vec<_> = service.cues.iter().map(|cue| cue.label).collect();
        let cues = service.cues.take(&labels).into_iter().map(|mut cue| {
            if let Some(call) = &mut cue.call {
                call.goes = None;
            }
            cue
        });
        service.cues.put(cues.collect());
    }
    show
}

/// The same show, with a receiver on the port that the release does not use. Every preset sends the release's own message to
/// it.
pub fn show_with_its_message_elsewhere() -> Show {
    let mut show = show();
    let message = show.releases[0].message.clone();
    let mut apart = show.receiver(&show.releases[0].receiver).unwrap().clone();
    let other = show.ports.iter().find(|p| p.key != apart.port).unwrap().key.clone();
    (apart.key, apart.port) = ("apart".parse().unwrap(), other);
    for preset in &mut show.presets {
        (preset.receiver, preset.message) = (apart.key.clone(), message.clone());
    }
    show.receivers.push(apart);
    show
}

pub fn plan(show: &Show) -> Arc<RunPlan> {
    Arc::new(RunPlan::new(Prepared::hypothetical(Arc::new(show.clone()), 0).unwrap()))
}

/// A time of the machine's clock. The tests count in microseconds.
pub const fn at(micros: i64) -> MachineTime {
    MachineTime::from_micros(micros)
}

/// A song time.
pub const fn song(micros: i64) -> SongTime {
    SongTime::saturating(micros)
}

/// An engine, a gate and port workers that the test drives. Port n of the show uses machine port n unless a test says
/// otherwise.
pub struct Desk {
    pub engine: Engine,
    pub gate: Gate,
    pub orders: Arc<Orders>,
    pub workers: Vec<PortWorker>,
    pub connections: Vec<Sender<Connection>>,
    pub wires: Arc<Mutex<Wires>>,
    pub events: Vec<Event>,
    pub now: i64,
    /// The press with which [`Desk::run_to`] holds.
    pub grip: u64,
    turned: Arc<Turned>,
    clock: Clock,
}

impl Desk {
    pub fn new(plan: &Arc<RunPlan>, sync: SyncPlan) -> Desk {
        let map: Vec<Option<u16>> = (0..plan.ports.len()).map(|at| u16::try_from(at).ok()).collect();
        Desk::with_ports(plan, sync, &map)
    }

    /// With the given machine port for each port of the show.
    pub fn with_ports(plan: &Arc<RunPlan>, sync: SyncPlan, map: &[Option<u16>]) -> Desk {
        let orders = Arc::new(Orders::new(plan.releases.len()));
        let turned = Arc::new(Turned::default());
        let mut desk = Desk {
            engine: Engine::new(plan.clone(), orders.clone(), sync),
            gate: Gate::new(plan.clone(), orders.clone()),
            orders: orders.clone(),
            workers: Vec::new(),
            connections: Vec::new(),
            wires: Arc::default(),
            events: Vec::new(),
            now: 1_000_000,
            grip: 1,
            clock: turned.clone(),
            turned,
        };
        let count = map.iter().flatten().max().map_or(0, |most| most + 1);
        for number in 0..count {
            let shows: Vec<ShowPort> = (0..map.len()).filter(|at| map[*at] == Some(number)).map(ShowPort::at).collect();
            let physical = PhysicalPort(number);
            let (worker, WorkerEnds { link, connections, .. }) = PortWorker::new(WorkerParts {
                plan: plan.clone(),
                orders: orders.clone(),
                shows,
                physical,
                name: String::new(),
                interface: number,
                room: 64,
                keeper: None,
            });
            desk.workers.push(worker);
            desk.gate.add_port(physical, link);
            desk.connections.push(connections);
        }
        for (show, number) in map.iter().enumerate() {
            desk.gate.assign(ShowPort::at(show), number.map(PhysicalPort), at(0), &mut |_| ());
        }
        for number in 0..count {
            desk.open(number);
        }
        desk.turn();
        desk
    }

    /// Opens a machine port.
    pub fn open(&self, number: u16) {
        let wire = Wire(number, self.wires.clone(), self.turned.clone());
        self.connections[usize::from(number)].send(Connection::Open(Box::new(wire))).unwrap();
    }

    /// Closes a machine port.
    pub fn close(&self, number: u16) {
        self.connections[usize::from(number)].send(Connection::Closed).unwrap();
    }

    /// Runs everything that can happen at the present time. Returns when something is due next.
    pub fn turn(&mut self) -> Option<i64> {
        self.turned.0.store(self.now, Ordering::Relaxed);
        let now = at(self.now);
        let mut next = None;
        for _ in 0..4 {
            let events = &mut self.events;
            let mut tell = |event| events.push(event);
            let woken: Vec<_> = self.workers.iter_mut().map(|worker| worker.turn(now, &self.clock)).collect();
            self.engine.obey_stops(now, &mut self.gate, &mut tell);
            let due = self.engine.step(now, &mut self.gate, &mut tell);
            let free = self.gate.pump(now, &mut tell);
            next = woken.into_iter().chain([due, free]).flatten().min().map(MachineTime::micros);
        }
        next
    }

    /// Runs one turn of the port workers.
    pub fn turn_ports(&mut self) {
        self.turned.0.store(self.now, Ordering::Relaxed);
        for worker in &mut self.workers {
            worker.turn(at(self.now), &self.clock);
        }
    }

    pub fn give(&mut self, command: Command) {
        self.turn();
        let events = &mut self.events;
        self.engine.command(command, at(self.now), &mut self.gate, &mut |e| events.push(e));
        self.turn();
    }

    pub fn hold(&mut self, release: u16, holder: u16) {
        let grip = Grip(self.grip);
        self.give(Command::Hold { release: ReleaseIndex(release), holder: HolderId(holder), grip, at: at(self.now) });
    }

    /// Lets go. The next hold is a new press.
    pub fn let_go(&mut self, release: u16) {
        self.orders.let_go(ReleaseIndex(release), Grip(self.grip));
        self.grip += 1;
        self.turn();
    }

    pub fn stop_all(&mut self) {
        self.orders.order_stop_all();
        self.turn();
    }

    /// Runs to a time of the clock, stopping wherever something is due. A person may hold a release the whole time.
    pub fn run_to(&mut self, until: i64, hold: Option<(u16, u16)>) {
        loop {
            let next = self.turn();
            if let Some((release, holder)) = hold {
                self.hold(release, holder);
            }
            if self.now >= until {
                return;
            }
            self.now = next.unwrap_or(i64::MAX).min(until).min(self.now + 100_000).max(self.now + 1);
        }
    }

    pub fn start(&mut self, place: i64, chase: bool) {
        self.give(Command::Start { song: song(place), at: at(self.now), chase });
    }

    pub fn sent(&self) -> Vec<(i64, u16, Vec<u8>)> {
        self.wires.lock().unwrap().sent.clone()
    }

    pub fn break_ports(&self, broken: &[u16]) {
        self.wires.lock().unwrap().broken = broken.iter().copied().collect();
    }

    pub fn fates(&self, plan: &RunPlan, kind: Kind) -> Vec<SendOutcome> {
        let of = |e: &Event| match e {
            Event::Message { item, outcome, .. } => {
                let item = &plan.items[item.index()];
                (item.label.kind == kind && item.ends.is_none() && item.due < SongTime::MAX).then_some(*outcome)
            }
            _ => None,
        };
        self.events.iter().filter_map(of).collect()
    }
}

//! The gate, which decides on every byte that leaves. Every message that the engine sends goes through it, timecode too. It refuses
//! messages that a device on the machine port might take for a release. It paces each wire by its speed and keeps it free before a
//! release, and it hands packets one by one to the thread of each port. The end of a note or contact is judged together with what
//! begins it. What a port's thread sends without the engine, it asks for in `own_accord`. Everything else is decided by the engine.
//!
//! The gate does no I/O. Nothing here allocates once the ports are added, and nothing waits.

mod guard;
mod own_accord;
mod packet;
mod port;

pub(crate) use own_accord::{SILENCES, may_sense, may_silence};
pub use packet::{Debt, Packet, Payload, Report, Task};
pub use port::PortLink;

use crate::event::{Event, EventSink, SendOutcome};
use crate::orders::Orders;
use crate::run_plan::RunPlan;
use crate::units::{ItemIndex, MachineSpan, MachineTime, PhysicalPort, ReleaseIndex, ShowPort};
use guard::PortMap;
use letfall_core::schedule::pacing::{LONGEST_WITH_A_RELEASE, Turn, Waiting, Wire};
use port::{GatePort, PortState, number, port_and_slot};
use std::sync::Arc;

/// Timecode and clock that waited longer than this are out of date and are dropped. Our own figure.
const SYNC_STALE: MachineSpan = MachineSpan::from_millis(20);
/// How many bytes on the wire are assumed for the end of a note.
const END_BYTES: i64 = 3;

/// The gate of a run.
#[derive(Debug)]
pub struct Gate {
    plan: Arc<RunPlan>,
    orders: Arc<Orders>,
    map: PortMap,
    ports: Vec<GatePort>,
    /// One for each interface, because ports of one interface share its cable to the machine.
    wires: Vec<Wire>,
    /// Ports that were lost (`false`) or came back (`true`) since the engine last asked.
    changed: Vec<(PhysicalPort, bool)>,
    /// For each row of the stage, the last message that a driver accepted for it, as far as is known.
    rows: Vec<Option<ItemIndex>>,
    /// Whether the message of each release that was given to a port left, since the engine last asked.
    settled: Vec<(ReleaseIndex, bool)>,
    /// How many messages were taken so far.
    came: u32,
    epoch: u64,
}

impl Gate {
    /// A gate without machine ports.
    pub fn new(plan: Arc<RunPlan>, orders: Arc<Orders>) -> Gate {
        let ports = plan.ports.len();
        Gate {
            map: PortMap(vec![None; ports]),
            ports: Vec::with_capacity(ports),
            wires: Vec::with_capacity(ports),
            changed: Vec::with_capacity(256),
            rows: vec![None; plan.rows],
            settled: Vec::with_capacity(2 * plan.releases.len() + 16),
            came: 0,
            epoch: orders.generation(),
            plan,
            orders,
        }
    }

    /// Adds a machine port. The link leads to its thread.
    pub fn add_port(&mut self, port: PhysicalPort, link: PortLink) {
        while self.wires.len() <= usize::from(link.interface) {
            self.wires.push(Wire::with_capacity(port::WAITING));
        }
        while self.ports.len() <= port.index() {
            self.ports.push(GatePort::absent());
        }
        self.ports[port.index()] = GatePort::new(link);
    }

    /// Assigns a machine port to a port of the show. Returns whether that changed anything. Messages that wait for the machine
    /// port were judged for the devices that were on it before, so they are withdrawn.
    pub fn assign(
        &mut self,
        port: ShowPort,
        physical: Option<PhysicalPort>,
        now: MachineTime,
        tell: EventSink<'_>,
    ) -> bool {
        let Some(known) = self.map.0.get_mut(port.index()).filter(|known| **known != physical) else { return false };
        *known = physical;
        if let Some(physical) = physical
            && let Some(of) = self.ports.get_mut(physical.index())
        {
            of.recall();
            // The slowest link that is declared for it counts.
            let declared = self.plan.nanos_per_byte.get(port.index()).copied().unwrap_or(0);
            of.link.nanos_per_byte = of.link.nanos_per_byte.max(declared);
            self.withdraw_if(now, tell, SendOutcome::Withdrawn, |of, task| of == physical && !task.ends());
        }
        true
    }

    /// The port was looked for and not found. Messages that wait for it to open are dropped.
    pub fn port_is_missing(&mut self, port: PhysicalPort, now: MachineTime, tell: EventSink<'_>) {
        if let Some(of) = self.ports.get_mut(port.index()).filter(|of| of.state == PortState::Opening) {
            of.state = PortState::Gone;
            self.withdraw_if(now, tell, SendOutcome::NoPort, |of, _| of == port);
        }
    }

    /// Whether a port of the show can be sent to now.
    pub fn is_there(&self, port: ShowPort) -> bool {
        self.port_of(port).is_some_and(|of| of.state == PortState::There && !of.is_stuck())
    }

    /// Whether a release can leave by a port of the show now.
    pub fn can_release(&self, port: ShowPort) -> bool {
        self.is_there(port) && self.port_of(port).is_some_and(|of| !of.link.own)
    }

    /// Whether two ports of the show leave by one machine port.
    pub fn are_one(&self, a: ShowPort, b: ShowPort) -> bool {
        self.map.are_one(a, b)
    }

    /// Whether a port of the show leaves by a machine port.
    pub fn leaves_by(&self, port: ShowPort, physical: PhysicalPort) -> bool {
        self.map.of(port) == Some(physical)
    }

    /// Takes a machine port that was lost (`false`) or came back (`true`) and has not been asked for yet.
    pub fn take_changed(&mut self) -> Option<(PhysicalPort, bool)> {
        self.changed.pop()
    }

    /// Takes a release whose message was given to a port, and whether it left, that has not been asked for yet.
    pub fn take_settled(&mut self) -> Option<(ReleaseIndex, bool)> {
        self.settled.pop()
    }

    fn settle(&mut self, task: &Task, left: bool) {
        if let Task::Release { release, .. } = *task
            && self.settled.len() < self.settled.capacity()
        {
            self.settled.push((release, left));
        }
    }

    /// The last message that was sent for a row of the stage. `None` if that is not known, for example while one is on its way.
    pub fn last_of_row(&self, row: usize) -> Option<ItemIndex> {
        self.rows.get(row).copied().flatten()
    }

    /// Forgets what was last sent for the rows of some ports.
    pub fn forget_rows(&mut self, of: impl Fn(ShowPort) -> bool) {
        forget(&mut self.rows, &self.plan, of);
    }

    fn set_row(&mut self, task: &Task, known: bool) {
        if let Task::Cue { item, outcome, .. } = *task
            && outcome != SendOutcome::StandIn
            && let Some(row) = self.plan.item(item).and_then(|item| item.sets)
            && let Some(of) = self.rows.get_mut(row as usize)
        {
            *of = known.then_some(item);
        }
    }

    fn port_of(&self, port: ShowPort) -> Option<&GatePort> {
        self.ports.get(self.map.of(port)?.index())
    }

    /// Takes a message for sending. The lowest `rank` leaves first.
    ///
    /// # Errors
    /// Why it is not sent. The fate of a message that was taken is reported later.
    pub fn offer(
        &mut self,
        port: ShowPort,
        payload: Payload,
        task: Task,
        rank: u8,
        due: MachineTime,
    ) -> Result<(), SendOutcome> {
        let physical = self.map.of(port).ok_or(SendOutcome::NoPort)?;
        let bytes = payload.bytes(&self.plan);
        // The message that ends it must be as harmless as the message that begins it.
        let owed = task.owes().map(|debt| self.plan.bytes(debt.bytes));
        let refused = |bytes| guard::refusal(&self.plan, &self.map, port, bytes, &task).is_some();
        if !task.ends() && (refused(bytes) || owed.is_some_and(refused)) {
            return Err(SendOutcome::WouldRelease);
        }
        let waits_for_release = self.may_carry_a_release_soon(physical);
        let of = self.ports.get_mut(physical.index()).ok_or(SendOutcome::NoPort)?;
        if of.link.own && matches!(task, Task::Release { .. }) {
            return Err(SendOutcome::NoPort);
        }
        let waits_for_opening = of.state == PortState::Opening
            && !crate::planted!(OpeningPortDrops)
            && !matches!(task, Task::Release { .. } | Task::Sync);
        if of.state != PortState::There && !waits_for_opening {
            return Err(SendOutcome::NoPort);
        }
        if of.is_stuck() && !task.ends() {
            return Err(SendOutcome::PortStuck);
        }
        let length_ns = match task {
            Task::End { .. } => END_BYTES * of.link.nanos_per_byte,
            Task::EndAll => 0,
            _ => i64::try_from(bytes.len()).unwrap_or(i64::MAX).saturating_mul(of.link.nanos_per_byte),
        };
        let is_long = length_ns > LONGEST_WITH_A_RELEASE.micros() * 1000;
        let own = matches!(task, Task::Release { .. }) || task.ends();
        if is_long && !own && waits_for_release {
            return Err(SendOutcome::TooLong);
        }
        let slot = of
            .keep(Packet { task, payload, due, epoch: self.epoch, recalls: of.recalls() })
            .ok_or(SendOutcome::PortStuck)?;
        self.came = self.came.wrapping_add(1);
        let waiting = Waiting { rank, due_ns: nanos(due), came: self.came, number: number(physical, slot), length_ns };
        self.wires[usize::from(of.link.interface)].push(waiting);
        Ok(())
    }

    /// Whether the wire of a machine port may have to carry a release or the end of its contact soon, for this port or for another
    /// one of the same interface.
    fn may_carry_a_release_soon(&self, port: PhysicalPort) -> bool {
        self.ports.get(port.index()).is_some_and(|own| {
            let same_wire = |of: &&GatePort| of.link.interface == own.link.interface;
            self.ports.iter().filter(same_wire).any(|of| of.may_release || !of.owed.is_empty())
        })
    }

    /// Ends every note and contact that is on, on all ports.
    pub fn end_all(&mut self, now: MachineTime) {
        if crate::planted!(DebtForgottenAtStop) {
            return;
        }
        for at in 0..self.ports.len() {
            let show = self.map.shows(PhysicalPort::at(at)).next();
            if let Some(show) = show {
                // If the port is gone, its thread keeps what is owed and sends it when the port is back.
                let _gone = self.offer(show, Payload::made(&[]), Task::EndAll, 0, now);
            }
        }
    }

    /// Withdraws all waiting messages, except those that end something.
    pub fn withdraw(&mut self, now: MachineTime, tell: EventSink<'_>) {
        self.withdraw_if(now, tell, SendOutcome::Withdrawn, |_, task| !task.ends());
    }

    /// Stop-all was ordered, so everything handed over before is out of date. The threads of the ports see the order
    /// themselves. They end what is still on, and silence the channels that may be silenced.
    pub fn stop_all(&mut self, now: MachineTime, tell: EventSink<'_>) {
        self.withdraw(now, tell);
        self.rows.fill(None);
        self.begin_epoch();
    }

    /// A stop was obeyed. Everything handed over before is out of date, and what comes from now on is not.
    pub fn begin_epoch(&mut self) {
        self.epoch = self.orders.generation();
    }

    fn withdraw_if(
        &mut self,
        now: MachineTime,
        tell: EventSink<'_>,
        outcome: SendOutcome,
        which: impl Fn(PhysicalPort, &Task) -> bool,
    ) {
        for at in 0..self.ports.len() {
            let port = PhysicalPort::at(at);
            for slot in 0..self.ports[at].slots() {
                if self.ports[at].peek(slot).is_some_and(|packet| which(port, &packet.task))
                    && let Some(packet) = self.ports[at].take(slot)
                {
                    self.settle(&packet.task, false);
                    say(&packet, Err(outcome), now, tell);
                }
            }
        }
        // A queue entry whose slot is empty would be skipped at its turn. Remove it now, so that it does not delay others.
        let ports = &self.ports;
        for wire in &mut self.wires {
            wire.retain(|waiting| {
                let (port, slot) = port_and_slot(waiting.number);
                ports.get(port.index()).is_some_and(|of| of.peek(slot).is_some())
            });
        }
    }

    /// Sets the ports of the show where a release may leave now.
    pub fn may_release(&mut self, ports: impl Iterator<Item = ShowPort>) {
        for of in &mut self.ports {
            of.may_release = false;
        }
        for port in ports {
            if let Some(of) = self.map.of(port).and_then(|physical| self.ports.get_mut(physical.index())) {
                of.may_release = true;
            }
        }
    }

    /// Keeps wires free at the times when releases are due, given by ports of the show, and when contacts are due to open.
    pub fn keep_free(&mut self, releases: &(impl Iterator<Item = (ShowPort, MachineTime)> + Clone)) {
        if crate::planted!(WireNotKeptFree) {
            return;
        }
        let (ports, map) = (&self.ports, &self.map);
        for (at, wire) in self.wires.iter_mut().enumerate() {
            let on_wire = |port: &GatePort| usize::from(port.link.interface) == at;
            let planned = releases.clone().filter_map(|(port, due)| {
                let of = ports.get(map.of(port)?.index())?;
                on_wire(of).then_some(due)
            });
            let owed = ports.iter().filter(|of| on_wire(of)).flat_map(|of| of.owed.iter().map(|(_, due)| *due));
            wire.keep_free(planned.chain(owed).map(nanos));
        }
    }

    /// Reads the reports of the ports' threads and hands over what may leave now. Returns when it must be called again at the
    /// latest. `None` where nothing waits.
    pub fn pump(&mut self, now: MachineTime, tell: EventSink<'_>) -> Option<MachineTime> {
        for at in 0..self.ports.len() {
            while let Some(report) = self.ports[at].hear() {
                self.report(PhysicalPort::at(at), report, now, tell);
            }
            if self.ports[at].look_whether_stuck(now) && self.ports[at].state == PortState::There {
                // Treat a blocked driver as a lost port, and one that works again as a port that came back.
                self.changed.push((PhysicalPort::at(at), !self.ports[at].is_stuck()));
            }
        }
        let now_ns = nanos(now);
        let mut next_ns: Option<i64> = None;
        for at in 0..self.wires.len() {
            loop {
                match self.wires[at].turn(now_ns) {
                    Turn::Begin(waiting) => self.hand_over(at, waiting, now, tell),
                    Turn::Wait(until) => {
                        next_ns = Some(next_ns.map_or(until, |next| next.min(until)));
                        break;
                    }
                    Turn::Idle => break,
                }
            }
        }
        // Round up, so that the wire really is free at that microsecond.
        next_ns.map(|next| MachineTime::from_micros(next.div_euclid(1000) + 1))
    }

    fn hand_over(&mut self, wire: usize, waiting: Waiting, now: MachineTime, tell: EventSink<'_>) {
        let (port, slot) = port_and_slot(waiting.number);
        if crate::planted!(NoPacing) {
            self.wires[wire].free_at_once();
        }
        let Some(of) = self.ports.get_mut(port.index()) else { return };
        if of.state == PortState::Opening {
            // This does not last long: the port is soon open or found missing.
            self.wires[wire].give_back(waiting, nanos(now));
            return;
        }
        let Some(packet) = of.peek(slot).copied() else { return };
        let is_stale = packet.task == Task::Sync && now - packet.due > SYNC_STALE;
        let given = !is_stale && of.give(packet, now).is_ok();
        if !given && !is_stale && !of.is_stuck() {
            // The thread's queue is full. There will soon be room again.
            self.wires[wire].give_back(waiting, nanos(now));
            return;
        }
        of.take(slot);
        match (given, is_stale) {
            (true, _) => self.set_row(&packet.task, false),
            (false, true) => {}
            (false, false) => {
                self.settle(&packet.task, false);
                say(&packet, Err(SendOutcome::PortStuck), now, tell);
            }
        }
    }

    fn report(&mut self, port: PhysicalPort, report: Report, now: MachineTime, tell: EventSink<'_>) {
        let of = &mut self.ports[port.index()];
        let wire = usize::from(of.link.interface);
        match report {
            Report::Done { packet, result, free } => {
                of.done(&packet, result.ok());
                self.set_row(&packet.task, result.is_ok());
                self.settle(&packet.task, result.is_ok());
                self.wires[wire].busy_until(nanos(free));
                say(&packet, result, now, tell);
            }
            Report::Ended { end, at, free } => {
                of.owed.retain(|(owed, _)| *owed != end);
                self.wires[wire].busy_until(nanos(free));
                tell(Event::Message { item: end, outcome: SendOutcome::Sent, due: at, at, holder: None });
            }
            Report::Ready => {
                if of.state != PortState::There {
                    let first = of.state == PortState::Opening;
                    of.state = PortState::There;
                    if !first {
                        self.changed.push((port, true));
                    }
                }
            }
            Report::Lost => {
                of.state = PortState::Gone;
                self.changed.push((port, false));
                forget(&mut self.rows, &self.plan, |show| self.map.of(show) == Some(port));
                self.withdraw_if(now, tell, SendOutcome::NoPort, |of, task| of == port && !task.ends());
                for show in self.map.shows(port) {
                    tell(Event::PortLost { port: show, at: now });
                }
            }
        }
    }
}

/// Forgets which message a row was last sent, if its port is one of some ports of the show.
fn forget(rows: &mut [Option<ItemIndex>], plan: &RunPlan, of: impl Fn(ShowPort) -> bool) {
    for row in rows {
        if row.and_then(|at| plan.item(at)).is_some_and(|item| of(item.port)) {
            *row = None;
        }
    }
}

/// A time of the machine's clock in nanoseconds, as wires count.
const fn nanos(at: MachineTime) -> i64 {
    at.micros().saturating_mul(1000)
}

/// Reports what became of a message of the plan. Ends and sync messages are not reported.
fn say(packet: &Packet, result: Result<MachineTime, SendOutcome>, now: MachineTime, tell: EventSink<'_>) {
    let mut message = |item: ItemIndex, sent: SendOutcome, holder| {
        let (outcome, at) = result.map_or_else(|why| (why, now), |at| (sent, at));
        tell(Event::Message { item, outcome, due: packet.due, at, holder });
    };
    match packet.task {
        Task::Cue { item, outcome, .. } => message(item, outcome, None),
        Task::Release { item, holder, .. } => message(item, SendOutcome::Sent, Some(holder)),
        Task::End { .. } | Task::EndAll | Task::Sync => {}
    }
}

//! The gate: every byte that leaves passes it, timecode and stop-all too. It models each machine port as the devices on it would
//! read it and refuses what might fire a release; it paces each wire by its speed and keeps it free before a release; and it hands
//! one packet after another to the thread of each port. It decides nothing else: the engine does.
//!
//! The gate is pure. Nothing here allocates once a port was added, and nothing waits.

mod guard;
mod packet;
mod port;

pub use packet::{Debt, Packet, Payload, Report, Task};
pub use port::PortLink;

use crate::event::{Event, EventSink, SendOutcome};
use crate::orders::Orders;
use crate::run_plan::RunPlan;
use crate::units::{ItemIndex, MachineTime, PhysicalPort, ShowPort};
use guard::PortMap;
use letfall_core::schedule::pacing::{Turn, Waiting, Wire};
use port::{GatePort, PortState, number, port_and_slot};
use std::sync::Arc;

/// Timecode and clock that waited longer than this say something that is no longer true, in nanoseconds. Our own figure.
const SYNC_STALE_NS: i64 = 20_000_000;
/// So many bytes on the wire are counted for the end of a note.
const END_BYTES: i64 = 3;

/// The longest that a message may keep the wire of a release that may leave, or whose contact is closed, in nanoseconds: the check has
/// the same figure.
const LONG_NS: i64 = 5_000_000;

/// The gate of a run.
#[derive(Debug)]
pub struct Gate {
    plan: Arc<RunPlan>,
    orders: Arc<Orders>,
    map: PortMap,
    ports: Vec<GatePort>,
    /// One for each interface: ports of one interface share its cable to the machine.
    wires: Vec<Wire>,
    /// Ports that were lost and that came back since the engine asked.
    changed: Vec<(PhysicalPort, bool)>,
    /// For each row of the stage, the last message that a driver took for it, as far as is known.
    rows: Vec<Option<ItemIndex>>,
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
            came: 0,
            epoch: orders.generation(),
            plan,
            orders,
        }
    }

    /// A machine port exists from now on, and its thread is reached by this link.
    pub fn add_port(&mut self, port: PhysicalPort, link: PortLink) {
        while self.wires.len() <= usize::from(link.interface) {
            self.wires.push(Wire::with_capacity(port::WAITING));
        }
        while self.ports.len() <= port.index() {
            self.ports.push(GatePort::absent());
        }
        self.ports[port.index()] = GatePort::new(link);
    }

    /// Which machine port a port of the show leaves by; gives whether that changed. What waits for that machine port was judged for
    /// the devices that were on it before: it is not sent.
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
            && let Some(of) = self.ports.get(physical.index())
        {
            of.recall();
            self.withdraw_if(now, tell, SendOutcome::Withdrawn, |of, task| {
                of == physical && !matches!(task, Task::End { .. } | Task::EndAll)
            });
        }
        true
    }

    /// It was looked for and is not there: what waits for its opening waits in vain.
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
        self.map.0.get(port.index()).copied().flatten() == Some(physical)
    }

    /// The next machine port that was lost (`false`) or came back (`true`) since this was last asked.
    pub fn take_changed(&mut self) -> Option<(PhysicalPort, bool)> {
        self.changed.pop()
    }

    /// The last message that a row of the stage was sent, as far as is known: what is on its way is not known.
    pub fn last_of_row(&self, row: usize) -> Option<ItemIndex> {
        self.rows.get(row).copied().flatten()
    }

    /// Nothing is known any more of what the rows of some ports were sent.
    pub fn forget_rows(&mut self, of: impl Fn(ShowPort) -> bool) {
        for row in &mut self.rows {
            if row.and_then(|at| self.plan.item(at)).is_some_and(|item| of(item.port)) {
                *row = None;
            }
        }
    }

    fn set_row(&mut self, task: &Task, known: bool) {
        if let Task::Cue { item, outcome, .. } = *task
            && outcome != SendOutcome::StandIn
            && let Some(row) = self.plan.item(item).and_then(|item| item.sets)
            && let Some(of) = self.rows.get_mut(usize::from(row))
        {
            *of = known.then_some(item);
        }
    }

    fn port_of(&self, port: ShowPort) -> Option<&GatePort> {
        self.ports.get(self.map.0.get(port.index()).copied().flatten()?.index())
    }

    /// Takes a message on its way. `rank` 0 is for releases alone.
    ///
    /// # Errors
    /// Why it is not sent. What becomes of a message that was taken is told when it has left.
    pub fn offer(
        &mut self,
        port: ShowPort,
        payload: Payload,
        task: Task,
        rank: u8,
        due: MachineTime,
    ) -> Result<(), SendOutcome> {
        let physical = self.map.0.get(port.index()).copied().flatten().ok_or(SendOutcome::NoPort)?;
        let plan = self.plan.clone();
        let made;
        let bytes = match payload {
            Payload::Plan(range) => plan.bytes(range),
            Payload::Made { bytes, length } => {
                made = bytes;
                &made[..usize::from(length)]
            }
        };
        let ends = matches!(task, Task::End { .. } | Task::EndAll);
        if !ends {
            let owed = match task {
                Task::Cue { owes, .. } | Task::Release { owes, .. } => owes.map(|debt| plan.bytes(debt.bytes)),
                _ => None,
            };
            // What ends it must be as harmless as what begins it.
            let refused = |bytes| guard::refusal(&plan, &self.map, port, bytes, &task);
            if refused(bytes).or_else(|| owed.and_then(refused)).is_some() {
                return Err(SendOutcome::WouldRelease);
            }
        }
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
        if of.is_stuck() && !ends {
            return Err(SendOutcome::PortStuck);
        }
        let length_ns = match task {
            Task::End { .. } => END_BYTES * of.link.nanos_per_byte,
            Task::EndAll => 0,
            _ => i64::try_from(bytes.len()).unwrap_or(i64::MAX).saturating_mul(of.link.nanos_per_byte),
        };
        let own = matches!(task, Task::Release { .. }) || ends;
        if !own && length_ns > LONG_NS && (of.may_release || !of.owed.is_empty()) {
            return Err(SendOutcome::TooLong);
        }
        let slot = of
            .keep(Packet { task, payload, due, epoch: self.epoch, recalls: of.recalls() })
            .ok_or(SendOutcome::PortStuck)?;
        let due_ns = due.micros().saturating_mul(1000);
        self.came = self.came.wrapping_add(1);
        let waiting = Waiting { rank, due_ns, came: self.came, number: number(physical, slot), length_ns };
        self.wires[usize::from(of.link.interface)].push(waiting);
        Ok(())
    }

    /// Everything that was begun on any port ends.
    pub fn end_all(&mut self, now: MachineTime) {
        if crate::planted!(DebtForgottenAtStop) {
            return;
        }
        for at in 0..self.ports.len() {
            if let Some(show) = self.map.0.iter().position(|of| of.is_some_and(|of| of.index() == at)) {
                // A port that is gone pays when it is back; its thread keeps what is owed.
                let _gone = self.offer(ShowPort::at(show), Payload::made(&[]), Task::EndAll, 0, now);
            }
        }
    }

    /// Nothing that waits is sent any more, except what ends something.
    pub fn withdraw(&mut self, now: MachineTime, tell: EventSink<'_>) {
        self.withdraw_if(now, tell, SendOutcome::Withdrawn, |_, task| !matches!(task, Task::End { .. } | Task::EndAll));
    }

    /// Stop-all was ordered: what was handed over before is out of date. The threads of the ports see the order themselves; they end
    /// what was begun, and silence what may be silenced.
    pub fn stop_all(&mut self, now: MachineTime, tell: EventSink<'_>) {
        self.withdraw(now, tell);
        self.rows.fill(None);
        self.begin_epoch();
    }

    /// A stop was obeyed: what was handed over before is out of date, what comes now is not.
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
                    say(&packet, Err(outcome), now, tell);
                }
            }
        }
        // What no longer stands in a slot is passed over when its turn comes; here it is taken off, so that it holds nobody up.
        let ports = &self.ports;
        for wire in &mut self.wires {
            wire.retain(|waiting| {
                let (port, slot) = port_and_slot(waiting.number);
                ports.get(port.index()).is_some_and(|of| of.peek(slot).is_some())
            });
        }
    }

    /// The ports of the show by which a release may leave now.
    pub fn may_release(&mut self, ports: impl Iterator<Item = ShowPort>) {
        for of in &mut self.ports {
            of.may_release = false;
        }
        for port in ports {
            let physical = self.map.0.get(port.index()).copied().flatten();
            if let Some(of) = physical.and_then(|physical| self.ports.get_mut(physical.index())) {
                of.may_release = true;
            }
        }
    }

    /// The times at which releases are due, by ports of the show: their wires are kept free then, and for the ends of contacts.
    pub fn keep_free(&mut self, releases: &(impl Iterator<Item = (ShowPort, MachineTime)> + Clone)) {
        if crate::planted!(WireNotKeptFree) {
            return;
        }
        let (ports, map) = (&self.ports, &self.map);
        for (at, wire) in self.wires.iter_mut().enumerate() {
            let on_wire = |port: &GatePort| usize::from(port.link.interface) == at;
            let planned = releases.clone().filter_map(|(port, due)| {
                let of = ports.get(map.0.get(port.index()).copied().flatten()?.index())?;
                on_wire(of).then_some(due)
            });
            let owed = ports.iter().filter(|of| on_wire(of)).flat_map(|of| of.owed.iter().map(|(_, due)| *due));
            wire.keep_free(planned.chain(owed).map(|due| due.micros().saturating_mul(1000)));
        }
    }

    /// Hears what the threads of the ports say, and hands over what may leave now. Gives when it should be called again at the latest;
    /// `None` where nothing waits.
    pub fn pump(&mut self, now: MachineTime, tell: EventSink<'_>) -> Option<MachineTime> {
        for at in 0..self.ports.len() {
            while let Some(report) = self.ports[at].hear() {
                self.report(PhysicalPort::at(at), report, now, tell);
            }
            if self.ports[at].look_whether_stuck(now) && self.ports[at].state == PortState::There {
                // A driver that blocks is as good as gone, and one that goes on again as good as back.
                self.changed.push((PhysicalPort::at(at), !self.ports[at].is_stuck()));
            }
        }
        let now_ns = now.micros().saturating_mul(1000);
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
        // Rounded up: before its microsecond is over the wire is not free.
        next_ns.map(|next| MachineTime::from_micros(next.div_euclid(1000) + 1))
    }

    fn hand_over(&mut self, wire: usize, waiting: Waiting, now: MachineTime, tell: EventSink<'_>) {
        let (port, slot) = port_and_slot(waiting.number);
        if crate::planted!(NoPacing) {
            self.wires[wire].free_at_once();
        }
        let Some(of) = self.ports.get_mut(port.index()) else { return };
        if of.state == PortState::Opening {
            // Nothing else waits here for long: the port is there within a moment, or found missing.
            self.wires[wire].give_back(waiting, now.micros().saturating_mul(1000));
            return;
        }
        let Some(packet) = of.take(slot) else { return };
        let stale = packet.task == Task::Sync && (now - packet.due).micros().saturating_mul(1000) > SYNC_STALE_NS;
        if stale {
            return;
        }
        let given = of.give(packet, now);
        self.set_row(&packet.task, false);
        let Some(of) = self.ports.get_mut(port.index()) else { return };
        if let Err(packet) = given {
            // Its thread has as many as it takes: a moment later there is room, unless the driver is stuck.
            match of.keep(packet).filter(|_| !of.is_stuck()) {
                Some(slot) => {
                    let again = Waiting { number: number(port, slot), ..waiting };
                    self.wires[wire].give_back(again, now.micros().saturating_mul(1000));
                }
                None => say(&packet, Err(SendOutcome::PortStuck), now, tell),
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
                self.wires[wire].busy_until(free.micros().saturating_mul(1000));
                say(&packet, result, now, tell);
            }
            Report::Ended { end, at, free } => {
                of.owed.retain(|(owed, _)| *owed != end);
                self.wires[wire].busy_until(free.micros().saturating_mul(1000));
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
                for at in 0..self.map.0.len() {
                    if self.map.0[at] == Some(port) {
                        self.forget_rows(|show| show.index() == at);
                    }
                }
                self.withdraw_if(now, tell, SendOutcome::NoPort, |of, task| {
                    of == port && !matches!(task, Task::End { .. } | Task::EndAll)
                });
                for (at, _) in self.map.0.iter().enumerate().filter(|(_, of)| **of == Some(port)) {
                    tell(Event::PortLost { port: ShowPort::at(at), at: now });
                }
            }
        }
    }
}

/// Says what became of a message of the plan; the others are nobody's concern but the wire's.
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

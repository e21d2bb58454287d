//! The thread of one machine port. It hands messages one by one to the driver. It remembers which notes and contacts are on,
//! and ends them in time, at stop-all, when the port comes back, and when the sending thread has ended.
//!
//! The worker is a state machine, so that a test can drive it with its own clock. [`PortWorker::run`] drives it in a thread. A
//! driver that blocks delays only this port.

use crate::contact_keeper::ContactKeeper;
use crate::event::SendOutcome;
use crate::gate::{Debt, Packet, Payload, PortLink, Report, SILENCES, Task, may_sense, may_silence};
use crate::orders::Orders;
use crate::ports::{PortOut, is_own_port};
use crate::run_plan::RunPlan;
use crate::runner::Clock;
use crate::units::{MachineSpan, MachineTime, PhysicalPort, ShowPort};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::thread;
use std::time::Duration;

/// How long the thread rests when nothing is due soon. Other threads wake it when they have something for it.
const REST: MachineSpan = MachineSpan::from_millis(100);
/// Active sensing, and how often it is sent: at least every 300 ms (MIDI 1.0, system real time).
const ACTIVE_SENSING: u8 = 0xfe;
const SENSING: MachineSpan = MachineSpan::from_millis(200);
/// A driver may go on accepting messages for a device that is gone, until the supervisor looks (every 0.4 s) and finds it missing.
/// What was ended within this time before that is still owed.
const UNCERTAIN: MachineSpan = MachineSpan::from_millis(1000);

/// What the supervisor tells the thread of a port.
pub enum Connection {
    /// It is open.
    Open(Box<dyn PortOut>),
    /// It is gone.
    Closed,
    /// It is no longer chosen. What is still on there is ended, and then the port is closed.
    Leave,
    /// One more port of the show uses it.
    Serves(ShowPort),
}

/// What a port's worker is made with.
pub struct WorkerParts {
    /// What is sent.
    pub plan: Arc<RunPlan>,
    /// Stop-all and letting go.
    pub orders: Arc<Orders>,
    /// Ports of the show that use this one. Their releases decide which channels may be silenced here.
    pub shows: Vec<ShowPort>,
    /// The number of this machine port.
    pub physical: PhysicalPort,
    /// The machine's name for it.
    pub name: String,
    /// Which interface it belongs to. Ports of one interface are paced together.
    pub interface: u16,
    /// How many packets may be on their way from the gate. Twice as many reports may be on their way back.
    pub room: usize,
    /// The keeper that opens contacts if this program dies.
    pub keeper: Option<Arc<ContactKeeper>>,
}

/// The other ends of what a port's worker reads and writes.
pub struct WorkerEnds {
    /// For the gate. The thread is not known yet.
    pub link: PortLink,
    /// For the supervisor.
    pub connections: Sender<Connection>,
    /// How much is owed, for the supervisor. A port that owes something is opened again even if it is no longer chosen.
    pub owes: Arc<AtomicUsize>,
    /// Set while a contact there is closed, or was opened so lately that it may not have arrived. The supervisor looks for the port
    /// more often then.
    pub closed: Arc<AtomicBool>,
    /// Set when the port fails, for the supervisor.
    pub lost: Arc<AtomicBool>,
}

/// A note or contact that is on and must be ended.
#[derive(Debug, Clone, Copy)]
struct Owed {
    debt: Debt,
    /// Its number at the keeper. Only contacts have one.
    number: Option<u64>,
    /// When the thread ends it by itself.
    due: Option<MachineTime>,
}

/// The state machine of one port.
pub struct PortWorker {
    with: WorkerParts,
    packets: rtrb::Consumer<Packet>,
    reports: rtrb::Producer<Report>,
    connections: Receiver<Connection>,
    recalls: Arc<AtomicU64>,
    owes: Arc<AtomicUsize>,
    closed: Arc<AtomicBool>,
    lost: Arc<AtomicBool>,
    nanos_per_byte: i64,
    out: Option<Box<dyn PortOut>>,
    owed: Vec<Owed>,
    /// What was ended lately, and when.
    ended: Vec<(Owed, MachineTime)>,
    /// When active sensing is due next, while a contact is closed.
    sense_at: MachineTime,
    /// How many contacts were reported to the keeper.
    told: u64,
    /// Whether everything owed must be sent before anything else.
    pays_all: bool,
    /// The next of the messages that silence the port.
    silences: Option<u8>,
    epoch: u64,
    free: MachineTime,
    /// Whether to close the port as soon as nothing is owed.
    leaves: bool,
    /// The supervisor is gone, so no more connections will come.
    alone: bool,
}

impl PortWorker {
    /// The ports of the show that leave by this machine port.
    pub fn shows(&self) -> &[ShowPort] {
        &self.with.shows
    }

    /// The interface that it belongs to, by its number: ports of one interface are paced together.
    pub const fn interface(&self) -> u16 {
        self.with.interface
    }

    /// A port that is not open yet.
    pub fn new(with: WorkerParts) -> (PortWorker, WorkerEnds) {
        let epoch = with.orders.stops_all();
        let (to_worker, packets) = rtrb::RingBuffer::new(with.room);
        let (reports, from_worker) = rtrb::RingBuffer::new(2 * with.room);
        let (connects, connections) = channel();
        let (owes, closed, lost, recalls) = (Arc::default(), Arc::default(), Arc::default(), Arc::default());
        let nanos_per_byte = slowest(&with.plan, &with.shows);
        let link = PortLink {
            packets: to_worker,
            reports: from_worker,
            thread: None,
            recalls: Arc::clone(&recalls),
            nanos_per_byte,
            own: is_own_port(&with.name),
            interface: with.interface,
        };
        let ends = WorkerEnds {
            link,
            connections: connects,
            owes: Arc::clone(&owes),
            closed: Arc::clone(&closed),
            lost: Arc::clone(&lost),
        };
        let worker = PortWorker {
            with,
            packets,
            reports,
            connections,
            recalls,
            owes,
            closed,
            lost,
            nanos_per_byte,
            out: None,
            owed: Vec::with_capacity(64),
            ended: Vec::with_capacity(64),
            sense_at: MachineTime::MIN,
            told: 0,
            pays_all: false,
            silences: None,
            epoch,
            free: MachineTime::MIN,
            leaves: false,
            alone: false,
        };
        (worker, ends)
    }

    /// Runs until the run is over and nothing is owed, or nothing owed can be sent any more.
    pub fn run(mut self, clock: &Clock) {
        loop {
            let now = clock.now();
            let next = self.turn(now, clock);
            if self.is_over() {
                return;
            }
            let wait = next.unwrap_or(now + REST).min(now + REST) - clock.now();
            if wait > MachineSpan::ZERO {
                thread::park_timeout(Duration::from_micros(wait.micros().unsigned_abs()));
            }
        }
    }

    /// Whether the worker is finished: the sending thread has ended, and nothing is owed or what is owed can never be sent.
    pub fn is_over(&self) -> bool {
        let gone = self.packets.is_abandoned() && self.packets.is_empty();
        let paid = self.owed.is_empty() && self.silences.is_none();
        gone && (paid || self.out.is_none() && self.alone)
    }

    /// Does what can be done now. Returns when it must be called again at the latest. `None` where nothing is pending.
    pub fn turn(&mut self, now: MachineTime, clock: &Clock) -> Option<MachineTime> {
        self.connect(now);
        self.hear_orders();
        let mut now = now;
        loop {
            if self.free > now || !self.do_one(now, clock) {
                self.publish(now);
                return self.wakes_at(now);
            }
            now = clock.now().max(now);
            self.hear_orders();
        }
    }

    /// Tells the supervisor what is on.
    fn publish(&mut self, now: MachineTime) {
        self.ended.retain(|(_, when)| now - *when <= UNCERTAIN);
        let mut contacts = self.owed.iter().chain(self.ended.iter().map(|(owed, _)| owed));
        self.closed.store(contacts.any(|owed| owed.debt.after.is_some()), Ordering::Relaxed);
        self.owes.store(self.owed.len(), Ordering::Relaxed);
    }

    fn wakes_at(&self, now: MachineTime) -> Option<MachineTime> {
        let busy = self.pays_all && !self.owed.is_empty() || self.silences.is_some();
        let waits = busy || !self.packets.is_empty();
        let due = self.owed.iter().filter_map(|owed| owed.due).min().map(|due| due.max(self.free));
        let able = self.out.is_some();
        let senses = self.senses().then(|| self.sense_at.max(self.free));
        [senses, waits.then_some(self.free.max(now)), due].into_iter().flatten().min().filter(|_| able)
    }

    fn connect(&mut self, now: MachineTime) {
        loop {
            let connection = match self.connections.try_recv() {
                Ok(connection) => connection,
                Err(why) => {
                    self.alone = why == TryRecvError::Disconnected;
                    return;
                }
            };
            match connection {
                Connection::Leave => {
                    self.pays_all = true;
                    self.leaves = true;
                }
                Connection::Open(out) => {
                    self.leaves = false;
                    let again = self.out.replace(out).is_some() || !self.owed.is_empty();
                    if crate::planted!(DebtForgottenWithPort) {
                        self.owed.clear();
                    }
                    // End what was left on before anything else leaves.
                    self.pays_all |= again;
                    self.silences = if again { Some(0) } else { self.silences };
                    self.say(Report::Ready);
                }
                Connection::Closed => self.lose(now),
                Connection::Serves(port) => {
                    if !self.with.shows.contains(&port) {
                        self.with.shows.push(port);
                        self.nanos_per_byte = self.nanos_per_byte.max(slowest(&self.with.plan, &[port]));
                        // What ends them was judged without the releases of the new port. End everything now, as if it had been
                        // ended just before the change.
                        self.pays_all = true;
                    }
                }
            }
        }
    }

    fn lose(&mut self, now: MachineTime) {
        if self.out.take().is_some() {
            self.lost.store(true, Ordering::Release);
            self.say(Report::Lost);
            while let Some((owed, when)) = self.ended.pop() {
                if now - when <= UNCERTAIN && !crate::planted!(EndedIntoNowhere) {
                    self.owe(owed.debt, owed.debt.after.map(|_| now));
                }
            }
        }
    }

    fn hear_orders(&mut self) {
        let epoch = self.with.orders.stops_all();
        if epoch != self.epoch {
            self.epoch = epoch;
            self.pays_all = true;
            self.silences = Some(0);
        }
        if self.packets.is_abandoned() && crate::planted!(DebtForgottenWithEngine) {
            self.owed.clear();
        }
        // If the sending thread has ended, end everything that is on.
        self.pays_all |= self.packets.is_abandoned();
    }

    /// Whether to send active sensing: a contact is closed, and a device that supports it will open the contact when the
    /// messages stop.
    fn senses(&self) -> bool {
        let is_closed = || self.owed.iter().any(|owed| owed.due.is_some());
        self.out.is_some() && is_closed() && may_sense(&self.with.plan, &self.with.shows)
    }

    /// Does the most urgent thing. Returns whether there was one.
    fn do_one(&mut self, now: MachineTime, clock: &Clock) -> bool {
        let payable = |(_, owed): &(usize, &Owed)| {
            self.pays_all || owed.due.is_some_and(|due| due <= now) && !crate::planted!(PulseNotEnded)
        };
        // Contacts come before notes, each in the order in which they were begun.
        let due = self.owed.iter().enumerate().filter(payable).min_by_key(|(_, owed)| owed.due.is_none());
        let due = due.map(|(at, _)| at);
        if let Some(at) = due.filter(|_| self.out.is_some()) {
            return self.pay(at, clock);
        }
        self.pays_all &= !self.owed.is_empty();
        if self.leaves && self.owed.is_empty() {
            self.leaves = false;
            // It is closed on purpose, so what was ended there has arrived.
            self.ended.clear();
            self.lose(now);
        }
        if let Some(step) = self.silences.filter(|_| self.out.is_some()) {
            return self.silence(step, clock);
        }
        if self.senses() && now >= self.sense_at {
            self.sense_at = now + SENSING;
            let _lost = self.hand_over(Payload::made(&[ACTIVE_SENSING]), clock);
            return true;
        }
        let Some(packet) = self.packets.pop().ok() else { return false };
        self.packet(packet, clock);
        true
    }

    /// Sends the end of something that is on. Returns whether the port accepted it. If not, it stays owed.
    fn pay(&mut self, at: usize, clock: &Clock) -> bool {
        let owed = self.owed[at];
        let handed = self.hand_over(Payload::Plan(owed.debt.bytes), clock);
        if let Ok(when) = handed {
            if let (Some(number), Some(keeper)) = (owed.number, &self.with.keeper) {
                keeper.paid(number);
            }
            // The list may have changed during the call of the driver, so find the entry again.
            self.owed.retain(|other| other.debt.begun != owed.debt.begun);
            if self.ended.len() < self.ended.capacity() {
                self.ended.push((owed, when));
            }
            self.say(Report::Ended { end: owed.debt.end, at: when, free: self.free });
        }
        handed.is_ok()
    }

    /// Sends the next silencing message, or skips it if it might fire a release. Returns whether the port accepted it or it was
    /// skipped.
    fn silence(&mut self, step: u8, clock: &Clock) -> bool {
        self.silences = (step + 1 < SILENCES).then_some(step + 1);
        let Some(bytes) = may_silence(&self.with.plan, &self.with.shows, step) else { return true };
        self.hand_over(Payload::made(&bytes), clock).is_ok()
    }

    fn packet(&mut self, packet: Packet, clock: &Clock) {
        let stopped = packet.epoch != self.with.orders.generation();
        let recalled = packet.recalls != self.recalls.load(Ordering::Acquire);
        let outdated = (stopped || recalled) && !crate::planted!(OldEpochSent);
        let now = clock.now();
        let result = match packet.task {
            Task::EndAll => {
                self.pays_all = true;
                Ok(now)
            }
            Task::End { begun } => {
                if let Some(at) = self.owed.iter().position(|owed| owed.debt.begun == begun) {
                    self.pay(at, clock);
                }
                Ok(now)
            }
            _ if outdated => Err(SendOutcome::Withdrawn),
            Task::Release { release, grip, .. } if !self.with.orders.is_held(release, grip) => Err(SendOutcome::Locked),
            Task::Release { not_after, .. } if now > not_after => Err(SendOutcome::TooLate),
            Task::Cue { owes, .. } | Task::Release { owes, .. } => self.begin(packet.payload, owes, clock),
            Task::Sync => self.hand_over(packet.payload, clock),
        };
        self.say(Report::Done { packet, result, free: self.free });
    }

    /// Hands over a message that may begin something. Its end is owed before the driver is called, because even a message that
    /// failed may have left.
    fn begin(&mut self, payload: Payload, owes: Option<Debt>, clock: &Clock) -> Result<MachineTime, SendOutcome> {
        if let Some(debt) = owes.filter(|_| self.out.is_some()) {
            self.owe(debt, debt.after.map(|after| clock.now() + after));
        }
        self.hand_over(payload, clock)
    }

    /// Something is on, or may be on, and must be ended.
    fn owe(&mut self, debt: Debt, due: Option<MachineTime>) {
        self.owed.retain(|owed| owed.debt.begun != debt.begun);
        self.ended.retain(|(owed, _)| owed.debt.begun != debt.begun);
        let number = debt.after.and_then(|_| self.tell_keeper(&debt));
        self.owed.push(Owed { debt, number, due });
    }

    /// Reports to the keeper a contact that is about to be closed. Returns its number at the keeper.
    fn tell_keeper(&mut self, debt: &Debt) -> Option<u64> {
        let keeper = self.with.keeper.as_ref()?;
        self.told += 1;
        // The port is part of the number, so that two ports never use the same one.
        let number = u64::from(self.with.physical.0) << 32 | self.told;
        keeper.owes(number, &self.with.name, self.with.plan.bytes(debt.bytes));
        Some(number)
    }

    /// Hands bytes to the driver. A driver that fails is given up. Returns when it was asked.
    fn hand_over(&mut self, payload: Payload, clock: &Clock) -> Result<MachineTime, SendOutcome> {
        let out = self.out.as_mut().ok_or(SendOutcome::NoPort)?;
        let bytes = payload.bytes(&self.with.plan);
        let began = clock.now();
        // A panic in the driver must not end this thread.
        let taken = if crate::planted!(PanicNotCaught) {
            Ok(out.send(bytes))
        } else {
            catch_unwind(AssertUnwindSafe(|| out.send(bytes)))
        };
        let length = self.nanos_per_byte.saturating_mul(i64::try_from(bytes.len()).unwrap_or(0)) / 1000;
        self.free = if crate::planted!(NoPacing) { began } else { began + MachineSpan::from_micros(length) };
        if let Ok(Ok(())) = taken {
            Ok(began)
        } else {
            self.lose(began);
            Err(SendOutcome::NoPort)
        }
    }

    fn say(&mut self, report: Report) {
        // The gate reads all reports at every turn, so the queue fills up only if nobody reads it any more.
        let _heard = self.reports.push(report);
    }
}

/// How many nanoseconds a byte takes on the slowest link that is declared for some ports of the show.
fn slowest(plan: &RunPlan, ports: &[ShowPort]) -> i64 {
    ports.iter().filter_map(|port| plan.nanos_per_byte.get(port.index())).copied().max().unwrap_or(0)
}

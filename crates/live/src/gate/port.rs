//! One machine port, as the gate sees it: whether it is there, what waits for it, and the way to its thread.

use super::packet::{Debt, Packet, Report, Task};
use crate::units::{ItemIndex, MachineSpan, MachineTime, PhysicalPort};
use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread::Thread;

/// Messages that may wait for one port. What comes beyond is refused and told.
pub(super) const WAITING: usize = 2048;
/// A packet that a port's thread has had for so long is stuck in the driver. Our own figure.
const STUCK: MachineSpan = MachineSpan::from_millis(150);

/// The way to the thread of a machine port.
pub struct PortLink {
    /// Packets to it.
    pub packets: rtrb::Producer<Packet>,
    /// What it says.
    pub reports: rtrb::Consumer<Report>,
    /// The thread, to be woken. `None` where something else turns it, as a test does.
    pub thread: Option<Thread>,
    /// How often what was handed over has been recalled.
    pub recalls: Arc<AtomicU64>,
    /// Nanoseconds for one byte on its wire: by the slowest link that is declared for it.
    pub nanos_per_byte: i64,
    /// It is a port that we opened ourselves: no release leaves by it, since nobody can tell whether anything listens.
    pub own: bool,
    /// Which interface it belongs to; ports of one interface are paced together.
    pub interface: u16,
}

impl fmt::Debug for PortLink {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("PortLink").field("interface", &self.interface).finish_non_exhaustive()
    }
}

/// Whether a port can be sent to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum PortState {
    /// It is being opened: what is sent waits.
    Opening,
    /// It can.
    There,
    /// It cannot.
    Gone,
}

#[derive(Debug)]
pub(super) struct GatePort {
    pub state: PortState,
    pub link: PortLink,
    /// A release of this port may leave now: what takes long on its wire would stand before it.
    pub may_release: bool,
    /// Contacts that its thread will open, and when: their wire is kept free.
    pub owed: Vec<(ItemIndex, MachineTime)>,
    slots: Vec<Option<Packet>>,
    empty: Vec<u32>,
    /// Packets that the thread has and has not reported on, and since when it has the oldest.
    given: u32,
    since: MachineTime,
    stuck: bool,
}

impl GatePort {
    pub fn new(link: PortLink) -> GatePort {
        let slots = u32::try_from(WAITING).unwrap_or(u32::MAX);
        GatePort {
            state: PortState::Opening,
            link,
            may_release: false,
            owed: Vec::with_capacity(64),
            slots: vec![None; WAITING],
            empty: (0..slots).rev().collect(),
            given: 0,
            since: MachineTime::MIN,
            stuck: false,
        }
    }

    /// A number that no port has yet.
    pub fn absent() -> GatePort {
        let (packets, _) = rtrb::RingBuffer::new(1);
        let (_, reports) = rtrb::RingBuffer::new(1);
        let link = PortLink {
            packets,
            reports,
            thread: None,
            recalls: Arc::default(),
            nanos_per_byte: 0,
            own: false,
            interface: 0,
        };
        GatePort {
            state: PortState::Gone,
            link,
            may_release: false,
            owed: Vec::new(),
            slots: Vec::new(),
            empty: Vec::new(),
            given: 0,
            since: MachineTime::MIN,
            stuck: false,
        }
    }

    /// Whether its driver has not come back from a message for long.
    pub const fn is_stuck(&self) -> bool {
        self.stuck
    }

    /// Looks whether it is stuck; gives whether that changed.
    pub fn look_whether_stuck(&mut self, now: MachineTime) -> bool {
        let before = self.stuck;
        self.stuck = self.given > 0 && now - self.since > STUCK;
        self.stuck != before
    }

    /// How often what was handed over has been recalled.
    pub fn recalls(&self) -> u64 {
        self.link.recalls.load(Ordering::Relaxed)
    }

    /// What was handed over and has not left does not leave any more.
    pub fn recall(&self) {
        self.link.recalls.fetch_add(1, Ordering::AcqRel);
    }

    /// Keeps a packet until its turn; gives its slot.
    pub fn keep(&mut self, packet: Packet) -> Option<u32> {
        let slot = self.empty.pop()?;
        self.slots[slot as usize] = Some(packet);
        Some(slot)
    }

    pub fn slots(&self) -> u32 {
        u32::try_from(self.slots.len()).unwrap_or(u32::MAX)
    }

    pub fn peek(&self, slot: u32) -> Option<&Packet> {
        self.slots.get(slot as usize)?.as_ref()
    }

    pub fn take(&mut self, slot: u32) -> Option<Packet> {
        let packet = self.slots.get_mut(slot as usize)?.take()?;
        self.empty.push(slot);
        Some(packet)
    }

    /// Hands a packet to the thread; gives it back where the thread takes no more.
    pub fn give(&mut self, packet: Packet, now: MachineTime) -> Result<(), Packet> {
        self.link.packets.push(packet).map_err(|rtrb::PushError::Full(packet)| packet)?;
        if self.given == 0 {
            self.since = now;
        }
        self.given += 1;
        if let Some(thread) = &self.link.thread {
            thread.unpark();
        }
        Ok(())
    }

    /// The next thing that the thread said.
    pub fn hear(&mut self) -> Option<Report> {
        self.link.reports.pop().ok()
    }

    /// The thread is done with a packet, which the driver took at a time or never.
    pub fn done(&mut self, packet: &Packet, taken: Option<MachineTime>) {
        self.given = self.given.saturating_sub(1);
        self.since = taken.unwrap_or(self.since).max(self.since);
        if let Task::Release { owes: Some(Debt { end, after: Some(after), .. }), .. } = packet.task
            && let Some(at) = taken
            && self.owed.len() < self.owed.capacity()
        {
            self.owed.push((end, at + after));
        }
    }
}

const SLOT_BITS: u32 = 12;

/// One number for a port and a slot of it.
pub(super) fn number(port: PhysicalPort, slot: u32) -> u32 {
    u32::from(port.0) << SLOT_BITS | slot
}

/// The port and the slot of a number.
pub(super) fn port_and_slot(number: u32) -> (PhysicalPort, u32) {
    (PhysicalPort::at((number >> SLOT_BITS) as usize), number & ((1 << SLOT_BITS) - 1))
}

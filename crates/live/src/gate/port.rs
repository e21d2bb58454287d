//! One machine port, as the gate sees it: its state, its waiting messages, and the link to its thread.

use super::packet::{Debt, Packet, Report, Task};
use crate::units::{ItemIndex, MachineSpan, MachineTime, PhysicalPort};
use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread::Thread;

/// How many messages may wait for one port. Further ones are refused, and the refusal is reported.
pub(super) const WAITING: usize = 2048;
/// When a port's thread has had a packet for longer than this, it counts as stuck in the driver. Our own figure.
const STUCK: MachineSpan = MachineSpan::from_millis(150);

/// The link to the thread of a machine port.
pub struct PortLink {
    /// Packets to it.
    pub packets: rtrb::Producer<Packet>,
    /// Reports from it.
    pub reports: rtrb::Consumer<Report>,
    /// The thread, so that it can be woken. `None` where something else drives the worker, such as a test.
    pub thread: Option<Thread>,
    /// How many times packets that were handed over have been recalled.
    pub recalls: Arc<AtomicU64>,
    /// How many nanoseconds one byte takes on its wire, by the slowest link that is declared for it.
    pub nanos_per_byte: i64,
    /// Whether it is a virtual port of ours. No release is sent to it, because we cannot tell whether anything listens.
    pub own: bool,
    /// Which interface it belongs to. Ports of one interface are paced together.
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
    /// It is being opened, and messages wait for it.
    Opening,
    /// It can be sent to.
    There,
    /// It cannot be sent to.
    Gone,
}

#[derive(Debug)]
pub(super) struct GatePort {
    pub state: PortState,
    pub link: PortLink,
    /// Whether a release may leave by this port now. Long messages are refused then, because they would delay it.
    pub may_release: bool,
    /// Contacts that its thread will open, and when. The wire is kept free for them.
    pub owed: Vec<(ItemIndex, MachineTime)>,
    slots: Vec<Option<Packet>>,
    empty: Vec<u32>,
    /// How many packets the thread has not reported on yet, and since when it has been busy with the oldest.
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

    /// A placeholder for a number that has no port yet.
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

    /// Whether its driver has been blocked by a message for too long.
    pub const fn is_stuck(&self) -> bool {
        self.stuck
    }

    /// Checks whether it is stuck. Returns whether that changed.
    pub fn look_whether_stuck(&mut self, now: MachineTime) -> bool {
        let before = self.stuck;
        self.stuck = self.given > 0 && now - self.since > STUCK;
        self.stuck != before
    }

    /// How many times packets that were handed over have been recalled.
    pub fn recalls(&self) -> u64 {
        self.link.recalls.load(Ordering::Relaxed)
    }

    /// Recalls packets that were handed over and have not left yet.
    pub fn recall(&self) {
        self.link.recalls.fetch_add(1, Ordering::AcqRel);
    }

    /// Keeps a packet until its turn. Returns its slot, or `None` if there is no room.
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

    /// Hands a packet to the thread. Returns the packet if the thread's queue is full.
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

    /// The thread's next report.
    pub fn hear(&mut self) -> Option<Report> {
        self.link.reports.pop().ok()
    }

    /// The thread has handled a packet. `taken` is when the driver accepted it, if it did.
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

/// Packs a port and one of its slots into one number.
pub(super) fn number(port: PhysicalPort, slot: u32) -> u32 {
    u32::from(port.0) << SLOT_BITS | slot
}

/// Unpacks the port and the slot from a number.
pub(super) fn port_and_slot(number: u32) -> (PhysicalPort, u32) {
    (PhysicalPort::at((number >> SLOT_BITS) as usize), number & ((1 << SLOT_BITS) - 1))
}

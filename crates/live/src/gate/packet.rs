//! What the gate hands to a port's thread, and what that thread reports back.

use crate::event::SendOutcome;
use crate::orders::Grip;
use crate::run_plan::{ByteRange, RunPlan};
use crate::units::{HolderId, ItemIndex, MachineSpan, MachineTime, ReleaseIndex};

/// The bytes of a message: either a range of the plan's bytes, or a few that are made during the run, such as timecode.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Payload {
    /// Bytes of the plan.
    Plan(ByteRange),
    /// Made during the run. The longest is a full frame of timecode, with ten bytes.
    Made {
        /// The bytes, padded.
        bytes: [u8; 12],
        /// How many of them are used.
        length: u8,
    },
}

impl Payload {
    /// A payload of a few bytes. Bytes after the twelfth are cut off, but no message made during a run is that long.
    pub fn made(from: &[u8]) -> Payload {
        let mut bytes = [0; 12];
        let length = from.len().min(bytes.len());
        bytes[..length].copy_from_slice(&from[..length]);
        Payload::Made { bytes, length: u8::try_from(length).unwrap_or(0) }
    }

    /// Its bytes.
    pub fn bytes<'a>(&'a self, plan: &'a RunPlan) -> &'a [u8] {
        match self {
            Payload::Plan(range) => plan.bytes(*range),
            Payload::Made { bytes, length } => bytes.get(..usize::from(*length)).unwrap_or_default(),
        }
    }
}

/// Something that is on and must be ended: a note, or a release's contact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Debt {
    /// The message that began it.
    pub begun: ItemIndex,
    /// The message that ends it.
    pub end: ItemIndex,
    /// The bytes that end it.
    pub bytes: ByteRange,
    /// How long after its beginning the port's thread ends it by itself. `None` waits for [`Task::End`].
    pub after: Option<MachineSpan>,
}

/// What a packet is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Task {
    /// A message of the plan.
    Cue {
        /// Which.
        item: ItemIndex,
        /// What to report when it was sent.
        outcome: SendOutcome,
        /// What it begins.
        owes: Option<Debt>,
    },
    /// A release that somebody holds open.
    Release {
        /// Its message.
        item: ItemIndex,
        /// Which.
        release: ReleaseIndex,
        /// Who holds it open.
        holder: HolderId,
        /// The press by which it is held.
        grip: Grip,
        /// It must not leave later than this.
        not_after: MachineTime,
        /// What it begins.
        owes: Option<Debt>,
    },
    /// Ends what a message began, if that is still on.
    End {
        /// The message that began it.
        begun: ItemIndex,
    },
    /// Ends everything that is on, on this port.
    EndAll,
    /// Timecode, clock, song position, start and stop. These soon go out of date.
    Sync,
}

impl Task {
    /// Whether it only ends what was begun.
    pub const fn ends(&self) -> bool {
        matches!(self, Task::End { .. } | Task::EndAll)
    }

    /// What it begins and must be ended.
    pub const fn owes(&self) -> Option<Debt> {
        match self {
            Task::Cue { owes, .. } | Task::Release { owes, .. } => *owes,
            Task::End { .. } | Task::EndAll | Task::Sync => None,
        }
    }
}

/// A packet for a port's thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Packet {
    /// What it is for.
    pub task: Task,
    /// Its bytes. Not used for [`Task::End`] and [`Task::EndAll`].
    pub payload: Payload,
    /// When it was due.
    pub due: MachineTime,
    /// How many stops had been ordered when it was made. If more have been ordered since, it is not sent.
    pub epoch: u64,
    /// How many times its port's packets had been recalled when it was made.
    pub recalls: u64,
}

/// What a port's thread reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Report {
    /// A packet has been handled.
    Done {
        /// The packet.
        packet: Packet,
        /// What became of it. `Ok` gives the time at which the driver accepted it.
        result: Result<MachineTime, SendOutcome>,
        /// When the wire is free again.
        free: MachineTime,
    },
    /// A note or contact was ended.
    Ended {
        /// The message that ends it.
        end: ItemIndex,
        /// When.
        at: MachineTime,
        /// When the wire is free again.
        free: MachineTime,
    },
    /// The port is open. It sends what it still owes before anything else.
    Ready,
    /// The port failed, or was closed.
    Lost,
}

//! What the gate hands to a port's thread, and what that thread says of it.

use crate::event::SendOutcome;
use crate::orders::Grip;
use crate::run_plan::ByteRange;
use crate::units::{HolderId, ItemIndex, MachineSpan, MachineTime, ReleaseIndex};

/// The bytes of a message: some of the plan's, or a few that are made while the run goes on, such as timecode.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Payload {
    /// Bytes of the plan.
    Plan(ByteRange),
    /// Made now: the longest is a full frame of timecode, ten bytes.
    Made {
        /// The bytes, and room after them.
        bytes: [u8; 12],
        /// How many count.
        length: u8,
    },
}

impl Payload {
    /// A few bytes. Those beyond twelve are left out; nothing that is made here is so long.
    pub fn made(from: &[u8]) -> Payload {
        let mut bytes = [0; 12];
        let length = from.len().min(bytes.len());
        bytes[..length].copy_from_slice(&from[..length]);
        Payload::Made { bytes, length: u8::try_from(length).unwrap_or(0) }
    }
}

/// Something that was begun and must be ended: a note, or a release's contact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Debt {
    /// The message that began it.
    pub begun: ItemIndex,
    /// The message that ends it.
    pub end: ItemIndex,
    /// The bytes that end it.
    pub bytes: ByteRange,
    /// So much after its beginning the port's thread ends it of its own accord. `None` waits for [`Task::End`].
    pub after: Option<MachineSpan>,
}

/// What a packet is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Task {
    /// A message of the plan.
    Cue {
        /// Which.
        item: ItemIndex,
        /// What to say when it was sent.
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
        /// The press of the hand.
        grip: Grip,
        /// Later than this it must not leave.
        not_after: MachineTime,
        /// What it begins.
        owes: Option<Debt>,
    },
    /// Ends what a message began, if it was begun.
    End {
        /// The message that began it.
        begun: ItemIndex,
    },
    /// Ends everything that was begun on the port.
    EndAll,
    /// Timecode, clock, song position, start and stop. Out of date a little later.
    Sync,
}

/// A packet for a port's thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Packet {
    /// What it is for.
    pub task: Task,
    /// Its bytes; of no matter for [`Task::End`] and [`Task::EndAll`].
    pub payload: Payload,
    /// When it was due.
    pub due: MachineTime,
    /// The number of stops that had been ordered when it was made: under a higher one it is not sent.
    pub epoch: u64,
    /// How often its port's packets had been recalled when it was made.
    pub recalls: u64,
}

/// What a port's thread says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Report {
    /// A packet is done with.
    Done {
        /// The packet.
        packet: Packet,
        /// What became of it; `Ok` says that the driver took it at this time.
        result: Result<MachineTime, SendOutcome>,
        /// When the wire is free again.
        free: MachineTime,
    },
    /// Something that was begun was ended.
    Ended {
        /// The message that ends it.
        end: ItemIndex,
        /// When.
        at: MachineTime,
        /// When the wire is free again.
        free: MachineTime,
    },
    /// The port is open and whatever it owed is paid.
    Ready,
    /// The port failed, or was closed.
    Lost,
}

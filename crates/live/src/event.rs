//! What the engine says of what it did.

use crate::interlock::DisarmReason;
use crate::units::{HolderId, ItemIndex, MachineTime, ReleaseIndex, ShowPort};
use letfall_core::time::SongTime;

/// What became of a message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SendOutcome {
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
    /// It was not sent: it might fire a release.
    WouldRelease,
    /// It was not sent: it was sent before in this run.
    Twice,
    /// It was not sent: the run stopped or went elsewhere before its turn on the wire came.
    Withdrawn,
    /// It was not sent: its port takes nothing at the moment.
    PortStuck,
    /// It was not sent: it takes over 5 ms on the wire of a release that may leave, or whose contact is closed.
    TooLong,
}

impl SendOutcome {
    /// Its word in the log. Stable, for scripts and old logs.
    pub const fn word(self) -> &'static str {
        match self {
            SendOutcome::Sent => "sent",
            SendOutcome::StandIn => "stand-in",
            SendOutcome::Chased => "chased",
            SendOutcome::Locked => "locked",
            SendOutcome::TooLate => "too-late",
            SendOutcome::NoPort => "no-port",
            SendOutcome::JumpedOver => "jumped-over",
            SendOutcome::Rehearsed => "rehearsed",
            SendOutcome::WouldRelease => "would-release",
            SendOutcome::Twice => "twice",
            SendOutcome::Withdrawn => "withdrawn",
            SendOutcome::PortStuck => "port-stuck",
            SendOutcome::TooLong => "too-long",
        }
    }
}

/// What the engine tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Event {
    /// A message was sent, or not.
    Message {
        /// Which.
        item: ItemIndex,
        /// What became of it.
        outcome: SendOutcome,
        /// When it was due.
        due: MachineTime,
        /// When that came.
        at: MachineTime,
        /// Who held the release open.
        holder: Option<HolderId>,
    },
    /// It runs from a song time.
    Started {
        /// Where.
        song: SongTime,
        /// When.
        at: MachineTime,
    },
    /// It stands.
    Stopped {
        /// Where.
        song: SongTime,
        /// When.
        at: MachineTime,
    },
    /// A person began to hold.
    Opening {
        /// Which release.
        release: ReleaseIndex,
        /// Who.
        holder: HolderId,
        /// When.
        at: MachineTime,
    },
    /// A release is armed.
    Armed {
        /// Which.
        release: ReleaseIndex,
        /// Who.
        holder: HolderId,
        /// When.
        at: MachineTime,
    },
    /// A lock closed.
    Disarmed {
        /// Which release.
        release: ReleaseIndex,
        /// Why.
        why: DisarmReason,
        /// When.
        at: MachineTime,
    },
    /// A person asked to try a release once more. It gets a window of its own.
    SecondTry {
        /// Which.
        release: ReleaseIndex,
        /// When.
        at: MachineTime,
    },
    /// A port failed while it was sent to, or is gone.
    PortLost {
        /// Which.
        port: ShowPort,
        /// When.
        at: MachineTime,
    },
}

/// Who hears events.
pub type EventSink<'a> = &'a mut dyn FnMut(Event);

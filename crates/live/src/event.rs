//! What the engine reports about what it did.

use crate::bend::{Answer, Bend, Part};
use crate::interlock::DisarmReason;
use crate::units::{HolderId, ItemIndex, MachineTime, ReleaseIndex, ShowPort};
use letfall_core::time::SongTime;

/// What became of a message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SendOutcome {
    /// It was sent. Whether anything moved is not known.
    Sent,
    /// A stand-in was sent in its place.
    StandIn,
    /// It was sent to bring its row to the state that is planned for this place.
    Chased,
    /// It was not sent: nobody held the release.
    Locked,
    /// It was not sent: it would have been too late.
    TooLate,
    /// It was not sent: its port is not connected.
    NoPort,
    /// It was not sent: the run jumped past it.
    JumpedOver,
    /// It was not sent: this is a rehearsal and there is no stand-in.
    Rehearsed,
    /// It was not sent: it might fire a release.
    WouldRelease,
    /// It was not sent: it was already sent in this run.
    Twice,
    /// It was not sent: the run stopped or moved elsewhere while it waited for the wire.
    Withdrawn,
    /// It was not sent: it depends on a release that took another course.
    OtherCourse,
    /// It was not sent: its port accepts nothing at the moment.
    PortStuck,
    /// It was not sent: it takes over 5 ms, on a port where a release may leave or a release's contact is closed.
    TooLong,
}

impl SendOutcome {
    /// Its word in the log. These words must not change, because scripts and old logs use them.
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
            SendOutcome::OtherCourse => "other-course",
            SendOutcome::PortStuck => "port-stuck",
            SendOutcome::TooLong => "too-long",
        }
    }
}

/// What is known of a release in a run. "Sent" means no more than that: whether a fabric fell, only people see.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Fate {
    /// Nothing is settled yet.
    #[default]
    Open,
    /// Its message was given to its port; whether it left is not known yet.
    Given,
    /// Its message left, or a person saw that the fabric is down.
    Gone,
    /// It is not sent: the fabric stays.
    Stays,
    /// It was sent, and a person saw that the fabric is stuck.
    Stuck(Part),
    /// A person saw that the fabric fell before its time.
    Early,
}

/// Something that the engine reports.
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
        /// When it was sent or refused.
        at: MachineTime,
        /// Who held the release.
        holder: Option<HolderId>,
    },
    /// The run started or continued from a song time.
    Started {
        /// Where.
        song: SongTime,
        /// When.
        at: MachineTime,
    },
    /// The run stopped.
    Stopped {
        /// Where.
        song: SongTime,
        /// When.
        at: MachineTime,
    },
    /// A person began to hold a release.
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
    /// A person asked for a second try of a release. It gets its own window.
    SecondTry {
        /// Which.
        release: ReleaseIndex,
        /// When.
        at: MachineTime,
    },
    /// A person chose a bend.
    Bent {
        /// Which.
        bend: Bend,
        /// Who.
        by: HolderId,
        /// What came of it.
        answer: Answer,
        /// When.
        at: MachineTime,
    },
    /// A release took another course than falling when planned, or is open again.
    Fate {
        /// Which.
        release: ReleaseIndex,
        /// What is known of it now.
        fate: Fate,
        /// Whether something that depends on it had left by then.
        late: bool,
        /// When.
        at: MachineTime,
    },
    /// The song stands at a place until somebody goes on.
    Waits {
        /// Where.
        song: SongTime,
        /// When it came there.
        at: MachineTime,
    },
    /// The song goes on after a wait.
    GoesOn {
        /// Where.
        song: SongTime,
        /// When it moves on from there.
        at: MachineTime,
    },
    /// The song came to the end of a vamp and goes round, or went on elsewhere by a bend.
    Turned {
        /// Where it was.
        from: SongTime,
        /// Where it is.
        to: SongTime,
        /// Which round of a vamp begins. `None` if it left one, or by a cut.
        round: Option<u32>,
        /// How often the song has left the straight line by now.
        turns: u32,
        /// When.
        at: MachineTime,
    },
    /// A group of cues was sent by hand.
    Group {
        /// Its number in the plan, from 0.
        group: u32,
        /// When.
        at: MachineTime,
    },
    /// A port was lost, or failed while we sent to it.
    PortLost {
        /// Which.
        port: ShowPort,
        /// When.
        at: MachineTime,
    },
}

/// Receives the events.
pub type EventSink<'a> = &'a mut dyn FnMut(Event);

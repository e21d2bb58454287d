//! What the engine is told to do.

use crate::orders::Grip;
use crate::units::{HolderId, MachineTime, ReleaseIndex};
use letfall_core::time::SongTime;

/// Whether releases may leave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Mode {
    /// Stand-ins are sent in the place of releases, and no release ever.
    #[default]
    Rehearse,
    /// Releases are sent while somebody holds them open.
    Perform,
}

/// What the engine is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Command {
    /// Runs from a song time, which is at a time of the machine's clock.
    Start {
        /// Where.
        song: SongTime,
        /// When.
        at: MachineTime,
        /// What should hold there is sent first.
        chase: bool,
    },
    /// Stops. What was begun and has an end, ends.
    Stop,
    /// Stands elsewhere; stops.
    Locate {
        /// Where.
        song: SongTime,
    },
    /// Another's clock runs from here: obeyed unless stop-all was ordered since a person last started the run.
    FollowStart {
        /// Where.
        song: SongTime,
        /// When.
        at: MachineTime,
    },
    /// The place by another's clock, while running.
    Follow {
        /// Where.
        song: SongTime,
        /// When.
        at: MachineTime,
    },
    /// Plays a stretch again and again; `None` ends it.
    Loop(Option<(SongTime, SongTime)>),
    /// A person holds a release, or goes on holding it. Letting go is an order, not a command: see [`crate::Orders`].
    Hold {
        /// Which.
        release: ReleaseIndex,
        /// Who.
        holder: HolderId,
        /// By which press of the hand.
        grip: Grip,
        /// When the screen saw the hand: a command that comes late says nothing of the hand now.
        at: MachineTime,
    },
    /// A person asks to try a release once more that has left: it gets a window of its own, and leaves after a hold of a second.
    SecondTry {
        /// Which.
        release: ReleaseIndex,
    },
    /// Changes between rehearsing and performing; stops.
    Mode(Mode),
    /// A new run: releases that were sent can be armed again; stops.
    NewRun,
    /// The machine slept, or its clock jumped.
    Slept,
}

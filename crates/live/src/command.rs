//! Commands to the engine.

use crate::bend::{BandPlace, Bend};
use crate::orders::Grip;
use crate::units::{HolderId, MachineTime, ReleaseIndex};
use letfall_core::time::SongTime;

/// Whether releases may leave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Mode {
    /// Stand-ins are sent instead of releases. No release is ever sent.
    #[default]
    Rehearse,
    /// A release is sent if somebody holds it when it is due.
    Perform,
}

/// A command to the engine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Command {
    /// Runs from a song time. `at` is when the song is there, by the machine's clock.
    Start {
        /// Where.
        song: SongTime,
        /// When.
        at: MachineTime,
        /// Whether to send first what should already be in effect at that place.
        chase: bool,
    },
    /// Stops. Notes and contacts that are still on are ended.
    Stop,
    /// Stops and moves to another place.
    Locate {
        /// Where.
        song: SongTime,
    },
    /// An external clock runs from here. Ignored if stop-all was ordered since a person last started the run.
    FollowStart {
        /// Where.
        song: SongTime,
        /// When.
        at: MachineTime,
    },
    /// The place that an external clock gives while the run goes on.
    Follow {
        /// Where.
        song: SongTime,
        /// When.
        at: MachineTime,
    },
    /// The place of the guide that Letfall itself plays, as its sound device tells. Small differences are followed; a large one is a guide
    /// that has not heard of a bend yet, and counts for nothing.
    Heard {
        /// Where.
        song: SongTime,
        /// When.
        at: MachineTime,
    },
    /// Loops a part of the song. `None` ends the loop.
    Loop(Option<(SongTime, SongTime)>),
    /// A person holds a release, or still holds it. Letting go is an order, not a command: see [`crate::Orders`].
    Hold {
        /// Which.
        release: ReleaseIndex,
        /// Who.
        holder: HolderId,
        /// Which press it belongs to.
        grip: Grip,
        /// When the screen saw the press. A command that arrives late says nothing about whether the release is held now.
        at: MachineTime,
    },
    /// A person asks for a second try of a release that was sent. It gets its own window and is sent after a one-second hold.
    SecondTry {
        /// Which.
        release: ReleaseIndex,
    },
    /// A person bends the run.
    Bend {
        /// How.
        bend: Bend,
        /// Who.
        by: HolderId,
    },
    /// Where a band is that leads the time. `None` while nobody has said where it is: then the song goes on as planned, and no release leaves.
    Band(Option<BandPlace>),
    /// No band leads any more: the song goes on from where it is, as planned.
    BandEnds,
    /// Stops, and changes between rehearsing and performing.
    Mode(Mode),
    /// Stops, and begins a new run in which releases that were sent can be armed again.
    NewRun,
    /// The machine slept, or its clock jumped.
    Slept,
}

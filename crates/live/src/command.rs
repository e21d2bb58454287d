//! What the engine is told to do.

use crate::units::{HolderId, MachineTime, PhysicalPort, ReleaseIndex, ShowPort};
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
    /// The place by another's clock, while running.
    Follow {
        /// Where.
        song: SongTime,
        /// When.
        at: MachineTime,
    },
    /// Plays a stretch again and again; `None` ends it.
    Loop(Option<(SongTime, SongTime)>),
    /// A person holds a release, or goes on holding it.
    Hold {
        /// Which.
        release: ReleaseIndex,
        /// Who.
        holder: HolderId,
    },
    /// A person let go.
    LetGo {
        /// Which.
        release: ReleaseIndex,
    },
    /// Changes between rehearsing and performing; stops.
    Mode(Mode),
    /// A new run: releases that were sent can be armed again; stops.
    NewRun,
    /// A port was lost, or is back.
    Port {
        /// Which.
        port: ShowPort,
        /// Whether it is there.
        there: bool,
    },
    /// Which of the machine's ports a port of the show leaves by.
    Assign {
        /// Which.
        port: ShowPort,
        /// The machine's; `None` is not known, and then it is one by itself.
        physical: Option<PhysicalPort>,
    },
    /// The machine slept, or its clock jumped.
    Slept,
    /// Everything stops, all notes end, every lock closes.
    StopAll,
}

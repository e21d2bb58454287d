//! Faults that are planted on purpose, to prove that the simulation's witness can see them. None is in a product: without the
//! feature `planted` every question here is answered "no" by the compiler.

/// A fault that can be planted. Each reverts one promise of the engine, the gate or the threads; its property is named beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Planted {
    /// P1: the guard compares whole rows, so that a row which contains the release's message passes.
    WholeRowsOnly,
    /// P1: what is sent as what should hold is not guarded.
    ChaseUnguarded,
    /// P1: a loop lets a release leave again.
    LoopRenews,
    /// P1: half a hold arms.
    HalfAHold,
    /// P1: the window does not count.
    NoWindow,
    /// P2: timecode and clock go to a release's port unasked.
    SyncOnReleasePort,
    /// P2: a box is trusted to its channel though nobody tried it.
    EveryBoxKeepsItsChannel,
    /// P3: one press of a hand arms one release after another.
    OneGripForAll,
    /// P3: a release is not compared with the other releases of its port.
    OneMessageTwoReleases,
    /// P4: the wire is not kept free before a release.
    WireNotKeptFree,
    /// P4: messages are handed over as fast as they come.
    NoPacing,
    /// P5: letting go is not heard.
    LetGoUnheard,
    /// P6: what was begun is forgotten when a run stops.
    DebtForgottenAtStop,
    /// P6: what was begun is forgotten when a port is lost.
    DebtForgottenWithPort,
    /// P6: what was begun is forgotten when the sending thread breaks.
    DebtForgottenWithEngine,
    /// P6: the pulse is not ended of its own accord.
    PulseNotEnded,
    /// P7: what was handed over before stop-all is sent after it.
    OldEpochSent,
    /// P7: a start that was given before stop-all runs after it.
    OldStartRuns,
    /// P7: stop-all silences the channel of a power-held release too.
    SilenceReleases,
    /// P8: what is due before a port is open is dropped.
    OpeningPortDrops,
    /// P8: after a loop nothing is put right.
    NoChaseAfterLoop,
    /// P9: a driver that panics takes its thread with it.
    PanicNotCaught,
    /// P11: a clock that returns after stop-all starts the run again.
    ClockRestarts,
    /// P12: a port is taken by the beginning of its name.
    PortByPrefix,
    /// P13: stop waits in the queue with everything else.
    StopInQueue,
    /// P15: a loop may be as short as anybody likes.
    AnyLoop,
}

impl Planted {
    /// All of them, with the number of the property that each breaks.
    pub const ALL: &'static [(Planted, u8)] = &[
        (Planted::WholeRowsOnly, 1),
        (Planted::ChaseUnguarded, 1),
        (Planted::LoopRenews, 1),
        (Planted::HalfAHold, 1),
        (Planted::NoWindow, 1),
        (Planted::SyncOnReleasePort, 2),
        (Planted::EveryBoxKeepsItsChannel, 2),
        (Planted::OneGripForAll, 3),
        (Planted::OneMessageTwoReleases, 3),
        (Planted::WireNotKeptFree, 4),
        (Planted::NoPacing, 4),
        (Planted::LetGoUnheard, 5),
        (Planted::DebtForgottenAtStop, 6),
        (Planted::DebtForgottenWithPort, 6),
        (Planted::DebtForgottenWithEngine, 6),
        (Planted::PulseNotEnded, 6),
        (Planted::OldEpochSent, 7),
        (Planted::OldStartRuns, 7),
        (Planted::SilenceReleases, 7),
        (Planted::OpeningPortDrops, 8),
        (Planted::NoChaseAfterLoop, 8),
        (Planted::PanicNotCaught, 9),
        (Planted::ClockRestarts, 11),
        (Planted::PortByPrefix, 12),
        (Planted::StopInQueue, 13),
        (Planted::AnyLoop, 15),
    ];
}

#[cfg(feature = "planted")]
mod choice {
    use super::Planted;
    use std::cell::Cell;

    thread_local!(static CHOSEN: Cell<Option<Planted>> = const { Cell::new(None) });

    /// Plants one fault in this thread, or none.
    pub fn plant(fault: Option<Planted>) {
        CHOSEN.set(fault);
    }

    /// Whether a fault is planted in this thread.
    pub fn is_planted(fault: Planted) -> bool {
        CHOSEN.get() == Some(fault)
    }
}

#[cfg(feature = "planted")]
pub use choice::{is_planted, plant};

/// Whether a fault is planted. Never, in a product.
#[cfg(not(feature = "planted"))]
pub const fn is_planted(_: Planted) -> bool {
    false
}

/// Whether a fault is planted, by its name.
#[macro_export]
#[doc(hidden)]
macro_rules! planted {
    ($fault:ident) => {
        $crate::planted::is_planted($crate::planted::Planted::$fault)
    };
}

//! Faults that are planted on purpose, to prove that the simulation's witness can see them. None is in a product: without the
//! feature `planted` every question here is answered "no" by the compiler.

/// A fault that can be planted. Each reverts one promise of the engine, the gate or the threads; its property is named beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Planted {
    /// P1: the guard compares whole rows only, so a longer row that contains the release's message passes.
    WholeRowsOnly,
    /// P1: chased messages are not guarded.
    ChaseUnguarded,
    /// P1: a loop lets a release leave again.
    LoopRenews,
    /// P1: a hold of half the required time arms a release.
    HalfAHold,
    /// P1: a release's window is ignored.
    NoWindow,
    /// P2: timecode and clock go to a release's port although nobody confirmed that its devices ignore them.
    SyncOnReleasePort,
    /// P2: a box is trusted to ignore other channels although nobody tried it.
    EveryBoxKeepsItsChannel,
    /// P3: one press arms several releases in turn.
    OneGripForAll,
    /// P3: a release is not compared with the other releases of its port.
    OneMessageTwoReleases,
    /// P4: the wire is not kept free before a release.
    WireNotKeptFree,
    /// P4: messages are handed over as fast as they come, without pacing.
    NoPacing,
    /// P5: letting go is ignored.
    LetGoUnheard,
    /// P6: notes and contacts that are still on are forgotten when a run stops.
    DebtForgottenAtStop,
    /// P6: notes and contacts that are still on are forgotten when a port is lost.
    DebtForgottenWithPort,
    /// P6: notes and contacts that are still on are forgotten when the sending thread panics.
    DebtForgottenWithEngine,
    /// P6: the port's thread does not end a release's pulse by itself.
    PulseNotEnded,
    /// P6: what a driver accepted for a device that was gone counts as ended.
    EndedIntoNowhere,
    /// P7: messages that were handed over before stop-all are sent after it.
    OldEpochSent,
    /// P7: a start that was given before stop-all runs after it.
    OldStartRuns,
    /// P7: stop-all silences the channel of a power-held release too.
    SilenceReleases,
    /// P8: messages that are due before a port is open are dropped.
    OpeningPortDrops,
    /// P8: receivers are not chased after a loop.
    NoChaseAfterLoop,
    /// P8: what a hand has set is undone by the message before it.
    HandUndone,
    /// P16: nobody settles by the decision time whether a release goes.
    NobodyDecides,
    /// P16: what depends on a release is sent whatever became of it.
    DependentsUnguarded,
    /// P17: before a bend, what lands beyond it is sent too.
    SentBeyondABend,
    /// P18: a release can be armed while nobody is sure where the band is.
    ArmedUnsure,
    /// P18: a band's place from before a turn of the song takes the song back.
    PlaceBeforeATurn,
    /// P9: a driver that panics takes its thread with it.
    PanicNotCaught,
    /// P11: a clock that returns after stop-all starts the run again.
    ClockRestarts,
    /// P12: a port is matched by the beginning of its name.
    PortByPrefix,
    /// P13: stop waits in the queue behind other commands.
    StopInQueue,
    /// P15: a loop may be of any length, however short.
    AnyLoop,
}

impl Planted {
    /// All faults, each with the number of the property that it breaks.
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
        (Planted::EndedIntoNowhere, 6),
        (Planted::OldEpochSent, 7),
        (Planted::OldStartRuns, 7),
        (Planted::SilenceReleases, 7),
        (Planted::OpeningPortDrops, 8),
        (Planted::NoChaseAfterLoop, 8),
        (Planted::HandUndone, 8),
        (Planted::NobodyDecides, 16),
        (Planted::DependentsUnguarded, 16),
        (Planted::SentBeyondABend, 17),
        (Planted::ArmedUnsure, 18),
        (Planted::PlaceBeforeATurn, 18),
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

//! The times and indices of a run. Each has its own type, so that the compiler catches a mix-up.
//!
//! Song time is [`letfall_core::time::SongTime`]. This module has the times of the machine's clock and the wall clock, and the
//! numbers by which a run refers to ports, releases, messages and people.

use letfall_core::time::SongSpan;
use std::ops::{Add, Sub};

/// A point in time on the machine's monotonic clock, in microseconds since that clock began.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct MachineTime(i64);

/// A length of time on the machine's clock, in microseconds. Negative for a difference to a later time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct MachineSpan(i64);

/// A point in time on the wall clock, in microseconds since 1970. The wall clock may be changed at any moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct UnixTime(i64);

impl MachineTime {
    /// Before every other point.
    pub const MIN: MachineTime = MachineTime(i64::MIN);
    /// After every other point.
    pub const MAX: MachineTime = MachineTime(i64::MAX);

    /// The time this many microseconds after the clock began.
    pub const fn from_micros(micros: i64) -> MachineTime {
        MachineTime(micros)
    }

    /// Microseconds since the clock began.
    pub const fn micros(self) -> i64 {
        self.0
    }
}

impl MachineSpan {
    /// No time.
    pub const ZERO: MachineSpan = MachineSpan(0);

    /// A length of this many microseconds.
    pub const fn from_micros(micros: i64) -> MachineSpan {
        MachineSpan(micros)
    }

    /// A length of this many milliseconds.
    pub const fn from_millis(millis: i64) -> MachineSpan {
        MachineSpan(millis.saturating_mul(1000))
    }

    /// Microseconds.
    pub const fn micros(self) -> i64 {
        self.0
    }

    /// The absolute value.
    #[must_use]
    pub const fn abs(self) -> MachineSpan {
        MachineSpan(self.0.saturating_abs())
    }

    /// The same length in song time. Both run at the same speed.
    pub const fn to_song(self) -> SongSpan {
        SongSpan::from_micros(self.0)
    }

    /// The machine-clock length of a length of song time.
    pub const fn of_song(span: SongSpan) -> MachineSpan {
        MachineSpan(span.micros())
    }
}

impl UnixTime {
    /// The time this many microseconds after 1970 began.
    pub const fn from_micros(micros: i64) -> UnixTime {
        UnixTime(micros)
    }

    /// Microseconds since 1970 began.
    pub const fn micros(self) -> i64 {
        self.0
    }

    /// How much later this is than another point.
    pub const fn since(self, earlier: UnixTime) -> MachineSpan {
        MachineSpan(self.0.saturating_sub(earlier.0))
    }
}

impl Add<MachineSpan> for MachineTime {
    type Output = MachineTime;
    fn add(self, span: MachineSpan) -> MachineTime {
        MachineTime(self.0.saturating_add(span.0))
    }
}

impl Sub<MachineSpan> for MachineTime {
    type Output = MachineTime;
    fn sub(self, span: MachineSpan) -> MachineTime {
        MachineTime(self.0.saturating_sub(span.0))
    }
}

impl Sub for MachineTime {
    type Output = MachineSpan;
    fn sub(self, earlier: MachineTime) -> MachineSpan {
        MachineSpan(self.0.saturating_sub(earlier.0))
    }
}

impl Add for MachineSpan {
    type Output = MachineSpan;
    fn add(self, span: MachineSpan) -> MachineSpan {
        MachineSpan(self.0.saturating_add(span.0))
    }
}

impl Sub for MachineSpan {
    type Output = MachineSpan;
    fn sub(self, other: MachineSpan) -> MachineSpan {
        MachineSpan(self.0.saturating_sub(other.0))
    }
}

macro_rules! places {
    ($($(#[$doc:meta])* $name:ident($of:ty);)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
        pub struct $name(pub $of);

        impl $name {
            /// As an index.
            pub const fn index(self) -> usize {
                self.0 as usize
            }

            /// From an index. One that is too large becomes the largest possible.
            pub fn at(index: usize) -> $name {
                $name(<$of>::try_from(index).unwrap_or(<$of>::MAX))
            }
        }
    )*};
}

places! {
    /// A port of the show, by its index in the show's list.
    ShowPort(u16);
    /// A port of this machine, by the number that a run gives it. Show ports that use the same machine port share a number.
    PhysicalPort(u16);
    /// A release of the run, by its index in [`crate::RunPlan::releases`].
    ReleaseIndex(u16);
    /// A message of the run, by its index in [`crate::RunPlan::items`].
    ItemIndex(u32);
    /// A person who holds a release, by the number that the run gives their name.
    HolderId(u16);
}

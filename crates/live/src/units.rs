//! Times and places of a run, each a type of its own, so that none can be taken for another.
//!
//! Song time is [`letfall_core::time::SongTime`]. The machine's clock and what it counts are here, and the numbers by which a
//! run names ports, releases, messages and people.

use letfall_core::time::SongSpan;
use std::ops::{Add, Sub};

/// A point on the machine's own clock, which never goes back, in microseconds from wherever that clock began.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct MachineTime(i64);

/// A length of time on the machine's clock, in microseconds. May be negative where a direction is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct MachineSpan(i64);

/// A point on the wall clock, in microseconds since 1970. It may be set by hand at any moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct UnixTime(i64);

impl MachineTime {
    /// Before every other point.
    pub const MIN: MachineTime = MachineTime(i64::MIN);
    /// After every other point.
    pub const MAX: MachineTime = MachineTime(i64::MAX);

    /// So many microseconds from where the clock began.
    pub const fn from_micros(micros: i64) -> MachineTime {
        MachineTime(micros)
    }

    /// Microseconds from where the clock began.
    pub const fn micros(self) -> i64 {
        self.0
    }
}

impl MachineSpan {
    /// No time.
    pub const ZERO: MachineSpan = MachineSpan(0);

    /// A length of so many microseconds.
    pub const fn from_micros(micros: i64) -> MachineSpan {
        MachineSpan(micros)
    }

    /// A length of so many milliseconds.
    pub const fn from_millis(millis: i64) -> MachineSpan {
        MachineSpan(millis.saturating_mul(1000))
    }

    /// Microseconds.
    pub const fn micros(self) -> i64 {
        self.0
    }

    /// The same length, never negative.
    #[must_use]
    pub const fn abs(self) -> MachineSpan {
        MachineSpan(self.0.saturating_abs())
    }

    /// As a length of song time: both run at one speed.
    pub const fn to_song(self) -> SongSpan {
        SongSpan::from_micros(self.0)
    }

    /// A length of song time as one of the machine's clock.
    pub const fn of_song(span: SongSpan) -> MachineSpan {
        MachineSpan(span.micros())
    }
}

impl UnixTime {
    /// So many microseconds after 1970 began.
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
            /// The place as an index.
            pub const fn index(self) -> usize {
                self.0 as usize
            }

            /// The place of an index; the last one there can be where it is too large.
            pub fn at(index: usize) -> $name {
                $name(<$of>::try_from(index).unwrap_or(<$of>::MAX))
            }
        }
    )*};
}

places! {
    /// A port of the show, by its place in the show's list.
    ShowPort(u16);
    /// A port of this machine, by the number that a run gives it. Ports of the show that leave by one machine port have one number.
    PhysicalPort(u16);
    /// A release of the run, by its place in [`crate::RunPlan::releases`].
    ReleaseIndex(u16);
    /// A message of the run, by its place in [`crate::RunPlan::items`].
    ItemIndex(u32);
    /// A person who holds a release, by the number that the run gives their name.
    HolderId(u16);
}

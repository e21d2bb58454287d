//! Musical time: ticks of 1/960 quarter note.

use std::fmt;
use std::ops::{Add, Neg, Sub};

/// Ticks in a quarter note.
pub const PPQ: i64 = 960;

/// A point on the grid, in ticks after the downbeat of bar 1; negative before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Tick(i64);

/// A musical length, in ticks of 1/960 quarter note.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct TickSpan(i64);

/// 2^40 ticks are 1.1 × 10⁹ quarter notes: far beyond 24 h at any tempo, and far inside `i64` and `f64`.
const LIMIT: i64 = 1 << 40;

const fn within(ticks: i64) -> i64 {
    if ticks < -LIMIT {
        -LIMIT
    } else if ticks > LIMIT {
        LIMIT
    } else {
        ticks
    }
}

impl Tick {
    /// The downbeat of bar 1.
    pub const ZERO: Tick = Tick(0);

    /// The point this many ticks after the downbeat of bar 1, clamped to ±2⁴⁰.
    pub const fn new(ticks: i64) -> Tick {
        Tick(within(ticks))
    }

    /// Ticks after the downbeat of bar 1.
    pub const fn get(self) -> i64 {
        self.0
    }
}

impl TickSpan {
    /// Zero length.
    pub const ZERO: TickSpan = TickSpan(0);

    /// A length of this many ticks, clamped to ±2⁴⁰.
    pub const fn new(ticks: i64) -> TickSpan {
        TickSpan(within(ticks))
    }

    /// Ticks.
    pub const fn get(self) -> i64 {
        self.0
    }

    /// Length in quarter notes.
    pub fn quarters(self) -> f64 {
        self.0 as f64 / PPQ as f64
    }
}

impl Add<TickSpan> for Tick {
    type Output = Tick;
    fn add(self, span: TickSpan) -> Tick {
        Tick::new(self.0 + span.0)
    }
}

impl Sub<TickSpan> for Tick {
    type Output = Tick;
    fn sub(self, span: TickSpan) -> Tick {
        Tick::new(self.0 - span.0)
    }
}

impl Sub for Tick {
    type Output = TickSpan;
    fn sub(self, other: Tick) -> TickSpan {
        TickSpan::new(self.0 - other.0)
    }
}

impl Add for TickSpan {
    type Output = TickSpan;
    fn add(self, other: TickSpan) -> TickSpan {
        TickSpan::new(self.0 + other.0)
    }
}

impl Neg for TickSpan {
    type Output = TickSpan;
    fn neg(self) -> TickSpan {
        TickSpan(-self.0)
    }
}

impl fmt::Display for Tick {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "tick {}", self.0)
    }
}

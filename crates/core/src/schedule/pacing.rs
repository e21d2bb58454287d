//! Decides which message may begin when, on a wire that carries one byte after another. The plan works out its waits with this
//! and a run sends by it, so that what is planned can be sent.

use crate::time::SongSpan;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// The longest time that one message may occupy a release's port, from the start of the arming window until the contact is open
/// again, because anything else that must leave there has to wait. The check finds longer ones, and a run refuses them. Our own
/// figure.
pub const LONGEST_WITH_A_RELEASE: SongSpan = SongSpan::from_millis(5);

/// A message that waits for its wire. Ordered by rank, then by due time, then by number; the least goes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Waiting {
    /// 0 goes before everything else and is never held back: releases, and the ends of their contacts.
    pub rank: u8,
    /// When it was due, in nanoseconds of a clock that all messages of the wire share.
    pub due_ns: i64,
    /// Its place among those that are due together: as they came.
    pub came: u32,
    /// Which message it is.
    pub number: u32,
    /// How long it takes on the wire, in nanoseconds.
    pub length_ns: i64,
}

/// What a wire does next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// This message begins now.
    Begin(Waiting),
    /// Nothing may begin before this time, in nanoseconds.
    Wait(i64),
    /// Nothing waits.
    Idle,
}

/// A wire: which messages wait for it, until when it is busy, and when it must be free.
#[derive(Debug, Clone)]
pub struct Wire {
    free_ns: i64,
    waiting: BinaryHeap<Reverse<Waiting>>,
    /// Messages that did not fit, kept aside while looking for one that does.
    passed_over: Vec<Waiting>,
    /// When a release or the end of one is due, in order.
    kept_free_ns: Vec<i64>,
}

impl Wire {
    /// An idle wire with room for this many waiting messages before it allocates.
    pub fn with_capacity(messages: usize) -> Wire {
        Wire {
            free_ns: i64::MIN,
            waiting: BinaryHeap::with_capacity(messages),
            passed_over: Vec::with_capacity(messages),
            kept_free_ns: Vec::with_capacity(64),
        }
    }

    /// Adds a message to those that wait.
    pub fn push(&mut self, message: Waiting) {
        self.waiting.push(Reverse(message));
    }

    /// How many messages wait.
    pub fn len(&self) -> usize {
        self.waiting.len()
    }

    /// Whether none waits.
    pub fn is_empty(&self) -> bool {
        self.waiting.is_empty()
    }

    /// Removes every waiting message for which this is false.
    pub fn retain(&mut self, keep: impl Fn(&Waiting) -> bool) {
        self.waiting.retain(|Reverse(message)| keep(message));
    }

    /// Takes back a message that could not be begun. It waits again, and the wire counts as busy for another millisecond, so
    /// that it is tried again then.
    pub fn give_back(&mut self, message: Waiting, now_ns: i64) {
        self.free_ns = now_ns.saturating_add(1_000_000);
        self.waiting.push(Reverse(message));
    }

    /// Marks the wire as free, whatever was known before.
    pub fn free_at_once(&mut self) {
        self.free_ns = i64::MIN;
    }

    /// Marks the wire as busy until this time, in nanoseconds, if not busy for longer already.
    pub fn busy_until(&mut self, free_ns: i64) {
        self.free_ns = self.free_ns.max(free_ns);
    }

    /// Sets the times at which a release, or the end of its contact, must find the wire free, in nanoseconds. They replace any
    /// earlier times.
    pub fn keep_free(&mut self, times_ns: impl Iterator<Item = i64>) {
        self.kept_free_ns.clear();
        self.kept_free_ns.extend(times_ns);
        self.kept_free_ns.sort_unstable();
    }

    /// What happens at a time, in nanoseconds. A message that begins makes the wire busy for its length.
    pub fn turn(&mut self, now_ns: i64) -> Turn {
        if self.waiting.is_empty() {
            return Turn::Idle;
        }
        if self.free_ns > now_ns {
            return Turn::Wait(self.free_ns);
        }
        let passed = self.kept_free_ns.partition_point(|kept| *kept < now_ns);
        let kept_ns = self.kept_free_ns.get(passed).copied();
        let fits = |message: &Waiting| {
            message.rank == 0 || kept_ns.is_none_or(|kept| now_ns.saturating_add(message.length_ns) <= kept)
        };
        let mut begins = None;
        while let Some(Reverse(message)) = self.waiting.pop() {
            if fits(&message) {
                begins = Some(message);
                break;
            }
            self.passed_over.push(message);
        }
        self.waiting.extend(self.passed_over.drain(..).map(Reverse));
        match (begins, kept_ns) {
            (Some(message), _) => {
                self.free_ns = now_ns.saturating_add(message.length_ns);
                Turn::Begin(message)
            }
            (None, Some(kept)) => Turn::Wait(kept.saturating_add(1)),
            (None, None) => Turn::Idle,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(rank: u8, number: u32, bytes: i64) -> Waiting {
        Waiting { rank, due_ns: 0, came: number, number, length_ns: bytes * 320_000 }
    }

    /// Three bytes take 960 µs (MIDI 1.0, 320 µs a byte). A message that would still be on the wire when a release is due
    /// waits; a shorter one does not, and the release itself is never held back.
    #[test]
    fn nothing_is_begun_that_cannot_be_off_before_a_release() {
        let mut wire = Wire::with_capacity(8);
        wire.keep_free([2_000_000].into_iter());
        wire.push(message(2, 1, 3));
        assert_eq!(wire.turn(1_040_000), Turn::Begin(message(2, 1, 3)), "off the wire at that very instant");
        let mut wire = Wire::with_capacity(8);
        wire.keep_free([5_000_000, 2_000_000].into_iter());
        wire.push(message(2, 1, 3));
        assert_eq!(wire.turn(1_040_001), Turn::Wait(2_000_001));
        wire.push(message(3, 2, 1));
        assert_eq!(wire.turn(1_040_001), Turn::Begin(message(3, 2, 1)), "a shorter one may pass");
        wire.push(message(0, 3, 3));
        assert_eq!(wire.turn(2_000_000), Turn::Begin(message(0, 3, 3)));
        assert_eq!(wire.turn(2_000_001), Turn::Wait(2_960_000));
        assert_eq!(wire.turn(2_960_000), Turn::Begin(message(2, 1, 3)), "what was passed over is not lost");
        assert_eq!(wire.turn(9_000_000), Turn::Idle);
    }
}

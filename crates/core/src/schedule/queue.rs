//! Ports as they really are: one byte after another.
//!
//! Messages that are due while a port is busy wait; of those waiting, releases leave first, then outputs, lighting,
//! media and last the note offs. Running status is not counted on, so a real port is never slower than this.

use super::row::Row;
use crate::midi::EncodedMessage;
use crate::show::{Kind, Label, Show};
use crate::time::{SongSpan, SongTime, round};
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// How a port is used over a service.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PortUse {
    /// Messages that leave by it, note offs apart.
    pub messages: usize,
    /// Bytes that leave by it, note offs included.
    pub bytes: u64,
    /// The message that waits longest, and how long: the worst moment of the port.
    pub worst: Option<PortWait>,
}

/// A message that waits for its port.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PortWait {
    /// Its cue.
    pub label: Label,
    /// When it was due.
    pub due: SongTime,
    /// How long it waits before its first byte leaves.
    pub waits: SongSpan,
}

/// A message in a port's queue. Ordered by rank, then due time, then row: what leaves first is least.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Waiting {
    rank: u8,
    due_ns: i64,
    row: u32,
    length_ns: i64,
}

/// Sends all rows through their ports; writes each row's wait and gives each port's use.
pub(super) fn run(show: &Show, messages: &[EncodedMessage], rows: &mut [Row]) -> Vec<PortUse> {
    let mut queues: Vec<Vec<Waiting>> = vec![Vec::new(); show.ports.len()];
    let mut uses = vec![PortUse::default(); show.ports.len()];
    for (at, row) in (0u32..).zip(rows.iter()) {
        let (Some(port), Some(wire)) = (row.port, row.wire) else { continue };
        let wire = &messages[wire as usize];
        let link = show.ports[port as usize].link;
        let queue = &mut queues[port as usize];
        let used = &mut uses[port as usize];
        let due_ns = row.send.micros() * 1000;
        queue.push(Waiting { rank: row.label.kind.rank(), due_ns, row: at, length_ns: link.nanos(wire.on.len()) });
        used.messages += 1;
        used.bytes += wire.on.len() as u64;
        if let Some((off, after)) = &wire.off {
            let due_ns = due_ns + after.micros() * 1000;
            queue.push(Waiting { rank: Kind::END_RANK, due_ns, row: at, length_ns: link.nanos(off.len()) });
            used.bytes += off.len() as u64;
        }
    }
    for (queue, used) in queues.iter_mut().zip(&mut uses) {
        queue.sort_unstable_by_key(|w| (w.due_ns, w.rank, w.row));
        drain(queue, |message, waits_ns| {
            if message.rank == Kind::END_RANK || waits_ns == 0 {
                return;
            }
            let row = &mut rows[message.row as usize];
            let micros = round::div_nearest(i128::from(waits_ns), 1000);
            row.waits = SongSpan::from_micros(i64::try_from(micros).unwrap_or(i64::MAX));
            if used.worst.is_none_or(|worst| worst.waits < row.waits) {
                used.worst = Some(PortWait { label: row.label, due: row.send, waits: row.waits });
            }
        });
    }
    uses
}

/// Plays a port's messages (in order of due time) and tells how long each waited.
fn drain(queue: &[Waiting], mut left: impl FnMut(Waiting, i64)) {
    let mut free_ns = i64::MIN;
    let mut waiting: BinaryHeap<Reverse<Waiting>> = BinaryHeap::new();
    let mut next = 0;
    while next < queue.len() || !waiting.is_empty() {
        if waiting.is_empty() {
            let message = queue[next];
            next += 1;
            // Nothing waits: it leaves when it is due, unless something of higher rank is due at that instant too.
            let alone = queue.get(next).is_none_or(|n| n.due_ns > message.due_ns);
            if alone && free_ns <= message.due_ns {
                free_ns = message.due_ns + message.length_ns;
                left(message, 0);
                continue;
            }
            waiting.push(Reverse(message));
            free_ns = free_ns.max(message.due_ns);
        }
        while queue.get(next).is_some_and(|n| n.due_ns <= free_ns) {
            waiting.push(Reverse(queue[next]));
            next += 1;
        }
        if let Some(Reverse(message)) = waiting.pop() {
            left(message, free_ns - message.due_ns);
            free_ns += message.length_ns;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(rank: u8, due_us: i64, row: u32, bytes: i64) -> Waiting {
        Waiting { rank, due_ns: due_us * 1000, row, length_ns: bytes * 320_000 }
    }

    fn waits(mut queue: Vec<Waiting>) -> Vec<(u32, i64)> {
        queue.sort_unstable_by_key(|w| (w.due_ns, w.rank, w.row));
        let mut out = Vec::new();
        drain(&queue, |m, ns| out.push((m.row, ns / 1000)));
        out
    }

    /// MIDI 1.0: ten simultaneous notes are 30 bytes, 9.60 ms at 31.25 kbaud: the last waits nine notes, 8.64 ms.
    #[test]
    fn ten_simultaneous_notes() {
        let out = waits((0..10).map(|row| message(3, 0, row, 3)).collect());
        assert_eq!(out.last(), Some(&(9, 8640)));
        assert_eq!(out[1], (1, 960));
    }

    #[test]
    fn a_release_overtakes_what_waits_but_not_what_is_leaving() {
        let out = waits(vec![message(3, 0, 0, 3), message(3, 0, 1, 3), message(3, 0, 2, 3), message(0, 100, 3, 3)]);
        assert_eq!(out, [(0, 0), (3, 860), (1, 1920), (2, 2880)]);
    }

    #[test]
    fn an_idle_port_keeps_nobody_waiting() {
        assert_eq!(waits(vec![message(3, 0, 0, 3), message(3, 960, 1, 3)]), [(0, 0), (1, 0)]);
    }
}

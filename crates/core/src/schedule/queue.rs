//! Models real ports: they send one byte after another.
//!
//! Messages that fall due while a port is busy have to wait. Of those waiting, releases and the ends of their contacts leave
//! first, then outputs, lighting, media, and note offs last. No message begins that would still be on the wire when a release
//! is due. Running status is not assumed, so a real port is never slower than this.

use super::pacing::{Turn, Waiting, Wire};
use super::row::Row;
use crate::midi::EncodedMessage;
use crate::show::{Kind, Label, Show};
use crate::time::{SongSpan, SongTime, round};

/// How much a port is used during a service.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PortUse {
    /// How many messages leave by it, not counting note offs.
    pub messages: usize,
    /// How many bytes leave by it, note offs included.
    pub bytes: u64,
    /// The message that waits longest, and for how long: the port's worst moment.
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

/// Flag in a message's number: it ends what a row began.
const END: u32 = 1 << 31;

/// Sends all rows through their ports; sets each row's wait and returns each port's use.
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
        queue.push(Waiting {
            rank: row.label.kind.rank(),
            due_ns,
            came: at,
            number: at,
            length_ns: link.nanos(wire.on.len()),
        });
        used.messages += 1;
        used.bytes += wire.on.len() as u64;
        if let Some((off, after)) = &wire.off {
            let due_ns = due_ns + after.micros() * 1000;
            // The end of a release's contact is as urgent as the release.
            let rank = if row.label.kind == Kind::Release { row.label.kind.rank() } else { Kind::END_RANK };
            queue.push(Waiting { rank, due_ns, came: at, number: at | END, length_ns: link.nanos(off.len()) });
            used.bytes += off.len() as u64;
        }
    }
    for (queue, used) in queues.iter_mut().zip(&mut uses) {
        queue.sort_unstable_by_key(|w| (w.due_ns, w.rank, w.number));
        let kept_free_ns = queue.iter().filter(|w| w.rank == 0).map(|w| w.due_ns).collect();
        drain(queue, kept_free_ns, |message, waits_ns| {
            if message.rank == Kind::END_RANK || message.number & END != 0 || waits_ns == 0 {
                return;
            }
            let row = &mut rows[message.number as usize];
            let micros = round::div_nearest(i128::from(waits_ns), 1000);
            row.waits = SongSpan::from_micros(i64::try_from(micros).unwrap_or(i64::MAX));
            if used.worst.is_none_or(|worst| worst.waits < row.waits) {
                used.worst = Some(PortWait { label: row.label, due: row.send, waits: row.waits });
            }
        });
    }
    uses
}

/// Plays a port's messages, given in order of due time, and reports how long each waited.
fn drain(queue: &[Waiting], kept_free_ns: Vec<i64>, mut left: impl FnMut(Waiting, i64)) {
    let mut wire = Wire::with_capacity(0);
    wire.keep_free(kept_free_ns.into_iter());
    let (mut now_ns, mut next) = (i64::MIN, 0);
    loop {
        while let Some(message) = queue.get(next).filter(|message| message.due_ns <= now_ns) {
            wire.push(*message);
            next += 1;
        }
        now_ns = match (wire.turn(now_ns), queue.get(next)) {
            (Turn::Begin(message), _) => {
                left(message, now_ns - message.due_ns);
                now_ns
            }
            (Turn::Wait(until), Some(coming)) => until.min(coming.due_ns),
            (Turn::Wait(until), None) => until,
            (Turn::Idle, Some(coming)) => coming.due_ns,
            (Turn::Idle, None) => return,
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(rank: u8, due_us: i64, row: u32, bytes: i64) -> Waiting {
        Waiting { rank, due_ns: due_us * 1000, came: row, number: row, length_ns: bytes * 320_000 }
    }

    fn waits(mut queue: Vec<Waiting>) -> Vec<(u32, i64)> {
        queue.sort_unstable_by_key(|w| (w.due_ns, w.rank, w.number));
        let mut out = Vec::new();
        drain(&queue, Vec::new(), |m, ns| out.push((m.number, ns / 1000)));
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

//! Judges whether a release's device was allowed to fire, and what may leave after a stop.

use super::{Grip, HOLD, OpenContact, Witness, time};
use crate::happening::Happening;
use crate::scene::{End, MACHINE};

impl Witness {
    /// After a stop or stop-all, only messages that end or silence something may leave, until a person starts again.
    pub(super) fn after_a_stop(&mut self, at: i64, machine: usize, bytes: &[u8]) {
        let ends = self.open.iter().any(|contact| contact.machine == machine && contact.end == bytes);
        let note_off = bytes.first().is_some_and(|status| status & 0xf0 == 0x80);
        let silence = matches!(bytes, [status, 120 | 123, 0] if status & 0xf0 == 0xb0);
        let stop = bytes == [0xfc] || bytes == [0xfe];
        // What a driver refused may still have been begun, so its end may be sent.
        let refused = self.faults[machine]
            && self.scene.releases.iter().any(|facts| matches!(&facts.end, End::Bytes(end) if end == bytes));
        if ends || note_off || silence || stop || refused {
            return;
        }
        let located = matches!(bytes, [0xf0, 0x7f, 0x7f, 1, 1, ..] | [0xf2, ..]);
        if let Some(stopped) = self.stopped_all.filter(|stopped| at > stopped + self.slack) {
            if !located {
                self.object(
                    7,
                    at,
                    &format!("{} was sent {:02X?} after stop-all at {}", MACHINE[machine], bytes, time(stopped)),
                );
            }
        } else if let Some(stopped) = self.stopped.filter(|stopped| at > stopped + 2 * self.slack)
            && !located
            && at > self.stalled_until + 2 * self.slack
        {
            self.object(
                13,
                at,
                &format!("{} was sent {:02X?} after the stop at {}", MACHINE[machine], bytes, time(stopped)),
            );
        }
    }

    pub(super) fn fire(&mut self, at: i64, machine: usize, release: usize, bytes: &[u8]) {
        self.note(at, Happening::Fired { release });
        let facts = self.scene.releases[release].clone();
        let label = &facts.label;
        let mut objections: Vec<(u8, String)> = Vec::new();
        if *bytes == facts.row[..] {
            if let Some(since) = self.way.unsure.filter(|since| at > since + 2 * self.slack) {
                objections
                    .push((18, format!("{label} left, and since {} nobody is sure where the band is", time(since))));
            }
            self.judge(at, release, &mut objections);
            self.left += 1;
            self.fired_at[release] = at;
            if let End::Bytes(end) = &facts.end {
                let deadline = at + facts.pulse + 5_000 + self.lateness;
                let deadline = self.stopped_all.map_or(deadline, |_| deadline.min(at + 6_000 + self.lateness));
                self.open.push(OpenContact { release, machine, at, deadline, end: end.clone() });
            }
        } else {
            if at - self.assigned < 100_000 {
                // The port was only just reassigned, and the program needs a moment to learn of it.
                return;
            }
            let sync = matches!(bytes, [0xf1..=0xf3 | 0xf8..=0xfc, ..] | [0xf0, 0x7f, _, 1, 1, ..]);
            let property = if sync {
                2
            } else if self.row_of_another(release, bytes) {
                3
            } else {
                1
            };
            objections
                .push((property, format!("{label} may have been fired by {bytes:02X?}, which is not its message")));
        }
        for (property, words) in objections {
            self.object(property, at, &words);
        }
    }

    fn row_of_another(&self, release: usize, bytes: &[u8]) -> bool {
        self.scene.releases.iter().enumerate().any(|(at, other)| at != release && other.row == bytes)
    }

    /// Judges whether a release that was fired by its own message was allowed to leave.
    fn judge(&mut self, at: i64, release: usize, objections: &mut Vec<(u8, String)>) {
        let facts = self.scene.releases[release].clone();
        let label = &facts.label;
        self.fired[release] += 1;
        if self.lateness > 0 && at - self.changed < self.lateness {
            // Real threads obey a moment after they were told, and what leaves in that moment may be right or wrong.
            return;
        }
        self.was_open(at, release, objections);
        let tried = self.second[release].is_some() || self.courses[release].shift.is_some();
        let most = if tried { 2 } else { 1 };
        if self.fired[release] > most {
            objections.push((1, format!("{label} left {} times in a run", self.fired[release])));
        }
        if !self.scene.safe {
            objections.push((1, format!("{label} left while the safety sheet is open")));
        }
        if !self.performs {
            objections.push((1, format!("{label} left in a rehearsal")));
        }
        let alike = self.scene.releases.iter().enumerate().any(|(other, facts)| {
            other != release
                && self.hangs_on[other] == self.hangs_on[release]
                && facts.row == self.scene.releases[release].row
        });
        if alike {
            objections.push((3, format!("{label} left by a message that fires another release of its port too")));
        }
        // If it is uncertain whether a second try was granted, either window is accepted.
        let own = self.window(release);
        let mut windows = if self.unsure[release] { vec![own, facts.window] } else { vec![own] };
        let length = facts.window.1 - facts.window.0;
        windows.extend(self.second[release].map(|second| (second, second + length)));
        let slack = self.slack + if at - self.disturbed < 1_000_000 { 400_000 } else { 0 };
        let within = |song: i64| windows.iter().any(|(from, to)| (from - slack..=to + slack).contains(&song));
        // A key sends the release with its group, up to a minute later.
        let by_hand = self.way.by_hand && self.way.next.is_some_and(|next| at - next < 60_000_000);
        match self.place(at) {
            _ if by_hand || self.way.lost => {}
            Some(song) if within(song) => {}
            Some(song) => objections.push((1, format!("{label} left at {}, outside its window", time(song)))),
            None => objections.push((1, format!("{label} left while the run stood"))),
        }
        let earliest = windows.iter().map(|(from, _)| *from).min().unwrap_or(own.0);
        let opened = if by_hand || self.way.lost {
            i64::MIN
        } else {
            self.place(at).map_or(at, |song| at - (song - earliest)) - self.taken_back(at)
        };
        let held = self.grips.iter().position(|grip| {
            let since = grip.since.max(opened).max(grip.pressed);
            grip.release == release
                && !grip.over
                && at - since >= HOLD - self.slack
                && at <= grip.lifted
                && at - grip.renewed <= 500_000 + self.slack
        });
        if let Some(grip) = held {
            self.grips[grip].over = true;
            return;
        }
        let lifted = |grip: &Grip| grip.release == release && grip.lifted < at && at - grip.lifted < 2_000_000;
        let other = |grip: &Grip| grip.lifted >= at && (grip.release != release || grip.over);
        let property = if self.grips.iter().any(lifted) {
            5
        } else if self.grips.iter().any(other) {
            3
        } else {
            1
        };
        objections.push((property, format!("{label} left and no hand had held it for a second by one press")));
    }
}

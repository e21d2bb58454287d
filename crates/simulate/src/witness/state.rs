//! Checks what must have happened by now: held releases have left on time, receivers have the state of the plan, contacts are
//! open and notes have ended.

use super::{HOLD, OpenContact, Witness, time};
use crate::scene::{End, MACHINE, SONG_US, Trigger};

/// A sleep is looked for every 50 ms, so for this long, in microseconds, a press may still be let go of because of it.
const NOTICED: i64 = 60_000;

impl Witness {
    /// Checks before the run is ended: releases that had to leave have left, and receivers have the state of the plan.
    pub fn before_the_end(&mut self, now: i64) {
        self.walk(now);
        if self.broke.is_some_and(|broke| now - broke > 500_000) && !self.told {
            self.object(9, now, "sending broke, and the screen was not told");
        }
        self.receivers(now);
        self.must_have_left(now);
    }

    /// A release that somebody held for long enough, without a disturbance and on a port of its own, must have left on time.
    fn must_have_left(&mut self, now: i64) {
        let Some(place) = self.place.filter(|_| self.looped.is_none() && self.performs && self.scene.safe) else {
            return;
        };
        for release in 0..self.scene.releases.len() {
            let facts = self.scene.releases[release].clone();
            let machine = self.hangs_on[release];
            let alone = self.hangs_on.iter().filter(|on| **on == machine).count() == 1;
            let due = place.at + facts.send - place.song;
            // By its decision it must have been armed.
            let decided = due - (facts.send - facts.decision);
            let bent = self.way.lost
                || self.way.jumped
                || self.way.turned > decided - 1_600_000
                || self.courses[release].is_bent();
            if bent {
                continue;
            }
            let quiet = self.disturbed < due - 1_800_000 || self.disturbed == place.at && due - place.at > 1_400_000;
            let works = self.there[machine] && self.works_from(machine) < due - 1_500_000;
            if !alone || !quiet || !works || due > now - 10_000 || self.disturbed > due || facts.end_meets_itself() {
                continue;
            }
            let window = due - (facts.send - facts.window.0);
            let held = self.grips.iter().find(|grip| {
                let since = grip.since.max(window).max(grip.pressed).max(place.at);
                grip.release == release
                    && grip.pressed > place.at
                    && grip.pressed > self.slept + NOTICED
                    // Its first hold may have been on its way when the song turned.
                    && (grip.pressed - self.way.turned).abs() > 200_000
                    && grip.pressed > self.disturbed.min(decided - 1_300_000) - 1
                    && decided - since > HOLD + 250_000
                    && grip.lifted > due + 2_000
            });
            // A press that was used for something else before may be over.
            let one_press = held.is_some_and(|held| {
                self.grips
                    .iter()
                    .filter(|grip| grip.pressed > place.at && grip.pressed <= due)
                    .all(|grip| grip.number == held.number)
            });
            let held = held.is_some() && one_press;
            let left = self.fired_at[release];
            let late = left.saturating_sub(due);
            let earlier = left > i64::MIN && left < place.at;
            if held
                && !earlier
                && self.fired[release] == 1
                && late.saturating_abs() > self.slack
                && self.second[release].is_none()
            {
                self.object(4, left, &format!("{} left {late} µs late", facts.label));
            }
            if held && self.fired[release] == 0 {
                self.object(4, now, &format!("{} was held and due at {}, and did not leave", facts.label, time(due)));
            }
        }
    }

    fn receivers(&mut self, now: i64) {
        let Some((song, followed)) = self.place(now).zip(self.followed) else { return };
        // Just after a loop's jump, chased messages may still be on their way.
        let round = self.looped.is_some_and(|(from, _)| (song - from).abs() < 200_000);
        let turned = self.way.lost || now - self.way.turned < 1_000_000;
        if now - followed < 1_000_000 || now - self.disturbed < 1_000_000 || song > SONG_US || round || turned {
            return;
        }
        for port in 0..self.map.len() {
            let machine = self.map[port];
            if !self.there[machine] || self.works_from(machine) > now - 1_000_000 {
                continue;
            }
            let of_port: Vec<_> = self.scene.harmless.iter().filter(|cue| cue.port == port).cloned().collect();
            if of_port.iter().any(|cue| (cue.send - song).abs() < 60_000) {
                continue;
            }
            let Some(last) = of_port.iter().filter(|cue| cue.send < song).max_by_key(|cue| cue.send) else { continue };
            // What depends on a release that did not go, and what is sent in its place, are judged where they leave.
            let depends = of_port.iter().any(|cue| cue.depends.is_some() && cue.send < song + 60_000);
            let replaced = self.scene.releases.iter().enumerate().any(|(at, facts)| {
                let settled = song > facts.decision - 60_000 || self.courses[at].is_bent() || self.way.jumped;
                settled && facts.instead.iter().flatten().any(|(of, _)| *of == port)
            });
            if depends || replaced {
                continue;
            }
            let rivals = of_port.iter().filter(|cue| (cue.send - last.send).abs() < 2).count();
            let (channel, program) = (last.bytes[0] & 15, last.bytes[1]);
            let sent = self.last_program.get(&(machine, channel)).copied();
            let has = sent.map(|(_, number)| number);
            if last.by_hand {
                // A hand has set it since. What the program sends there after that, from before the place at which the run was begun,
                // undoes it. What it sent in an earlier round of a loop it cannot take back, and what was held up on the way is only late.
                let after = |at: i64| self.place(at).is_some_and(|place| (last.send + 60_000..=song).contains(&place));
                let begun = self.place.map_or(0, |place| place.song);
                let is_chased = |number: u8| of_port.iter().any(|cue| cue.bytes[1] == number && cue.send < begun);
                let held_up = |at: i64| at < self.works_from(machine).max(self.stalled_until) + 200_000 + self.lateness;
                // A run begun beyond the end of the loop has no round of its own.
                // Nor does anybody know what hands did of a part that was left out or went round.
                let turned = self.way.turned > i64::MIN / 2;
                let beyond = turned || self.looped.is_some_and(|(_, to)| begun >= to);
                let undone = sent.filter(|(at, number)| {
                    !beyond && *at >= followed && after(*at) && is_chased(*number) && !held_up(*at)
                });
                if let Some((at, number)) = undone {
                    let words = format!(
                        "channel {} of {} was given program {number} at {}, after a hand had set {program}",
                        channel + 1,
                        MACHINE[machine],
                        time(at)
                    );
                    self.object(8, now, &words);
                }
            } else if rivals == 1 && has != Some(program) {
                let words = format!(
                    "channel {} of {} has program {has:?}, and the plan has {program} at {}",
                    channel + 1,
                    MACHINE[machine],
                    time(song)
                );
                self.object(8, now, &words);
            }
        }
    }

    /// Checks after the end: no contact is closed that could have been opened.
    pub fn after_the_end(&mut self, now: i64) {
        self.overdue(now);
        let open: Vec<OpenContact> = std::mem::take(&mut self.open);
        for contact in open {
            let dead = !self.there[contact.machine] || self.works_from(contact.machine) > now;
            if !dead {
                let words = format!(
                    "the contact of {}, closed at {}, is closed still",
                    self.scene.releases[contact.release].label,
                    time(contact.at)
                );
                self.object(6, now, &words);
            }
        }
    }

    /// Objects to contacts that had to be open by now.
    pub fn overdue(&mut self, now: i64) {
        let works = |machine: usize| {
            self.there[machine] && self.works_from(machine) + 40_000 + self.lateness < now && !self.faults[machine]
        };
        // The note of a release is ended like a contact.
        let contact = |channel: u8, key: u8| {
            self.scene.releases.iter().any(|r| {
                r.trigger == Trigger::Note { channel, key }
                    || matches!(&r.end, End::Bytes(end) if end[..] == [0x90 | channel, key, 1])
            })
        };
        let hangs =
            self.sounding.iter().find(|note| now > note.3 && works(note.0) && !contact(note.1, note.2)).copied();
        if let Some((machine, channel, key, by)) = hangs {
            self.sounding.retain(|note| note.3 != by);
            let words =
                format!("note {key} of channel {} on {} was to end by {}", channel + 1, MACHINE[machine], time(by));
            self.object(6, now, &words);
        }
        let late: Vec<OpenContact> = self
            .open
            .iter()
            .filter(|contact| {
                let from = contact.deadline.max(self.works_from(contact.machine) + 10_000 + self.lateness);
                self.there[contact.machine] && now > from
            })
            .cloned()
            .collect();
        for contact in late {
            let label = self.scene.releases[contact.release].label.clone();
            self.object(
                6,
                now,
                &format!(
                    "the contact of {label}, closed at {}, was to be open by {}",
                    time(contact.at),
                    time(contact.deadline)
                ),
            );
            self.open.retain(|other| other.at != contact.at || other.release != contact.release);
        }
    }
}

impl crate::scene::ReleaseFacts {
    /// Whether the message that ends it could also fire it.
    fn end_meets_itself(&self) -> bool {
        match (&self.end, &self.trigger) {
            (End::Bytes(end), _) if end == &self.row => true,
            (_, Trigger::Exclusive { .. }) => true,
            _ => false,
        }
    }
}

//! What becomes of a release, as far as one can see from outside: whether it was fired, what people said, what may follow.

use super::{HOLD, Witness, time};
use crate::scene::MACHINE;
use crate::script::Bending;

/// A message may have been on its way for this long when something changed.
const ON_ITS_WAY: i64 = 400_000;

impl Witness {
    /// A person said something of a release.
    pub(super) fn said(&mut self, now: i64, bending: Bending) {
        let (Bending::Stays(of) | Bending::Stuck(of) | Bending::Down(of) | Bending::TryAt(of, _)) = bending else {
            return;
        };
        // In a rehearsal its time may have come: then it counts as gone.
        let again = self.looped.is_some() || self.way.jumped || self.way.turned > i64::MIN / 2;
        let due = self.scene.releases[of].send - ON_ITS_WAY;
        let rehearsed = !self.performs && (again || self.place(now).is_none_or(|song| song > due));
        let fired = self.fired[of] > 0 || rehearsed;
        let course = &mut self.courses[of];
        course.changed = now;
        match bending {
            Bending::Stays(_) => course.stays |= !fired && !course.down && course.shift.is_none(),
            Bending::Stuck(_) => course.stuck = true,
            Bending::Down(_) => course.down = true,
            // Whether it is granted cannot always be told from outside: then either window is accepted.
            Bending::TryAt(_, shift) if !fired && self.performs => {
                course.shift = Some(shift);
                course.stays = false;
                self.unsure[of] = true;
            }
            _ => {}
        }
    }

    /// Whether somebody has held a release for long enough by a time.
    fn is_armed(&self, release: usize, at: i64) -> bool {
        self.grips.iter().any(|grip| {
            let since = grip.since.max(grip.pressed);
            grip.release == release && at - since >= HOLD - self.slack && at - ON_ITS_WAY <= grip.lifted
        })
    }

    /// A program change left: if it depends on a release, or is sent in place of one, it must have been allowed to.
    pub(super) fn may_leave(&mut self, at: i64, machine: usize, message: &[u8]) {
        let disturbed = at - self.disturbed < 3_000_000 || self.works_from(machine) > at - 3_000_000;
        for cue in 0..self.scene.harmless.len() {
            let facts = self.scene.harmless[cue].clone();
            let Some(release) = facts.depends.filter(|_| facts.bytes == message && self.map[facts.port] == machine)
            else {
                continue;
            };
            let course = self.courses[release];
            let of = self.scene.releases[release].clone();
            let just_changed = at - course.changed < ON_ITS_WAY;
            let went = self.fired[release] > 0 || course.down;
            let wrong = if !self.performs {
                course.stays && !course.down && !just_changed
            } else if went || disturbed || just_changed || self.faults[self.hangs_on[release]] {
                // A driver may accept a release for a device that is gone.
                false
            } else {
                let shift = course.shift.unwrap_or(0);
                let before = self.way.lost
                    || self.way.by_hand
                    || self.place(at).is_some_and(|song| song < of.send + shift + ON_ITS_WAY);
                !(before && self.is_armed(release, at))
            };
            if wrong {
                let words = format!("{} was sent on {}, and {} did not go", facts.label, MACHINE[machine], of.label);
                self.object(16, at, &words);
            }
        }
        for release in 0..self.scene.releases.len() {
            let of = self.scene.releases[release].clone();
            let sends = [0, 1].map(|course| {
                of.instead[course].as_ref().is_some_and(|(port, bytes)| bytes == message && self.map[*port] == machine)
            });
            let course = self.courses[release];
            if sends[1] && !course.stuck {
                self.object(16, at, &format!("what is sent if {} is stuck was sent, and nobody said so", of.label));
            }
            let went = self.fired[release] > 0 && at - self.fired_at[release] > ON_ITS_WAY;
            if sends[0] && went && !disturbed && course.shift.is_none() && self.followed.is_none() {
                self.object(16, at, &format!("what is sent if the fabric of {} stays was sent, and it went", of.label));
            }
        }
    }

    /// A release was fired by its own message: it must have been open still.
    pub(super) fn was_open(&self, at: i64, release: usize, objections: &mut Vec<(u8, String)>) {
        let course = self.courses[release];
        let facts = &self.scene.releases[release];
        if course.shift.is_some() || self.second[release].is_some() || self.way.lost {
            return;
        }
        if course.stays && at - course.changed > ON_ITS_WAY {
            objections.push((16, format!("{} left, and a person had said that the fabric stays", facts.label)));
        }
        // By the decision it must have been armed, unless the song was elsewhere then.
        let Some(song) = self.place(at).filter(|_| !self.way.by_hand && self.looped.is_none()) else { return };
        let decided = at - (song - facts.decision);
        let straight = self.way.turned < decided && self.way.chosen < decided && self.disturbed < decided - 1_000_000;
        let (from, _) = facts.window;
        let opened = at - (song - from) - self.taken_back(at);
        let armed = self.grips.iter().any(|grip| {
            grip.release == release && decided - grip.since.max(grip.pressed).max(opened) >= HOLD - 2 * self.slack
        });
        if straight && !armed {
            let words = format!("{} left, and nobody had armed it by its decision at {}", facts.label, time(decided));
            objections.push((16, words));
        }
    }

    /// While the song waits, every receiver has what the plan has for what lands before that place, and nothing of what lands after.
    pub(super) fn state_while_waiting(&mut self, now: i64, at: i64) {
        let quiet = now - self.way.turned > 300_000 && now - self.disturbed > 1_500_000 && !self.way.lost;
        let Some(followed) = self.followed.filter(|followed| quiet && now - followed > 1_500_000) else { return };
        if self.scene.releases.iter().any(|facts| facts.instead.iter().any(Option::is_some))
            || self.disturbed > followed
        {
            return;
        }
        for port in 0..self.map.len() {
            let machine = self.map[port];
            if !self.there[machine] || self.works_from(machine) > now - 1_500_000 {
                continue;
            }
            let cues = || self.scene.harmless.iter().filter(|cue| cue.port == port);
            if cues().any(|cue| cue.by_hand || cue.depends.is_some())
                || cues().any(|cue| (cue.send - at).abs() < 60_000 && cue.land != at)
            {
                continue;
            }
            let last = cues().filter(|cue| cue.land < at).max_by_key(|cue| cue.send);
            let Some(last) = last.filter(|last| cues().filter(|cue| (cue.send - last.send).abs() < 2).count() == 1)
            else {
                continue;
            };
            let has = self.last_program.get(&(machine, last.bytes[0] & 15)).map(|(_, number)| *number);
            if has != Some(last.bytes[1]) {
                let words = format!(
                    "the song waits at {}, and channel {} of {} has program {has:?} where {} belongs",
                    time(at),
                    (last.bytes[0] & 15) + 1,
                    MACHINE[machine],
                    last.label
                );
                self.object(17, now, &words);
            }
        }
    }
}

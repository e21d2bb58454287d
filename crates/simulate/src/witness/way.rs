//! The way of the song, as the witness works it out from what people chose: waits, vamps, cuts, by hand.

use super::known::Way;
use super::{Place, Witness};
use crate::scene::SONG_US;
use crate::script::Bending;

/// A choice that comes this long before its place, or less, may or may not come in time: what leads in there may have left. The longest lead of
/// any message in a scene is less.
const UNCLEAR: i64 = 290_000;
/// The shortest vamp and cut.
const LEAST: i64 = 1_000_000;

impl Witness {
    /// Follows the song along its way, up to now.
    pub(super) fn walk(&mut self, now: i64) {
        for _ in 0..64 {
            let Some(Place { song, at }) = self.place else { return };
            let way = &self.way;
            if way.led || way.lost || self.looped.is_some() {
                return;
            }
            let here = song + now - at;
            let wait = way.wait.filter(|to| *to >= song);
            let vamp = way.vamp.filter(|(_, to)| *to > song && way.left != Some(*to));
            let cut = way.cut.filter(|(from, _)| *from >= song);
            let turns = [cut.map(|cut| cut.0), wait, vamp.map(|vamp| vamp.1)];
            let Some(turn) = turns.into_iter().flatten().min().filter(|turn| here >= *turn) else { return };
            let then = at + turn - song;
            if then <= self.stalled_until && then >= self.stalled_from {
                // After a stall, what was due before the turn may still leave, late.
                self.way.lost = true;
                return;
            }
            self.close(then);
            self.nothing_beyond(then, turn);
            self.way.turned = then;
            if cut.is_some_and(|cut| cut.0 == turn) {
                let (_, to) = cut.unwrap_or_default();
                self.place = Some(Place { song: to, at: then });
                self.way.cut = None;
            } else if wait == Some(turn) {
                self.place = None;
                (self.way.wait, self.way.waits) = (None, Some(turn));
                self.end_notes(then);
            } else {
                let (from, _) = vamp.unwrap_or_default();
                self.place = Some(Place { song: from, at: then });
                // What was settled in the round before stays settled.
                self.way.jumped = true;
                if std::mem::take(&mut self.way.leaving) {
                    self.way.left = Some(turn);
                }
            }
        }
        self.way.lost = true;
    }

    /// The song leaves the straight line at a place: what lands from there on must not have been sent, although it would have left by now.
    fn nothing_beyond(&mut self, then: i64, turn: i64) {
        let quiet = then - self.disturbed > 1_000_000 && then - self.way.turned > 1_000_000 && !self.way.lost;
        let begun = self.place.is_some_and(|place| then - place.at > 1_000_000);
        if !quiet || !begun {
            return;
        }
        let crosses = |cue: &&crate::scene::HarmlessCue| !cue.by_hand && cue.send < turn && cue.land >= turn;
        let sent = self.scene.harmless.iter().filter(crosses).find(|cue| {
            let last = self.last_program.get(&(self.map[cue.port], cue.bytes[0] & 15));
            last.is_some_and(|(at, number)| *number == cue.bytes[1] && then - at < 100_000)
        });
        if let Some(label) = sent.map(|cue| cue.label.clone()) {
            self.object(17, then, &format!("{label} was sent, and the song left the straight line before it"));
        }
    }

    /// A band leads, and somebody tells where it is. Without a place that counts, only whether he is sure.
    pub(super) fn band(&mut self, now: i64, (song, at): (Option<i64>, i64), sure: bool) {
        if self.place.is_none() {
            return;
        }
        if !sure || self.way.unsure.is_some() {
            self.close(now);
            self.disturbed = self.disturbed.max(now);
        }
        self.way.unsure = if sure { None } else { self.way.unsure.or(Some(now)) };
        // Another clock knew nothing of bends; from now on they count, and which of them cannot be told from outside.
        self.way.lost |= self.way.led && (self.way.wait.is_some() || self.way.vamp.is_some() || self.way.cut.is_some());
        self.way.led = false;
        let (Some(song), Some(own)) = (song, self.place(at)) else { return };
        let off = song - own;
        if off == 0 {
            return;
        }
        self.moved(own, song);
        if off.abs() >= 150_000 {
            self.close(now);
        }
        let followed = self.followed;
        if off.abs() >= 2_000_000 {
            let way = Way { lost: self.way.lost, unsure: self.way.unsure, jumped: true, ..Way::straight() };
            self.way = way;
            self.end_notes(now);
        }
        let is_over = own > SONG_US;
        self.place = Some(Place { song, at });
        self.way.moves.push((now, off));
        self.disturb(now);
        self.followed = followed.filter(|_| off.abs() >= 2_000_000 && !is_over).map(|_| now);
    }

    /// By how much more of the machine's time than of the song a place may have been reached before a time, because a band or a clock took the
    /// song back since.
    pub(super) fn taken_back(&self, at: i64) -> i64 {
        let lately = self.way.moves.iter().filter(|(when, off)| at - when < 3_000_000 && *off < 0);
        lately.map(|(_, off)| -off).sum()
    }

    /// A clock from outside moves the song: beyond a place where it leaves the straight line, nobody can tell from outside what comes of it.
    pub(super) fn moved(&mut self, from: i64, to: i64) {
        let turns = [self.way.wait, self.way.vamp.map(|vamp| vamp.1), self.way.cut.map(|cut| cut.0)];
        let between = |at: &i64| (from.min(to) - 1_000..=from.max(to) + 1_000).contains(at);
        self.way.lost |= turns.iter().flatten().any(between);
    }

    /// Whether a choice for a place ahead counts. One that comes just before it may or may not.
    fn in_time(&mut self, here: i64, place: i64) -> bool {
        let ahead = place - here;
        if (0..UNCLEAR).contains(&ahead) {
            self.way.lost = true;
        }
        ahead >= UNCLEAR
    }

    /// A person bends the run.
    pub(super) fn bent(&mut self, now: i64, bending: Bending) {
        let here = self.place(now);
        let bends = !self.way.led && self.looped.is_none();
        self.way.chosen = now;
        match (bending, here) {
            (Bending::Wait(at), Some(here)) if bends && self.in_time(here, at) => self.way.wait = Some(at),
            (Bending::Vamp(from, to), Some(here)) if bends => {
                let inside = (from..to).contains(&here);
                if to - from >= LEAST && (inside || here < from) && self.in_time(here, to) {
                    (self.way.vamp, self.way.left) = (Some((from, to)), None);
                }
            }
            (Bending::Cut(from, to), Some(here)) if bends && to - from >= LEAST && self.in_time(here, from) => {
                self.way.cut = Some((from, to));
            }
            (Bending::Leave, Some(here)) if bends => {
                if let Some((from, to)) = self.way.vamp.filter(|(_, to)| self.way.left != Some(*to))
                    && (from..to).contains(&here)
                {
                    if self.in_time(here, to) {
                        (self.way.left, self.way.leaving) = (Some(to), false);
                    } else {
                        self.way.leaving = true;
                    }
                }
            }
            (Bending::GoOn, _) => {
                if let Some(at) = self.way.waits.take() {
                    self.state_while_waiting(now, at);
                    // It goes on as soon as what leads in can have left: within the time that is unclear.
                    let lead = self.lead_into(at);
                    self.way.turned = now + lead;
                    self.way.wait = None;
                    self.place = Some(Place { song: at, at: now + lead });
                    self.fresh(now);
                }
            }
            // A person begins anew, by hand.
            (Bending::ByHand, _) if !self.way.by_hand && self.broke.is_none() => {
                (self.stopped_all, self.stopped) = (None, None);
                self.close(now);
                self.place = None;
                self.hand_leads = true;
                self.way = Way { by_hand: true, ..Way::default() };
                self.end_notes(now);
                self.disturb(now);
            }
            (Bending::Next, _) => self.way.next = self.way.by_hand.then_some(now),
            (Bending::Stays(_) | Bending::Stuck(_) | Bending::Down(_) | Bending::TryAt(..), _)
                if here.is_some() || self.way.waits.is_some() || self.way.by_hand =>
            {
                self.said(now, bending);
            }
            _ => {}
        }
    }

    /// How long before a place the first message leaves that belongs to what lands from there on. The witness knows the leads of what it
    /// follows: the time that their bytes take.
    fn lead_into(&self, at: i64) -> i64 {
        let harmless = self.scene.harmless.iter().filter(|cue| !cue.by_hand).map(|cue| (cue.send, cue.land));
        let hostile = self.scene.others.iter().copied();
        let into = harmless.chain(hostile).filter(|(send, land)| *send < at && *land >= at);
        into.map(|(send, _)| at - send).max().unwrap_or(0)
    }
}

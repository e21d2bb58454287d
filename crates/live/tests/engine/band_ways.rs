//! A live band goes round, leaves out a part and waits, and what is sent goes with it: compared with a list of the beats that the band plays,
//! which is made here.

use super::made_up::{Desk, at, plan as run_plan, show as demo_show, song};
use super::ways::{bend, leading, mark, marked, vamp};
use letfall_core::show::{Label, SongBend};
use letfall_live::{
    Answer, Band, BandPlace, Bend, Command, DisarmReason, Event, Lock, MachineTime, Mode, Moves, Rate, ReleaseIndex,
    RunItem, RunPlan, SendOutcome, SyncPlan,
};
use std::sync::Arc;

/// What the band plays: stretches of the song, each with the time at which it begins, and how long a second of the song takes it.
struct Played {
    stretches: Vec<(i64, i64, i64)>,
    slow: f64,
    /// How long a beat of the song is.
    beat: i64,
}

impl Played {
    #[allow(clippy::cast_possible_truncation)] // minutes
    fn takes(&self, song: i64) -> i64 {
        (song as f64 * self.slow) as i64
    }

    /// When the taps come, 30 ms before each beat, as people tap.
    fn taps(&self) -> Vec<i64> {
        let of = |(from, to, begins): &(i64, i64, i64)| {
            let (from, to, begins) = (*from, *to, *begins);
            (0..(to - from + self.beat / 2) / self.beat).map(move |beat| begins + self.takes(beat * self.beat) - 30_000)
        };
        self.stretches.iter().flat_map(of).collect()
    }

    /// When what lands in each stretch must leave.
    fn wanted(&self, plan: &RunPlan) -> Vec<(i64, Label)> {
        let mut all = Vec::new();
        for (from, to, begins) in &self.stretches {
            let lands = |item: &&RunItem| {
                item.ends.is_none() && item.release.is_none() && (*from..*to).contains(&item.land.micros())
            };
            let leaves =
                |item: &RunItem| begins + self.takes(item.land.micros() - from) - (item.land - item.due).micros();
            all.extend(plan.timed().iter().filter(lands).map(|item| (leaves(item), item.label)));
        }
        all.sort_unstable();
        all
    }
}

/// Somebody who taps along, and the screen that passes on where the band is.
struct Hall {
    desk: Desk,
    plan: Arc<RunPlan>,
    band: Band,
    turns: u32,
    heard: usize,
    taps: Vec<i64>,
}

impl Hall {
    fn begins(plan: &Arc<RunPlan>, bar: i32, mode: Mode) -> Hall {
        let mut desk = Desk::new(plan, SyncPlan::default());
        desk.give(Command::Mode(mode));
        desk.start(plan.grid.bar_time(bar).micros(), false);
        let mut band = Band::new(&plan.grid, 1, 60, &[]);
        assert!(band.here(bar, at(desk.now - 30_000)));
        Hall { desk, plan: plan.clone(), band, turns: 0, heard: 0, taps: Vec::new() }
    }

    /// Runs for some time, frame by frame.
    fn to(&mut self, until: i64) {
        while self.desk.now < until {
            let frame = self.desk.now + 20_000;
            self.desk.run_to(frame, None);
            // The screen hears a frame late of what happened.
            for event in &self.desk.events[self.heard..] {
                match *event {
                    Event::Turned { from, to, turns, at, .. } => {
                        self.turns = turns;
                        self.band.turned(from, to, at);
                    }
                    Event::Waits { .. } => self.band.waits(),
                    Event::GoesOn { song, at } => self.band.goes_on(song, at),
                    _ => {}
                }
            }
            self.heard = self.desk.events.len();
            let now = self.desk.now;
            while let Some(tap) = self.taps.first().copied().filter(|tap| *tap <= now) {
                self.taps.remove(0);
                self.band.tap(at(tap));
            }
            if self.desk.engine.place(at(now)).moves == Moves::Runs {
                self.desk.give(Command::Band(self.band.place(at(now), self.turns)));
            }
        }
    }

    /// What left by itself between two times, and not at a start or a turn.
    fn sent(&self, within: std::ops::Range<i64>) -> Vec<(i64, Label)> {
        let of = |event: &Event| match event {
            Event::Message { item, outcome: SendOutcome::Sent, at, .. } => {
                self.plan.item(*item).filter(|i| i.ends.is_none()).map(|i| (at.micros(), i.label))
            }
            _ => None,
        };
        let mut all: Vec<_> = self.desk.events.iter().filter_map(of).filter(|s| within.contains(&s.0)).collect();
        all.sort_unstable();
        all
    }

    /// Checks that everything leaves once, when the band asks for it.
    fn goes_with(&self, played: &Played, within: std::ops::Range<i64>, words: &str) {
        let mut wanted: Vec<_> = played.wanted(&self.plan).into_iter().filter(|s| within.contains(&s.0)).collect();
        let mut got = self.sent(within);
        let key = |s: &(i64, Label)| (s.1, s.0);
        wanted.sort_unstable_by_key(key);
        got.sort_unstable_by_key(key);
        let labels = |all: &[(i64, Label)]| all.iter().map(|s| s.1).collect::<Vec<_>>();
        assert_eq!(labels(&got), labels(&wanted), "{words}");
        assert!(!wanted.is_empty(), "{words}");
        for (got, wanted) in got.iter().zip(&wanted) {
            assert!((got.0 - wanted.0).abs() < 20_000, "{words}: {} left at {} for {}", got.1, got.0, wanted.0);
        }
    }
}

/// A vamp of four bars that goes round three times, with a band that is slower or faster than planned: everything leaves once in each round,
/// as long before its land as ever, and the song never jumps.
#[test]
fn a_band_goes_round_with_the_vamp() {
    let plan = marked(&leading(), vec![vamp(5, 4)]);
    let bar = |bar: i32| plan.grid.bar_time(bar).micros();
    for slow in [1.07, 0.95] {
        let mut hall = Hall::begins(&plan, 1, Mode::Rehearse);
        let (from, to, mut begins) = (bar(5), bar(9), hall.desk.now);
        let mut played = Played { stretches: Vec::new(), slow, beat: bar(2) / 4 };
        for (from, to) in [(bar(1), to), (from, to), (from, to), (to, bar(20))] {
            played.stretches.push((from, to, begins));
            begins += played.takes(to - from);
        }
        hall.taps = played.taps().split_off(1);
        let third = played.stretches[2].2;
        hall.to(third + 1_000_000);
        assert_eq!(bend(&mut hall.desk, Bend::Leave { at: None }), Answer::Done);
        hall.to(begins - 1_000_000);
        let first = played.stretches[0].2;
        hall.goes_with(&played, first + 5_000_000..begins - 2_000_000, &format!("{slow}"));
        let starts = hall.desk.events.iter().filter(|e| matches!(e, Event::Started { .. })).count();
        assert_eq!(starts, 1, "a jump");
        assert_eq!(hall.turns, 2);
    }
}

/// A part that is left out, and a wait after which the band begins again at another tempo: somebody says so on the downbeat, or the caller
/// lets the song go on.
#[test]
fn a_band_leaves_out_a_part_and_waits() {
    let plan = marked(&leading(), vec![mark(11, SongBend::Wait {})]);
    let bar = |bar: i32| plan.grid.bar_time(bar).micros();
    let mut hall = Hall::begins(&plan, 1, Mode::Rehearse);
    let begins = hall.desk.now;
    let mut played = Played { stretches: vec![(bar(1), bar(4), begins)], slow: 1.06, beat: bar(2) / 4 };
    let left = begins + played.takes(bar(4) - bar(1));
    played.stretches.push((bar(9), bar(11), left));
    hall.taps = played.taps().split_off(1);
    hall.to(begins + 2_500_000);
    assert_eq!(bend(&mut hall.desk, Bend::Cut { from: song(bar(4)), to: song(bar(9)) }), Answer::Done);
    let waits = left + played.takes(bar(11) - bar(9));
    hall.to(waits + 7_000_000);
    hall.goes_with(&played, begins + 3_000_000..waits, "left out");
    assert_eq!(hall.desk.engine.place(at(hall.desk.now)).moves, Moves::Waits);
    // While it waits, taps move nothing.
    hall.band.tap(at(hall.desk.now));
    assert!(hall.band.place(at(hall.desk.now), hall.turns).is_none());
    // The song goes on when somebody says so, and the band with it; the releases stay locked until taps agree.
    assert_eq!(bend(&mut hall.desk, Bend::GoOn), Answer::Done);
    let goes_on = hall.desk.now + plan.lead_into(song(bar(11)), Rate::PLANNED).micros();
    let again = Played { stretches: vec![(bar(11), bar(20), goes_on)], slow: 1.06, beat: bar(2) / 4 };
    hall.taps = again.taps().split_off(1);
    hall.to(goes_on + 1_000_000);
    assert!(!hall.band.is_sure(at(hall.desk.now)));
    hall.to(goes_on + 14_000_000);
    assert!(hall.band.is_sure(at(hall.desk.now)));
    hall.goes_with(&again, goes_on + 1_000_000..goes_on + 13_000_000, "went on");
    // "Here is bar 12" while it waits is kept, and not undone by the news that the song goes on.
    hall.band.waits();
    assert!(hall.band.here(12, at(hall.desk.now)));
    hall.band.goes_on(song(bar(11)), at(hall.desk.now));
    let place = hall.band.place(at(hall.desk.now + 40_000), hall.turns).unwrap();
    assert_eq!(place.song.micros(), bar(12));
    // A turn far from where the band is does not concern it either.
    hall.band.turned(song(bar(15)), song(bar(2)), at(hall.desk.now));
    let place = hall.band.place(at(hall.desk.now + 40_000), hall.turns).unwrap();
    assert_eq!(place.song.micros(), bar(12));
}

/// A place that was said before a turn of which its sender had not heard moves nothing, but it still locks.
#[test]
fn a_place_from_before_a_turn_moves_nothing() {
    let plan = marked(&leading(), vec![vamp(5, 4)]);
    let (from, to) = (plan.grid.bar_time(5).micros(), plan.grid.bar_time(9).micros());
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.start(from, false);
    let begun = desk.now;
    desk.run_to(begun + to - from + 100_000, None);
    let here = desk.engine.place(at(desk.now)).song.micros();
    assert_eq!(here, from + 100_000, "it has gone round");
    let place = |song_at: i64, turns: u32, now: i64| {
        Command::Band(Some(BandPlace { song: song(song_at), at: at(now), rate: Rate::PLANNED, sure: true, turns }))
    };
    let now = desk.now;
    desk.give(place(to + 90_000, 0, now));
    assert_eq!(desk.engine.place(at(desk.now)).song.micros(), here);
    desk.give(place(from + 90_000, 1, now));
    assert_eq!(desk.engine.place(at(desk.now)).song.micros(), from + 90_000);
    // Said to be elsewhere, it jumps there.
    desk.give(place(to + 90_000, 1, now));
    assert_eq!(desk.engine.place(at(desk.now)).song.micros(), to + 90_000);
}

/// The band becomes much slower or faster just before it goes round: what leads into the stretch leaves once, as long before its land as ever.
#[test]
fn a_change_of_tempo_at_a_turn_loses_nothing() {
    let plan = marked(&leading(), vec![vamp(5, 4)]);
    let (from, to) = (plan.grid.bar_time(5).micros(), plan.grid.bar_time(9).micros());
    for (rate, before) in [(600_000, 620_000), (600_000, 400_000), (1_500_000, 900_000), (1_000_000, 400_000)] {
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.start(from, false);
        let begun = desk.now;
        desk.run_to(begun + to - from - before, None);
        let (now, rate) = (desk.now, Rate::per_million(rate));
        let place = BandPlace { song: song(to - before), at: at(now), rate, sure: true, turns: 0 };
        desk.give(Command::Band(Some(place)));
        let turns = now + rate.machine(before);
        desk.run_to(turns + 4_000_000, None);
        let mut seen = 0;
        for item in plan.timed().iter().filter(|i| i.ends.is_none() && i.release.is_none()) {
            let land = item.land.micros();
            let lands = turns + rate.machine(land - from);
            let leaves = lands - (item.land - item.due).micros();
            // What has left by the planned tempo does not leave again.
            let left = begun + (to - from) + (land - from) - (item.land - item.due).micros() < now;
            if left || !(from..to).contains(&land) || !(now..turns + 3_500_000).contains(&leaves) {
                continue;
            }
            seen += 1;
            let of = |event: &Event| match event {
                Event::Message { item: of, outcome: SendOutcome::Sent, at, .. }
                    if plan.label(*of) == Some(item.label) && plan.item(*of).is_some_and(|i| i.ends.is_none()) =>
                {
                    Some(at.micros()).filter(|at| *at >= now)
                }
                _ => None,
            };
            let times: Vec<i64> = desk.events.iter().filter_map(of).collect();
            assert_eq!(times.len(), 1, "{} at {rate:?} from {before} µs before: {times:?} for {leaves}", item.label);
            assert!((times[0] - leaves).abs() <= 2, "{}: {} for {leaves}", item.label, times[0]);
        }
        assert!(seen > 0, "{rate:?}");
    }
}

/// As long as nobody has said where the band is, nothing can be armed.
#[test]
fn nothing_is_armed_while_nobody_knows_where_the_band_is() {
    let plan = run_plan(&demo_show());
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.give(Command::Mode(Mode::Perform));
    desk.start(plan.releases[0].from.micros(), false);
    let begun: MachineTime = at(desk.now);
    desk.give(Command::Band(None));
    desk.run_to(begun.micros() + 2_000_000, Some((0, 1)));
    assert_eq!(desk.engine.lock(ReleaseIndex(0)), Some(Lock::Closed));
    desk.let_go(0);
    // Without a band it can; then it is taken away again.
    desk.start(plan.releases[0].from.micros(), false);
    let now = desk.now;
    desk.run_to(now + 1_500_000, Some((0, 1)));
    assert!(matches!(desk.engine.lock(ReleaseIndex(0)), Some(Lock::Armed { .. })));
    desk.give(Command::Band(None));
    assert!(desk.events.iter().any(|e| matches!(e, Event::Disarmed { why: DisarmReason::Unsure, .. })));
}

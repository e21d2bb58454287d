//! Walks the lock of a release through every state that it can reach. No path lets a release out unarmed, twice, or outside its
//! window. A separate witness keeps track of what is allowed and does not read it from the lock.

use letfall_core::time::SongTime;
use letfall_live::{Grip, HolderId, Interlock, Lock, MachineTime};
use std::collections::BTreeSet;

/// Time advances in quarters of a second. HOLD is four of them, HEARTBEAT two.
const TICK: i64 = 250_000;
const HOLD: i64 = letfall_live::HOLD.micros();
const HEARTBEAT: i64 = letfall_live::HEARTBEAT.micros();
const FROM: i64 = 4 * TICK;
const TO: i64 = 16 * TICK;

/// What happened, as seen by a witness that knows only presses and clocks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Witness {
    /// Who has held without interruption, for how long, and how long ago the hold was renewed.
    held: Option<(u16, i64, i64)>,
    passed: bool,
    /// It is settled that the fabric stays.
    stays: bool,
}

#[derive(Debug, Clone, Copy)]
enum Step {
    Nothing,
    Hold(u16),
    LetGo,
    /// Stop, port loss, sleep: everything closes.
    Close,
    Pass,
    /// It is settled that the fabric stays.
    Withhold,
}

fn at(micros: i64) -> MachineTime {
    MachineTime::from_micros(micros)
}

fn song(micros: i64) -> SongTime {
    SongTime::saturating(micros)
}

/// A state that does not depend on the absolute time: times are kept as ages, and capped where older makes no difference.
fn seen(lock: &Interlock, now: i64, song: Option<i64>, witness: Witness) -> (u8, i64, i64, u16, Option<i64>, Witness) {
    let (kind, since, renewed, holder) = match lock.lock() {
        Lock::Closed => (0, 0, 0, 0),
        Lock::Opening { since, renewed, holder, .. } => {
            (1, (now - since.micros()).min(HOLD), now - renewed.micros(), holder.0)
        }
        Lock::Armed { renewed, holder, .. } => (2, 0, now - renewed.micros(), holder.0),
        Lock::Spent => (3, 0, 0, 0),
        Lock::Withheld => (4, 0, 0, 0),
    };
    (kind, since, renewed, holder, song, witness)
}

#[test]
fn no_path_lets_a_release_out_that_must_not() {
    assert_eq!((HOLD, HEARTBEAT), (4 * TICK, 2 * TICK));
    let start =
        (Interlock::new(song(FROM), song(TO)), 0i64, Some(0i64), Witness { held: None, passed: false, stays: false });
    let mut known = BTreeSet::new();
    let mut open = vec![start];
    let (mut passes, mut armed) = (0u32, 0u32);
    while let Some((lock, now, song, witness)) = open.pop() {
        if !known.insert(seen(&lock, now, song, witness)) {
            continue;
        }
        // The song continues, stays where it is, stops, or is set to any other place.
        let mut songs = vec![song.map(|s| s + TICK), song, None];
        songs.extend((0..=20).map(|k| Some(k * TICK)));
        for next_song in songs {
            let moved = next_song != song.map(|s| s + TICK);
            for step in
                [Step::Nothing, Step::Hold(1), Step::Hold(2), Step::LetGo, Step::Close, Step::Pass, Step::Withhold]
            {
                let (mut lock, mut witness, now) = (lock, witness, now + TICK);
                if next_song.is_some_and(|s| s > 20 * TICK) {
                    continue;
                }
                // Setting the playhead, stopping and starting close every lock: the engine does so, see engine.rs.
                if moved {
                    lock.close();
                    witness.held = None;
                }
                witness.held =
                    witness.held.map(|(who, long, age)| (who, long + TICK, age + TICK)).filter(|h| h.2 <= HEARTBEAT);
                let inside = next_song.is_some_and(|s| (FROM..=TO).contains(&s));
                if !inside {
                    witness.held = None;
                }
                match step {
                    Step::Nothing => drop(lock.tick(at(now), next_song.map(self::song)).err()),
                    Step::Hold(who) => {
                        let _told = lock.hold((at(now), at(now)), next_song.map(self::song), HolderId(who), Grip(1));
                        witness.held = match witness.held {
                            _ if !inside => None,
                            Some((own, long, _)) if own == who => Some((who, long.min(HOLD), 0)),
                            // Another person ends the hold. Their own hold begins with this press at the earliest.
                            _ => Some((who, 0, 0)),
                        };
                    }
                    Step::Withhold => {}
                    Step::LetGo | Step::Close => {
                        lock.close();
                        witness.held = None;
                    }
                    Step::Pass => {
                        if let Some((holder, _)) = lock.pass(at(now), next_song.map(self::song)) {
                            passes += 1;
                            let (who, long, age) = witness.held.expect("a release left that nobody held");
                            assert_eq!(who, holder.0);
                            assert!(long >= HOLD && age <= HEARTBEAT, "held {long}, renewed {age} ago");
                            assert!(inside, "outside its window");
                            assert!(!witness.passed, "twice");
                            assert!(!witness.stays, "though it was settled that the fabric stays");
                            witness.passed = true;
                        }
                    }
                }
                if matches!(step, Step::Withhold) {
                    lock.withhold();
                    (witness.held, witness.stays) = (None, true);
                }
                witness.held = witness.held.map(|(who, long, age)| (who, long.min(HOLD), age));
                if let Lock::Armed { .. } = lock.lock() {
                    armed += 1;
                    assert!(
                        witness.held.is_some_and(|h| h.1 >= HOLD),
                        "armed without a hold: {witness:?} {lock:?} at {now}, {next_song:?} after {step:?}, moved {moved}"
                    );
                }
                open.push((lock, now, next_song, witness));
            }
        }
    }
    // Make sure that the walk covered something: the lock can be armed, and can let a release out.
    assert!(known.len() > 300 && armed > 0 && passes > 0, "{} states, {armed} armed, {passes} passes", known.len());
}

/// A hold arms once it is long enough, and not before.
#[test]
fn a_second_of_holding_arms() {
    let mut lock = Interlock::new(song(0), song(10_000_000));
    let mut hold = |micros: i64| lock.hold((at(micros), at(micros)), Some(song(micros)), HolderId(7), Grip(1));
    for early in [0, 400_000, 800_000, HOLD - 1] {
        assert_eq!(hold(early), Ok(false));
    }
    assert_eq!(hold(HOLD), Ok(true));
    let mut pass = |micros: i64| lock.pass(at(micros), Some(song(micros)));
    assert_eq!(pass(HOLD + 1), Some((HolderId(7), Grip(1))));
    assert_eq!(pass(HOLD + 2), None);
    assert_eq!(lock.lock(), Lock::Spent);
}

/// A hold command that arrives late does not show that the release is still held. One given half a second ago still counts,
/// and an older one does not. Its age counts from when it was given.
#[test]
fn a_hold_that_comes_late_is_as_old_as_it_is() {
    let hold = |lock: &mut Interlock, given: i64, now: i64| {
        lock.hold((at(given), at(now)), Some(song(0)), HolderId(1), Grip(1))
    };
    let mut lock = Interlock::new(song(0), song(0));
    assert_eq!(hold(&mut lock, 0, HEARTBEAT + 1), Ok(false));
    assert_eq!(lock.lock(), Lock::Closed);
    assert_eq!(hold(&mut lock, 1, HEARTBEAT + 1), Ok(false));
    assert!(matches!(lock.lock(), Lock::Opening { renewed, .. } if renewed == at(1)));
    // The last renewal was given half a second ago, so the hold is over a moment later.
    assert!(lock.tick(at(HEARTBEAT + 1), Some(song(0))).is_ok());
    assert!(lock.tick(at(HEARTBEAT + 2), Some(song(0))).is_err());
    // A hold with a time in the future counts as given now.
    let mut lock = Interlock::new(song(0), song(0));
    assert_eq!(hold(&mut lock, 9_000_000, 10), Ok(false));
    assert!(matches!(lock.lock(), Lock::Opening { renewed, .. } if renewed == at(10)));
}

/// Why an armed lock closes: at either end of its window, or when its clock goes wrong. At exactly the ends it stays armed.
#[test]
fn what_closes_a_lock_is_said() {
    use letfall_live::DisarmReason as Why;
    let armed = || {
        let mut lock = Interlock::new(song(FROM), song(TO));
        for k in 0..=4 {
            let now = at(10_000_000 + k * TICK);
            assert!(lock.hold((now, now), Some(song(FROM)), HolderId(1), Grip(1)).is_ok());
        }
        assert!(matches!(lock.lock(), Lock::Armed { .. }));
        lock
    };
    let renewed = 10_000_000 + 4 * TICK;
    for (now, place, why) in [
        (renewed, Some(FROM), None),
        (renewed, Some(TO), None),
        (renewed, Some(FROM - 1), Some(Why::Located)),
        (renewed, Some(TO + 1), Some(Why::WindowOver)),
        (renewed, None, Some(Why::Stopped)),
        (renewed + HEARTBEAT, Some(FROM), None),
        (renewed + HEARTBEAT + 1, Some(FROM), Some(Why::Silence)),
        (renewed - 1, Some(FROM), Some(Why::Slept)),
        // Outside its window, the window is the reason that is given.
        (renewed + HEARTBEAT + 1, Some(TO + 1), Some(Why::WindowOver)),
    ] {
        let mut lock = armed();
        assert_eq!(lock.tick(at(now), place.map(song)).err(), why, "{now} {place:?}");
        assert_eq!(matches!(lock.lock(), Lock::Armed { .. }), why.is_none());
    }
}

/// A second try can be asked for once, after the first has left. It has its own window, and a new run resets it.
#[test]
fn a_second_try_is_asked_for_once() {
    let (from, to) = (song(0), song(10_000_000));
    let mut lock = Interlock::new(from, to);
    let arm = |lock: &mut Interlock, place: i64, begin: i64| {
        for k in 0..=4 {
            let now = at(begin + k * TICK);
            assert!(lock.hold((now, now), Some(song(place)), HolderId(1), Grip(3)).is_ok());
        }
        lock.pass(at(begin + 4 * TICK), Some(song(place)))
    };
    assert!(!lock.begin_second_try(song(20_000_000), song(30_000_000)), "nothing has left yet");
    assert_eq!(lock.grip(), None);
    let now = at(0);
    assert!(lock.hold((now, now), Some(song(0)), HolderId(1), Grip(3)).is_ok());
    assert_eq!(lock.grip(), Some(Grip(3)));
    assert!(lock.close() && !lock.close() && lock.grip().is_none());
    assert_eq!(arm(&mut lock, 0, 0), Some((HolderId(1), Grip(3))));
    assert!(!lock.is_second_try() && lock.grip().is_none());
    assert!(lock.begin_second_try(song(20_000_000), song(30_000_000)) && lock.is_second_try());
    assert!(!lock.is_within(song(0)) && lock.is_within(song(20_000_000)) && !lock.is_within(song(30_000_001)));
    assert_eq!(arm(&mut lock, 0, 10_000_000), None, "its first window is over");
    assert_eq!(arm(&mut lock, 25_000_000, 20_000_000), Some((HolderId(1), Grip(3))));
    assert!(!lock.begin_second_try(song(20_000_000), song(30_000_000)), "there is no third");
    lock.renew();
    assert!(!lock.is_second_try() && lock.lock() == Lock::Closed && lock.is_within(song(0)));
}

/// What is settled to stay cannot be armed any more, except by a second try, with a window of its own, and a new run.
#[test]
fn what_stays_is_armed_by_a_second_try_alone() {
    let hold = |lock: &mut Interlock, begin: i64, place: i64| {
        (0..=4).any(|k| {
            let now = at(begin + k * TICK);
            lock.hold((now, now), Some(song(place)), HolderId(1), Grip(1)).unwrap_or(false)
        })
    };
    let mut lock = Interlock::new(song(FROM), song(TO));
    assert!(!lock.is_settled() && hold(&mut lock, 0, FROM));
    assert!(lock.withhold() && lock.is_settled() && lock.lock() == Lock::Withheld && lock.grip().is_none());
    assert!(!lock.withhold(), "it was not armed the second time");
    assert!(!hold(&mut lock, 10 * TICK, FROM) && lock.pass(at(15 * TICK), Some(song(FROM))).is_none());
    assert!(!lock.close() && lock.lock() == Lock::Withheld, "closing does not open it again");
    assert!(lock.tick(at(15 * TICK), None).is_ok());
    assert!(lock.begin_second_try(song(TO + 1), song(TO + 2)) && !lock.is_settled());
    assert!(!hold(&mut lock, 20 * TICK, FROM), "its first window is over");
    assert!(hold(&mut lock, 30 * TICK, TO + 1));
    assert!(lock.pass(at(34 * TICK), Some(song(TO + 1))).is_some());
    lock.withhold();
    assert!(!lock.begin_second_try(song(TO + 1), song(TO + 2)), "there is no third");
    lock.renew();
    assert!(!lock.is_settled() && hold(&mut lock, 40 * TICK, FROM));
}

/// Every reason has its own words.
#[test]
fn reasons_are_told_apart() {
    use letfall_live::DisarmReason as Why;
    let all = [
        Why::LetGo,
        Why::Silence,
        Why::WindowOver,
        Why::Stopped,
        Why::Located,
        Why::Slept,
        Why::PortLost,
        Why::OtherHolder,
        Why::Stays,
        Why::Unsure,
    ];
    let words: BTreeSet<&str> = all.iter().map(|why| why.words()).collect();
    assert!(words.len() == all.len() && words.iter().all(|words| words.len() > 5), "{words:?}");
}

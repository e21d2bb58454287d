//! Long and random runs.

use super::made_up::{Desk, at, plan, show};
use letfall_live::{Command, Event, HOLD, ItemIndex, Mode, SendOutcome, ShowPort, SyncPlan};
use std::sync::Arc;

/// Whatever happens in whatever order, a release leaves at most once per run, only after a hold, and only within its window.
#[test]
fn random_runs_keep_the_rule() {
    let show = show();
    let plan = plan(&show);
    let release = plan.releases[0].clone();
    let item = *plan.timed().iter().find(|i| i.release.is_some() && i.ends.is_none()).unwrap();
    let bytes = plan.bytes(item.bytes).to_vec();
    let (from, to, decision) = (release.from.micros(), release.to.micros(), release.decision.micros());
    let mut seed = 11u64;
    let mut random = move |n: u64| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) % n
    };
    let (mut left, mut runs) = (0, 0);
    for _ in 0..4000 {
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.give(Command::Mode(if random(8) == 0 { Mode::Rehearse } else { Mode::Perform }));
        let mut holding = None;
        // The test keeps its own count of how often the release left.
        let mut this_run = 0;
        for _ in 0..40 {
            let somewhere = from - 4_000_000 + i64::try_from(random(18_000_000)).unwrap();
            let before = desk.sent().iter().filter(|s| s.2 == bytes).count();
            match random(14) {
                0..=2 => {
                    if random(2) == 0 {
                        desk.give(Command::NewRun);
                        this_run = 0;
                    }
                    desk.start(somewhere.min(decision - 1_500_000), random(2) == 0);
                }
                13 => desk.give(Command::Stop),
                3 => desk.give(Command::Locate { song: super::made_up::song(somewhere) }),
                4 => desk.give(Command::Follow { song: super::made_up::song(somewhere), at: at(desk.now) }),
                5 => {
                    holding = None;
                    desk.grip += 1;
                }
                6 => desk.let_go(0),
                7 if random(2) == 0 => desk.open(item.port.0),
                7 => desk.close(item.port.0),
                8 => desk.give(Command::Slept),
                9 => {
                    desk.give(Command::NewRun);
                    this_run = 0;
                }
                10 => desk.now += i64::try_from(random(3_000_000)).unwrap(),
                _ => holding = Some((0, u16::try_from(random(2)).unwrap())),
            }
            let until = desk.now + i64::try_from(random(4_000_000)).unwrap();
            desk.run_to(until, holding);
            let now = desk.sent().iter().filter(|s| s.2 == bytes).count();
            this_run += now - before;
            assert!(this_run <= 1, "twice in a run");
        }
        runs += 1;
        for (at, event) in desk.events.iter().enumerate() {
            let Event::Message { item: of, outcome: SendOutcome::Sent, at: when, due, holder } = event else {
                continue;
            };
            if plan.items[of.index()].release.is_none() || plan.items[of.index()].ends.is_some() {
                continue;
            }
            left += 1;
            assert!((*when - *due).micros() <= 250_000);
            // The last event of the lock before this must be "armed", by the same person, a full hold after "opening".
            let last =
                desk.events[..at].iter().rev().find(|e| matches!(e, Event::Armed { .. } | Event::Disarmed { .. }));
            let Some(Event::Armed { holder: by, at: armed, .. }) = last else { panic!("unarmed") };
            assert_eq!(Some(*by), *holder);
            let opening = desk.events[..at]
                .iter()
                .rev()
                .find_map(|e| if let Event::Opening { at, .. } = e { Some(*at) } else { None });
            assert!(*armed - opening.unwrap() >= HOLD);
            let started = desk.events[..at]
                .iter()
                .rev()
                .find_map(|e| if let Event::Started { song, at } = e { Some((*song, *at)) } else { None });
            let (song, since) = started.unwrap();
            // Within the window as counted from the last start. Following moves the place by less than 0.15 s each time.
            assert!((from - 2_000_000..=to + 2_000_000).contains(&(song + (*when - since).to_song()).micros()));
        }
    }
    assert!(runs == 4000 && left > 120, "{left} left");
}

/// How many megabytes this process uses, if the system tells.
fn resident() -> Option<u64> {
    let text = std::fs::read_to_string("/proc/self/statm").ok()?;
    text.split_whitespace().nth(1)?.parse::<u64>().ok().map(|pages| pages * 4096 / 1_000_000)
}

/// Loops twenty minutes ten times on a fake clock that steps like the real one. Nothing is lost, nothing is sent twice, and
/// memory does not grow.
#[test]
fn a_long_day() {
    let show = show();
    let mut long = (*plan(&show)).clone();
    let once: Vec<_> = long.timed().iter().filter(|i| i.release.is_none()).copied().collect();
    let (length, rounds) = (240_000_000i64, 5i64);
    long.items = Vec::new();
    for round in 0..rounds {
        let base = long.items.len();
        let place = |label, ends| {
            let at = once.iter().position(|o| o.label == label && o.ends.is_some() == ends).unwrap();
            ItemIndex::at(base + at)
        };
        for item in &once {
            let ends = item.ends.map(|_| place(item.label, false));
            let ended_by = item.ended_by.map(|_| place(item.label, true));
            let due = super::made_up::song(item.due.micros() + round * length);
            long.items.push(letfall_live::RunItem { due, ends, ended_by, ..*item });
        }
    }
    long.timed = long.items.len();
    long.end = super::made_up::song(rounds * length);
    let long = Arc::new(long);
    let mut desk = Desk::new(&long, SyncPlan { timecode: vec![ShowPort(0)], clock: Vec::new() });
    desk.wires.lock().unwrap().counts_alone = true;
    let mut sent = vec![0u8; long.items.len()];
    // Start before the song's beginning, because the first message leaves there.
    let from = -2_000_000;
    desk.give(Command::Loop(Some((super::made_up::song(from), long.end))));
    let begin = desk.now;
    desk.start(from, false);
    let end = begin + 10 * (rounds * length - from) - 1;
    let mut held = None;
    while desk.now < end {
        let next = desk.turn().unwrap();
        for event in desk.events.drain(..) {
            if let Event::Message { item, outcome: SendOutcome::Sent, due, at, .. } = event {
                sent[item.index()] += 1;
                let late = (at - due).micros();
                assert!(late < 60_000, "{late} µs late");
            }
        }
        // A machine wakes a little late, and sometimes 50 ms late.
        let late = if desk.now % 7_919 == 0 { 50_000 } else { desk.now % 89 };
        desk.now = (next.min(desk.now + 50_000).max(desk.now + 1) + late).min(end);
        if held.is_none() && desk.now > end / 10 {
            held = resident();
        }
    }
    desk.turn();
    for event in desk.events.drain(..) {
        if let Event::Message { item, outcome: SendOutcome::Sent, .. } = event {
            sent[item.index()] += 1;
        }
    }
    assert!(sent.iter().all(|n| *n == 10), "{:?}", sent.iter().enumerate().find(|(_, n)| **n != 10));
    // One quarter frame per 10 ms for 12 020 s, less those that were dropped because they were over 20 ms late.
    let frames = desk.wires.lock().unwrap().quarter_frames;
    assert!(frames > 1_190_000 && frames <= 1_202_000, "{frames}");
    if let (Some(before), Some(after)) = (held, resident()) {
        assert!(after <= before + 4, "{before} to {after} MB");
    }
}

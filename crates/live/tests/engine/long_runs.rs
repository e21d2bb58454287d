//! Long and random runs.

use super::desk::Desk;
use super::made_up::{at, plan, show};
use letfall_live::{
    Command, Engine, Event, Gone, HOLD, ItemIndex, MidiSink, Mode, ReleaseIndex, SendOutcome, ShowPort, SyncPlan,
};
use std::sync::Arc;

/// Whatever is done in whatever order, a release leaves at most once a run, only after a hold, only in its window.
#[test]
fn random_runs_keep_the_rule() {
    let show = show();
    let plan = plan(&show);
    let release = plan.releases[0].clone();
    let item = *plan.items.iter().find(|i| i.release.is_some() && i.ends.is_none()).unwrap();
    let bytes = plan.bytes(item.bytes).to_vec();
    let (from, to, send) = (release.from.micros(), release.to.micros(), release.send.micros());
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
        // The rule is kept beside: since when who holds, and how often it left.
        let mut this_run = 0;
        for _ in 0..40 {
            let somewhere = from - 4_000_000 + i64::try_from(random(18_000_000)).unwrap();
            let before = desk.wires.sent.iter().filter(|s| s.2 == bytes).count();
            match random(14) {
                0 | 1 => desk.start(somewhere.min(send - 1_000), random(2) == 0),
                2 => desk.give(Command::Stop),
                3 => desk.give(Command::Locate { song: super::made_up::song(somewhere) }),
                4 => desk.give(Command::Follow { song: super::made_up::song(somewhere), at: at(desk.now) }),
                5 => holding = None,
                6 => desk.give(Command::LetGo { release: ReleaseIndex(0) }),
                7 => desk.give(Command::Port { port: item.port, there: random(2) == 0 }),
                8 => desk.give(Command::Slept),
                9 if random(6) == 0 => {
                    desk.give(Command::NewRun);
                    this_run = 0;
                }
                10 => desk.now += i64::try_from(random(3_000_000)).unwrap(),
                _ => holding = Some((0, u16::try_from(random(2)).unwrap())),
            }
            let until = desk.now + i64::try_from(random(4_000_000)).unwrap();
            desk.run_to(until, holding);
            let now = desk.wires.sent.iter().filter(|s| s.2 == bytes).count();
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
            // The last word on the lock before it was "armed", by the same hand, at least a hold after "opening".
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
            // Within the window by the last start, or by what was followed since, which moves it by under 0.15 s a time.
            assert!((from - 2_000_000..=to + 2_000_000).contains(&(song + (*when - since).to_song()).micros()));
        }
    }
    assert!(runs == 4000 && left > 200, "{left} left");
}

/// Counts what is sent, and keeps nothing: a soak must not grow by its own notes.
#[derive(Default)]
struct Counts {
    by_port: [u64; 2],
    quarter_frames: u64,
}

impl MidiSink for Counts {
    fn send(&mut self, port: ShowPort, bytes: &[u8]) -> Result<(), Gone> {
        if bytes[0] == 0xf1 {
            self.quarter_frames += 1;
        } else {
            self.by_port[port.index()] += 1;
        }
        Ok(())
    }
}

/// Megabytes that this process holds, where the system tells.
fn resident() -> Option<u64> {
    let text = std::fs::read_to_string("/proc/self/statm").ok()?;
    text.split_whitespace().nth(1)?.parse::<u64>().ok().map(|pages| pages * 4096 / 1_000_000)
}

/// Three hours, ten times round, at the speed of a made-up clock that steps as the real one would: nothing lost, nothing twice,
/// nothing grown.
#[test]
fn a_long_day() {
    let show = show();
    let mut long = (*plan(&show)).clone();
    let once: Vec<_> = long.items.iter().filter(|i| i.release.is_none()).copied().collect();
    let (length, rounds) = (240_000_000i64, 45i64);
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
    long.end = super::made_up::song(rounds * length);
    let items = u64::try_from(long.items.len()).unwrap();
    let long = Arc::new(long);
    let sync = SyncPlan { timecode: vec![ShowPort(0)], clock: Vec::new() };
    let mut engine = Engine::new(long.clone(), sync);
    let mut wires = Counts::default();
    let mut sent = vec![0u8; long.items.len()];
    let mut tell = |event: Event| {
        if let Event::Message { item, outcome: SendOutcome::Sent, due, at, .. } = event {
            sent[item.index()] += 1;
            let late = (at - due).micros();
            assert!(late < 60_000, "{late} µs late");
        }
    };
    // From before the song's begin: its first message leaves there.
    let from = -2_000_000;
    engine.command(Command::Loop(Some((super::made_up::song(from), long.end))), at(0), &mut wires, &mut tell);
    engine.command(
        Command::Start { song: super::made_up::song(from), at: at(0), chase: false },
        at(0),
        &mut wires,
        &mut tell,
    );
    let (mut now, end) = (0i64, 10 * (rounds * length - from) - 1);
    let mut held = None;
    while now < end {
        let next = engine.step(at(now), &mut wires, &mut tell).unwrap().micros();
        // A machine wakes a little late, now and then by 50 ms.
        let late = if now % 7_919 == 0 { 50_000 } else { now % 89 };
        now = next.min(now + 50_000).max(now + 1) + late;
        if held.is_none() && now > end / 10 {
            held = resident();
        }
    }
    engine.step(at(end), &mut wires, &mut tell);
    assert!(sent.iter().all(|n| *n == 10), "{:?}", sent.iter().enumerate().find(|(_, n)| **n != 10));
    // One full frame at each of ten begins.
    assert_eq!(wires.by_port.iter().sum::<u64>(), items * 10 + 10);
    // A quarter frame every 10 ms of 108 020 s.
    assert!(wires.quarter_frames.abs_diff(10_802_000) < 200, "{}", wires.quarter_frames);
    if let (Some(before), Some(after)) = (held, resident()) {
        assert!(after <= before + 4, "{before} to {after} MB");
    }
}

//! What is sent, on a made-up clock and made-up ports, against the schedule of the demo show.

#![allow(clippy::unwrap_used)]

mod made_up;

use letfall_core::show::Kind;
use letfall_live::{
    Command, DisarmReason, Engine, Event, Gone, HOLD, HolderId, ItemIndex, Lock, MidiSink, Mode, PhysicalPort,
    ReleaseIndex, RunPlan, SendOutcome, ShowPort, SyncPlan,
};
use made_up::{Fake, at, plan, show, show_with_its_message_elsewhere};
use std::sync::Arc;

struct Desk {
    engine: Engine,
    wires: Fake,
    events: Vec<Event>,
    now: i64,
}

impl Desk {
    fn new(plan: &Arc<RunPlan>, sync: SyncPlan) -> Desk {
        Desk { engine: Engine::new(plan.clone(), sync), wires: Fake::default(), events: Vec::new(), now: 1_000_000 }
    }

    fn give(&mut self, command: Command) {
        self.wires.now = self.now;
        let events = &mut self.events;
        self.engine.command(command, at(self.now), &mut self.wires, &mut |e| events.push(e));
    }

    /// Goes on to a time of the clock, stopping wherever something is due; a hand may hold a release all the while.
    fn run_to(&mut self, until: i64, hold: Option<(u16, u16)>) {
        loop {
            self.wires.now = self.now;
            let events = &mut self.events;
            let next = self.engine.step(at(self.now), &mut self.wires, &mut |e| events.push(e));
            if let Some((release, holder)) = hold {
                self.give(Command::Hold { release: ReleaseIndex(release), holder: HolderId(holder) });
            }
            if self.now >= until {
                return;
            }
            self.now = next.map_or(i64::MAX, |next| next.micros()).min(until).min(self.now + 100_000).max(self.now + 1);
        }
    }

    fn start(&mut self, song: i64, chase: bool) {
        self.give(Command::Start { song: made_up::song(song), at: at(self.now), chase });
    }

    fn fates(&self, plan: &RunPlan, kind: Kind) -> Vec<SendOutcome> {
        let of = |e: &Event| match e {
            Event::Message { item, outcome, .. } => {
                let item = &plan.items[item.index()];
                (item.label.kind == kind && item.ends.is_none()).then_some(*outcome)
            }
            _ => None,
        };
        self.events.iter().filter_map(of).collect()
    }
}

#[test]
fn a_rehearsal_sends_the_whole_schedule_and_no_release() {
    let show = show();
    let plan = plan(&show);
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.start(-2_000_000, false);
    let begin = desk.now;
    desk.run_to(begin + 200_000_000, None);
    // Every message once, at its own microsecond, releases replaced by their stand-ins.
    let mut sent = desk.wires.sent.clone();
    for item in &plan.items {
        if item.only == Some(Mode::Perform) {
            continue;
        }
        let bytes = if item.release.is_some() && item.ends.is_none() { item.stand_in.unwrap() } else { item.bytes };
        let at = begin + item.due.micros() + 2_000_000;
        let place = sent.iter().position(|s| *s == (at, item.port.0, plan.bytes(bytes).to_vec()));
        sent.remove(place.unwrap_or_else(|| panic!("{} was not sent at {at}", item.label)));
    }
    assert!(sent.is_empty(), "{sent:?}");
    assert_eq!(desk.fates(&plan, Kind::Release), [SendOutcome::StandIn]);
    assert!(!desk.engine.runs());
}

#[test]
fn a_release_is_sent_while_it_is_held_and_else_never() {
    let show = show();
    let plan = plan(&show);
    let release = plan.releases[0].clone();
    let (from, send) = (release.from.micros(), release.send.micros());
    for held in [true, false] {
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.give(Command::Mode(Mode::Perform));
        desk.start(from - 3_000_000, false);
        let begin = desk.now - (from - 3_000_000);
        // A hand that comes before the window arms nothing there.
        desk.run_to(begin + from - 1, Some((0, 3)));
        assert_eq!(desk.engine.lock(ReleaseIndex(0)), Some(Lock::Closed));
        desk.run_to(begin + send + 1, held.then_some((0, 3)));
        let fate = desk.fates(&plan, Kind::Release);
        assert_eq!(fate, [if held { SendOutcome::Sent } else { SendOutcome::Locked }]);
        let item = plan.items.iter().find(|i| i.release.is_some() && i.ends.is_none()).unwrap();
        let there = desk.wires.sent.contains(&(begin + send, item.port.0, plan.bytes(item.bytes).to_vec()));
        assert_eq!(there, held);
        if held {
            let armed = desk
                .events
                .iter()
                .find_map(|e| if let Event::Armed { at, holder, .. } = e { Some((*at, *holder)) } else { None });
            let (at, holder) = armed.unwrap();
            assert!(at.micros() >= begin + from + HOLD.micros() && holder == HolderId(3));
            // Again from before it: what was sent in this run is not sent again, whoever holds.
            desk.start(from, false);
            let begin = desk.now - from;
            desk.run_to(begin + send + 1, Some((0, 3)));
            assert_eq!(desk.fates(&plan, Kind::Release).last(), Some(&SendOutcome::Twice));
            desk.give(Command::NewRun);
            desk.start(from, false);
            let begin = desk.now - from;
            desk.run_to(begin + send + 1, Some((0, 3)));
            assert_eq!(desk.fates(&plan, Kind::Release).last(), Some(&SendOutcome::Sent));
        }
    }
}

/// What fires a release leaves as that release alone: not as its own stand-in, not as a preset that has the same message, not
/// as what should hold where a run begins.
#[test]
fn what_fires_a_release_is_sent_as_nothing_else() {
    let mut show = show();
    let (receiver, message) = (show.releases[0].receiver.clone(), show.releases[0].message.clone());
    show.releases[0].stand_in = Some(message.clone());
    for preset in &mut show.presets {
        (preset.receiver, preset.message) = (receiver.clone(), message.clone());
    }
    let plan = plan(&show);
    let fires = plan.items.iter().find(|i| i.release.is_some() && i.ends.is_none()).unwrap();
    let fires = (fires.port.0, plan.bytes(fires.bytes).to_vec());
    for mode in [Mode::Rehearse, Mode::Perform] {
        for (from, chase) in [(-2_000_000, false), (plan.releases[0].from.micros(), true)] {
            let mut desk = Desk::new(&plan, SyncPlan::default());
            desk.give(Command::Mode(mode));
            desk.start(from, chase);
            let until = desk.now + 200_000_000;
            desk.run_to(until, None);
            assert!(!desk.wires.sent.is_empty());
            assert!(!desk.wires.sent.iter().any(|(_, port, bytes)| (*port, bytes) == (fires.0, &fires.1)), "{mode:?}");
            let lights = desk.fates(&plan, Kind::Lighting);
            assert!(!lights.is_empty() && lights.iter().all(|w| *w == SendOutcome::WouldRelease), "{lights:?}");
            let release = if mode == Mode::Rehearse { SendOutcome::WouldRelease } else { SendOutcome::Locked };
            assert_eq!(desk.fates(&plan, Kind::Release), [release]);
        }
    }
}

/// The same by another port of the show, where one port of the machine stands for both.
#[test]
fn what_fires_a_release_by_another_port_is_not_sent_where_both_are_one() {
    let show = show_with_its_message_elsewhere();
    let plan = plan(&show);
    let item = |kind| *plan.items.iter().find(|i| i.label.kind == kind && i.ends.is_none()).unwrap();
    let (release, light) = (item(Kind::Release), item(Kind::Lighting));
    assert_ne!(release.port, light.port);
    for (physical_ports, sent) in
        [([None, None], true), ([Some(3), None], true), ([Some(3), Some(4)], true), ([Some(3), Some(3)], false)]
    {
        for chase in [false, true] {
            let mut desk = Desk::new(&plan, SyncPlan::default());
            for (port, physical) in [release.port, light.port].into_iter().zip(physical_ports) {
                desk.give(Command::Assign { port, physical: physical.map(PhysicalPort) });
            }
            desk.start(if chase { light.due.micros() + 1 } else { -2_000_000 }, chase);
            let until = desk.now + 200_000_000;
            desk.run_to(until, None);
            let bytes = plan.bytes(light.bytes);
            let went = desk.wires.sent.iter().any(|(_, port, b)| (*port, &b[..]) == (light.port.0, bytes));
            assert_eq!(went, sent, "{physical_ports:?}");
            assert_eq!(
                desk.fates(&plan, Kind::Lighting).contains(&SendOutcome::WouldRelease),
                !sent,
                "{physical_ports:?}"
            );
        }
    }
}

/// Everything that must close an armed lock does, and is told with its reason.
#[test]
fn an_armed_release_lapses() {
    let show = show();
    let plan = plan(&show);
    let (from, send) = (plan.releases[0].from.micros(), plan.releases[0].send.micros());
    let armed = || {
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.give(Command::Assign { port: ShowPort(1), physical: Some(PhysicalPort(4)) });
        desk.give(Command::Mode(Mode::Perform));
        desk.start(from, false);
        let until = desk.now + 2_000_000;
        desk.run_to(until, Some((0, 1)));
        assert!(matches!(desk.engine.lock(ReleaseIndex(0)), Some(Lock::Armed { .. })));
        desk
    };
    let lapse = |desk: &Desk| {
        desk.events.iter().rev().find_map(|e| if let Event::Disarmed { why, .. } = e { Some(*why) } else { None })
    };
    for (command, why) in [
        (Command::Stop, DisarmReason::Stopped),
        (Command::StopAll, DisarmReason::Stopped),
        (Command::Locate { song: made_up::song(from + 1) }, DisarmReason::Located),
        (Command::Slept, DisarmReason::Slept),
        (Command::Port { port: ShowPort(0), there: false }, DisarmReason::PortLost),
        (Command::Assign { port: ShowPort(1), physical: Some(PhysicalPort(5)) }, DisarmReason::PortLost),
        (Command::LetGo { release: ReleaseIndex(0) }, DisarmReason::LetGo),
        (Command::Hold { release: ReleaseIndex(0), holder: HolderId(2) }, DisarmReason::OtherHolder),
        (Command::Mode(Mode::Rehearse), DisarmReason::Stopped),
        (Command::Start { song: made_up::song(from), at: at(0), chase: false }, DisarmReason::Located),
    ] {
        let mut desk = armed();
        desk.give(command);
        assert_eq!(lapse(&desk), Some(why), "{command:?}");
        assert_eq!(desk.engine.lock(ReleaseIndex(0)), Some(Lock::Closed), "{command:?}");
    }
    // A screen that no longer answers, and a machine that stood still.
    let mut desk = armed();
    let until = desk.now + 700_000;
    desk.run_to(until, None);
    assert_eq!(lapse(&desk), Some(DisarmReason::Silence));
    let mut desk = armed();
    desk.now += 5_000_000;
    let until = desk.now;
    desk.run_to(until, None);
    assert_eq!(desk.engine.lock(ReleaseIndex(0)), Some(Lock::Closed));
    // A port that fails while something is sent to it.
    let mut desk = armed();
    desk.wires.broken = vec![0, 1];
    let until = desk.now + (send - from);
    desk.run_to(until, Some((0, 1)));
    assert!(!desk.fates(&plan, Kind::Release).contains(&SendOutcome::Sent));
}

#[test]
fn a_release_whose_port_is_missing_is_not_armed() {
    let show = show();
    let plan = plan(&show);
    let item = *plan.items.iter().find(|i| i.release.is_some() && i.ends.is_none()).unwrap();
    let from = plan.releases[0].from.micros();
    for there in [false, true] {
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.give(Command::Port { port: item.port, there: false });
        desk.give(Command::Port { port: item.port, there });
        desk.give(Command::Mode(Mode::Perform));
        desk.start(from, false);
        let until = desk.now + 3_000_000;
        desk.run_to(until, Some((0, 1)));
        assert_eq!(desk.events.iter().any(|e| matches!(e, Event::Armed { .. })), there);
    }
}

#[test]
fn an_open_safety_sheet_keeps_every_release_in() {
    let mut show = show();
    show.safety.competent.clear();
    let plan = plan(&show);
    let (from, send) = (plan.releases[0].from.micros(), plan.releases[0].send.micros());
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.give(Command::Mode(Mode::Perform));
    desk.start(from, false);
    let until = desk.now + send - from + 1;
    desk.run_to(until, Some((0, 1)));
    assert_eq!(desk.fates(&plan, Kind::Release), [SendOutcome::Locked]);
    assert!(!desk.events.iter().any(|e| matches!(e, Event::Armed { .. })));
}

#[test]
fn a_start_within_the_song_sends_what_should_hold_and_never_a_release() {
    let show = show();
    let plan = plan(&show);
    let after = plan.releases[0].send.micros() + 5_000_000;
    for mode in [Mode::Rehearse, Mode::Perform] {
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.give(Command::Mode(mode));
        desk.start(after, true);
        let chased: Vec<_> = desk
            .events
            .iter()
            .filter_map(|e| {
                if let Event::Message { item, outcome: SendOutcome::Chased, .. } = e {
                    Some(plan.items[item.index()])
                } else {
                    None
                }
            })
            .collect();
        assert!(!chased.is_empty());
        for item in &chased {
            assert!(item.release.is_none() && item.due.micros() < after);
            // Nothing that comes later sets the same row.
            let later = plan
                .items
                .iter()
                .any(|i| i.sets == item.sets && i.ends.is_none() && i.due > item.due && i.due.micros() < after);
            assert!(!later, "{}", item.label);
        }
        // Each output and each lighting receiver that was ever set has its state.
        let rows: std::collections::BTreeSet<_> =
            plan.items.iter().filter(|i| i.due.micros() < after && i.ends.is_none()).filter_map(|i| i.sets).collect();
        assert_eq!(chased.len(), rows.len());
    }
}

#[test]
fn a_loop_goes_round_on_its_own_beat() {
    let show = show();
    let plan = plan(&show);
    let bar = |n| plan.grid.bar_time(n).micros();
    let (from, to) = (bar(9), bar(25));
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.give(Command::Loop(Some((made_up::song(from), made_up::song(to)))));
    desk.start(from, false);
    let begin = desk.now;
    desk.run_to(begin + 10 * (to - from) - 1, None);
    for item in plan.items.iter().filter(|i| (from..to).contains(&i.due.micros()) && i.ends.is_none()) {
        let times: Vec<i64> = desk
            .events
            .iter()
            .filter_map(|e| match e {
                Event::Message { item: at, outcome: SendOutcome::Sent, at: when, .. }
                    if plan.items[at.index()] == *item =>
                {
                    Some(when.micros())
                }
                _ => None,
            })
            .collect();
        let expected: Vec<i64> = (0..10).map(|round| begin + round * (to - from) + item.due.micros() - from).collect();
        assert_eq!(times, expected, "{}", item.label);
    }
}

/// The clock that is followed wanders, stumbles back and forth by half a second, then jumps: nothing is sent twice, what a
/// stumble passed over is sent late, what a jump passed over is told.
#[test]
fn another_clock_that_stumbles_sends_nothing_twice() {
    let show = show();
    let plan = plan(&show);
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.start(-2_000_000, false);
    let begin = desk.now + 2_000_000;
    let mut apart = 0;
    for second in 1..150i64 {
        desk.run_to(begin + second * 1_000_000, None);
        apart += match second {
            k if k % 20 == 7 => -500_000,
            k if k % 20 == 13 => 500_000,
            k => (k % 5 - 2) * 3_000,
        };
        let now = desk.now;
        desk.give(Command::Follow { song: made_up::song(now - begin + apart), at: at(now) });
    }
    let song = desk.engine.song(at(desk.now)).unwrap().micros();
    let fate = |place: usize| -> Vec<SendOutcome> {
        let of = |e: &Event| {
            if let Event::Message { item, outcome, .. } = e {
                (item.index() == place).then_some(*outcome)
            } else {
                None
            }
        };
        desk.events.iter().filter_map(of).collect()
    };
    for (place, item) in plan.items.iter().enumerate() {
        if item.ends.is_none() && item.due.micros() < song - 1_000_000 {
            assert_eq!(fate(place).len(), 1, "{}", item.label);
        }
    }
    let (before, now) = (desk.events.len(), desk.now);
    desk.give(Command::Follow { song: made_up::song(song + 20_000_000), at: at(now) });
    let jumped = desk.events[before..]
        .iter()
        .filter(|e| matches!(e, Event::Message { outcome: SendOutcome::JumpedOver, .. }))
        .count();
    let between =
        plan.items.iter().filter(|i| i.ends.is_none() && (song..song + 20_000_000).contains(&i.due.micros())).count();
    assert_eq!(jumped, between);
}

#[test]
fn a_lost_port_does_not_stop_the_others() {
    let show = show();
    let plan = plan(&show);
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.start(0, false);
    let begin = desk.now;
    desk.run_to(begin + 30_000_000, None);
    desk.wires.broken = vec![0];
    desk.run_to(begin + 120_000_000, None);
    assert!(desk.events.iter().any(|e| matches!(e, Event::PortLost { port: ShowPort(0), .. })));
    let late: Vec<_> = desk.wires.sent.iter().filter(|s| s.0 > begin + 30_000_000).collect();
    assert!(!late.is_empty() && late.iter().all(|s| s.1 == 1));
    // It is back: what comes then is sent.
    desk.wires.broken.clear();
    desk.give(Command::Port { port: ShowPort(0), there: true });
    desk.run_to(begin + 180_000_000, None);
    assert!(desk.wires.sent.iter().any(|s| s.1 == 0 && s.0 > begin + 120_000_000));
}

/// A thousand messages due at one instant, on any number of ports: all are sent, in order, once.
#[test]
fn a_thousand_at_once() {
    let show = show();
    let mut crowded = (*plan(&show)).clone();
    let one = *crowded.items.iter().find(|i| i.release.is_none() && i.ends.is_none()).unwrap();
    crowded.items = (0..1000).map(|_| letfall_live::RunItem { due: made_up::song(5_000_000), ..one }).collect();
    let crowded = Arc::new(crowded);
    let mut desk = Desk::new(&crowded, SyncPlan::default());
    desk.start(0, false);
    let begin = desk.now;
    desk.run_to(begin + 6_000_000, None);
    assert_eq!(desk.wires.sent.len(), 1000);
    assert!(desk.wires.sent.iter().all(|s| s.0 == begin + 5_000_000));
}

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
                3 => desk.give(Command::Locate { song: made_up::song(somewhere) }),
                4 => desk.give(Command::Follow { song: made_up::song(somewhere), at: at(desk.now) }),
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
            let due = made_up::song(item.due.micros() + round * length);
            long.items.push(letfall_live::RunItem { due, ends, ended_by, ..*item });
        }
    }
    long.end = made_up::song(rounds * length);
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
    engine.command(Command::Loop(Some((made_up::song(from), long.end))), at(0), &mut wires, &mut tell);
    engine.command(Command::Start { song: made_up::song(from), at: at(0), chase: false }, at(0), &mut wires, &mut tell);
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

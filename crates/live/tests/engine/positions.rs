//! Starts, loops, jumps, and ports that are lost.

use super::made_up::{Desk, at, plan, show};
use letfall_live::{Command, Event, Mode, SendOutcome, ShowPort, SyncPlan};
use std::sync::Arc;

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
            // No later message sets the same row.
            let later = plan
                .timed()
                .iter()
                .filter(|i| mode == Mode::Rehearse || plan.releases_of(i.depends).is_empty())
                .any(|i| i.sets == item.sets && i.ends.is_none() && i.due > item.due && i.due.micros() < after);
            assert!(!later, "{}", item.label);
        }
        // Each output and lighting receiver that was set before this place has its state. In a performance the release did not go in this run,
        // so what depends on it is no part of that state.
        let depends = |i: &letfall_live::RunItem| mode == Mode::Perform && !plan.releases_of(i.depends).is_empty();
        let before = plan.timed().iter().filter(|i| i.due.micros() < after && i.ends.is_none() && !depends(i));
        let rows: std::collections::BTreeSet<_> = before.filter_map(|i| i.sets).collect();
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
    desk.give(Command::Loop(Some((super::made_up::song(from), super::made_up::song(to)))));
    desk.start(from, false);
    let begin = desk.now;
    desk.run_to(begin + 10 * (to - from) - 1, None);
    for item in plan.timed().iter().filter(|i| (from..to).contains(&i.due.micros()) && i.ends.is_none()) {
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

/// The external clock drifts, stumbles back and forth by half a second, then jumps. Nothing is sent twice, messages skipped by
/// a stumble are sent late, and those skipped by a jump are reported.
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
        desk.give(Command::Follow { song: super::made_up::song(now - begin + apart), at: at(now) });
    }
    let song = desk.engine.song(at(desk.now)).unwrap().micros();
    for (place, item) in plan.timed().iter().enumerate() {
        if item.ends.is_none() && item.due.micros() < song - 1_000_000 {
            assert_eq!(fates_of(&desk, place).len(), 1, "{}", item.label);
        }
    }
    let (before, now) = (desk.events.len(), desk.now);
    desk.give(Command::Follow { song: super::made_up::song(song + 20_000_000), at: at(now) });
    let jumped = desk.events[before..]
        .iter()
        .filter(|e| matches!(e, Event::Message { outcome: SendOutcome::JumpedOver, .. }))
        .count();
    let between =
        plan.timed().iter().filter(|i| i.ends.is_none() && (song..song + 20_000_000).contains(&i.due.micros())).count();
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
    desk.break_ports(&[0]);
    desk.run_to(begin + 120_000_000, None);
    assert!(desk.events.iter().any(|e| matches!(e, Event::PortLost { port: ShowPort(0), .. })));
    let sent = desk.sent();
    let late: Vec<_> = sent.iter().filter(|s| s.0 > begin + 30_000_000).collect();
    assert!(!late.is_empty() && late.iter().all(|s| s.1 == 1));
    // The port is back, so later messages are sent.
    desk.break_ports(&[]);
    desk.open(0);
    desk.run_to(begin + 180_000_000, None);
    assert!(desk.sent().iter().any(|s| s.1 == 0 && s.0 > begin + 120_000_000));
}

/// A thousand messages due at one instant, on any number of ports: all are sent, in order, once.
#[test]
fn a_thousand_at_once() {
    let show = show();
    let mut crowded = (*plan(&show)).clone();
    let one = *crowded.timed().iter().find(|i| i.release.is_none() && i.ends.is_none()).unwrap();
    crowded.items = (0..1000).map(|_| letfall_live::RunItem { due: super::made_up::song(5_000_000), ..one }).collect();
    crowded.timed = crowded.items.len();
    let crowded = Arc::new(crowded);
    let mut desk = Desk::new(&crowded, SyncPlan::default());
    desk.start(0, false);
    let begin = desk.now;
    desk.run_to(begin + 6_000_000, None);
    assert_eq!(desk.sent().len(), 1000);
    // A port's thread gets only as many as its queue holds, so the last one leaves some milliseconds later, although the wire
    // takes no time.
    assert!(desk.sent().iter().all(|s| (begin + 5_000_000..begin + 5_030_000).contains(&s.0)));
}

/// What became of each sending of a message that sets a row.
fn fates_of(desk: &Desk, place: usize) -> Vec<SendOutcome> {
    let of = |e: &Event| match e {
        Event::Message { item, outcome, .. } if item.index() == place => Some(*outcome),
        _ => None,
    };
    desk.events.iter().filter_map(of).collect()
}

/// A start exactly where a message is due: it is sent then, and not chased as well.
#[test]
fn what_is_due_at_the_start_is_sent_once() {
    let show = show();
    let plan = plan(&show);
    for (place, item) in plan.timed().iter().enumerate() {
        if item.sets.is_none() || item.ends.is_some() {
            continue;
        }
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.start(item.due.micros(), true);
        desk.run_to(desk.now + 1_000, None);
        assert_eq!(fates_of(&desk, place), [SendOutcome::Sent], "{}", item.label);
    }
}

/// After a loop's jump only what differs is sent again: what was set before the loop and holds through it is not.
#[test]
fn a_loop_sends_only_what_differs() {
    let show = show();
    let plan = plan(&show);
    let bar = |n| plan.grid.bar_time(n).micros();
    let (from, to) = (bar(17), bar(29));
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.give(Command::Loop(Some((super::made_up::song(from), super::made_up::song(to)))));
    desk.start(from, true);
    desk.run_to(desk.now + 3 * (to - from) + 1_000_000, None);
    let within = |row| plan.timed().iter().any(|i| i.sets == Some(row) && (from..to).contains(&i.due.micros()));
    let (mut same, mut other) = (0, 0);
    for row in plan.timed().iter().filter_map(|i| i.sets).collect::<std::collections::BTreeSet<_>>() {
        let last = plan.timed().iter().rposition(|i| i.sets == Some(row) && i.ends.is_none() && i.due.micros() < from);
        let Some(last) = last else { continue };
        let chased = fates_of(&desk, last).iter().filter(|fate| **fate == SendOutcome::Chased).count();
        // Sent at the start, and after each of three jumps if the loop changes its row.
        assert_eq!(chased, if within(row) { 4 } else { 1 }, "{}", plan.items[last].label);
        if within(row) { other += 1 } else { same += 1 }
    }
    assert!(same > 0 && other > 0, "{same} rows stay, {other} change");
}

/// Just two seconds off is a jump, a little less is not.
#[test]
fn two_seconds_are_a_jump() {
    let show = show();
    let plan = plan(&show);
    for (off, jumps) in [(1_999_999, false), (2_000_000, true)] {
        let mut desk = Desk::new(&plan, SyncPlan::default());
        let item = plan.timed().iter().find(|i| i.sets.is_some() && i.due.micros() > 5_000_000).unwrap();
        let song = item.due.micros() - 1_000_000;
        desk.start(song, false);
        desk.give(Command::Follow { song: super::made_up::song(song + off), at: at(desk.now) });
        let over = desk.events.iter().any(|e| matches!(e, Event::Message { outcome: SendOutcome::JumpedOver, .. }));
        assert_eq!(over, jumps, "{off} µs");
    }
}

/// Where the run is, as other threads read it: it goes on with the clock, and stays where it was stopped or set.
#[test]
fn the_place_goes_on_with_the_clock() {
    let plan = plan(&show());
    let mut desk = Desk::new(&plan, SyncPlan::default());
    assert!(!desk.engine.runs());
    desk.start(7_000_000, false);
    let begin = desk.now;
    assert!(desk.engine.runs());
    for later in [0, 1, 250_000] {
        let place = desk.engine.place(at(begin + later));
        assert_eq!((place.song.micros(), place.at, place.runs()), (7_000_000 + later, at(begin + later), true));
    }
    desk.run_to(begin + 500_000, None);
    desk.orders.order_stop();
    desk.turn();
    let place = desk.engine.place(at(desk.now + 1_000_000));
    assert_eq!((place.song.micros(), place.runs(), desk.engine.runs()), (7_500_000, false, false));
    desk.give(Command::Locate { song: super::made_up::song(3_000_000) });
    assert_eq!(desk.engine.place(at(desk.now)).song.micros(), 3_000_000);
}

/// Ports of the show whose messages were chased since an event.
fn chased_ports(desk: &Desk, plan: &letfall_live::RunPlan, since: usize) -> std::collections::BTreeSet<u16> {
    let of = |e: &Event| match e {
        Event::Message { item, outcome: SendOutcome::Chased, .. } => Some(plan.items[item.index()].port.0),
        _ => None,
    };
    desk.events[since..].iter().filter_map(of).collect()
}

/// A port that comes back is brought to the state of the plan at once, and no other is. While the run stands nothing is sent.
#[test]
fn a_port_that_comes_back_is_brought_up_to_date() {
    let show = show();
    let plan = plan(&show);
    let late = plan.end.micros() - 5_000_000;
    for runs in [true, false] {
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.start(late, false);
        if !runs {
            desk.orders.order_stop();
            desk.turn();
        }
        desk.close(0);
        desk.turn();
        let since = desk.events.len();
        desk.open(0);
        desk.run_to(desk.now + 100_000, None);
        let expected: &[u16] = if runs { &[0] } else { &[] };
        assert!(chased_ports(&desk, &plan, since).iter().eq(expected), "runs: {runs}");
    }
}

/// A port of the show moves to another machine port: everything on that machine port is brought up to date, because what waited there
/// was recalled.
#[test]
fn a_port_that_moves_is_brought_up_to_date() {
    let show = show();
    let plan = plan(&show);
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.start(plan.end.micros() - 5_000_000, true);
    desk.run_to(desk.now + 100_000, None);
    let rows: std::collections::BTreeSet<u32> = plan.timed().iter().filter_map(|i| i.sets).collect();
    let known = |desk: &Desk| {
        let on = |row: u32, port| plan.timed().iter().any(|i| i.sets == Some(row) && i.port == ShowPort(port));
        [0, 1].map(|port| {
            rows.iter().filter(|row| on(**row, port) && desk.gate.last_of_row(**row as usize).is_some()).count()
        })
    };
    let before = known(&desk);
    assert!(before[0] > 0, "{before:?}");
    let (since, now) = (desk.events.len(), at(desk.now));
    let Desk { engine, gate, events, .. } = &mut desk;
    let mut tell = |event| events.push(event);
    assert!(gate.assign(ShowPort(1), Some(letfall_live::PhysicalPort(0)), now, &mut tell));
    engine.port_moved(gate, (ShowPort(1), letfall_live::PhysicalPort(0)), now, &mut tell);
    // What is on its way is not known to have arrived; what was sent by the port that moved is forgotten.
    assert_eq!(known(&desk)[1], 0);
    desk.run_to(desk.now + 100_000, None);
    assert!(chased_ports(&desk, &plan, since).contains(&0));
    assert!(known(&desk)[0] == before[0]);
    // The other way round: what was sent by the port that moves is forgotten at once.
    let now = at(desk.now);
    let Desk { engine, gate, events, .. } = &mut desk;
    let mut tell = |event| events.push(event);
    assert!(gate.assign(ShowPort(0), Some(letfall_live::PhysicalPort(1)), now, &mut tell));
    engine.port_moved(gate, (ShowPort(0), letfall_live::PhysicalPort(1)), now, &mut tell);
    assert_eq!(known(&desk)[0], 0);
}

/// The run stops a microsecond after its last message or the song's end, whichever is later.
#[test]
fn the_run_stops_at_the_end() {
    let plan = plan(&show());
    let end = plan.timed().last().unwrap().due.max(plan.end).micros();
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.start(end - 1_000_000, false);
    let last = desk.now + 1_000_000;
    desk.run_to(last, None);
    assert!(desk.engine.runs());
    assert_eq!(desk.turn(), Some(last + 1));
    desk.run_to(last + 1, None);
    assert!(!desk.engine.runs());
}

/// A start after a pause of the sending thread: the pause was before it, so it closes nothing that was held since.
#[test]
fn a_pause_before_a_start_closes_nothing() {
    let plan = plan(&show());
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.give(Command::Mode(Mode::Perform));
    desk.start(1_000_000, false);
    desk.run_to(desk.now + 100_000, None);
    desk.now += 1_500_000;
    let now = at(desk.now);
    let Desk { engine, gate, events, .. } = &mut desk;
    let mut tell = |event| events.push(event);
    let from = plan.releases[0].from;
    engine.command(Command::Start { song: from, at: now, chase: false }, now, gate, &mut tell);
    let (release, holder) = (letfall_live::ReleaseIndex(0), letfall_live::HolderId(0));
    engine.command(Command::Hold { release, holder, grip: letfall_live::Grip(1), at: now }, now, gate, &mut tell);
    engine.step(now, gate, &mut tell);
    assert!(matches!(engine.lock(release), Some(letfall_live::Lock::Opening { .. })), "{:?}", engine.lock(release));
}

/// What each track holds on a lighting receiver is chased, the older first; where the newest preset replaces all others, only that.
#[test]
fn each_tracks_light_is_chased() {
    use letfall_core::show::{Action, Combine};
    let mut show = show();
    for rule in [Combine::Highest, Combine::Latest] {
        show.receivers.iter_mut().for_each(|receiver| receiver.combines = rule);
        let plan = plan(&show);
        let cues = &show.services[0].cues;
        let light = |label| cues.get(label).filter(|cue| matches!(cue.does, Action::Lighting { .. }));
        // A place after which both tracks have had a cue.
        let place = plan.end.micros() - 5_000_000;
        let sent = |track: &str| {
            let of = |item: &&letfall_live::RunItem| {
                item.due.micros() < place && light(item.label).is_some_and(|cue| cue.track.as_str() == track)
            };
            plan.timed().iter().rfind(of).expect("a cue").label
        };
        let mut wanted = vec![sent("backlight"), sent("lighting")];
        wanted.sort_by_key(|label| plan.timed().iter().find(|item| item.label == *label).expect("its message").due);
        if rule == Combine::Latest {
            wanted.remove(0);
        }
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.start(place, true);
        desk.run_to(desk.now + 500_000, None);
        let chased: Vec<_> = desk
            .events
            .iter()
            .filter_map(|event| match event {
                Event::Message { item, outcome: SendOutcome::Chased, .. } => Some(plan.items[item.index()].label),
                _ => None,
            })
            .filter(|label| light(*label).is_some())
            .collect();
        assert_eq!(chased, wanted, "{rule:?}");
    }
}

/// Where an operator has set a row since, what Letfall sent before is not sent again: it would undo what the hand has done. Seen: a start
/// after a cue that an operator presses sent the preset before it.
#[test]
fn what_a_hand_has_set_is_not_undone() {
    use letfall_core::show::{Call, Goes};
    let chased = |goes: Goes, at_bar: i32, round_until: Option<i32>| {
        let mut show = show();
        let name = show.services[0].name.clone();
        let edit = letfall_core::edit::change(&show, &name, &["L2".parse().unwrap()], |cue| {
            cue.call = Some(Box::new(Call { goes: Some(goes), ..Call::default() }));
        });
        edit.unwrap().apply(&mut show).unwrap();
        let plan = plan(&show);
        let mut desk = Desk::new(&plan, SyncPlan::default());
        let bar = |n| plan.grid.bar_time(n);
        if let Some(until) = round_until {
            desk.give(Command::Loop(Some((bar(at_bar), bar(until)))));
        }
        desk.start(bar(at_bar).micros(), true);
        let mut since = 0;
        if let Some(until) = round_until {
            // Once round, and a little more.
            since = desk.events.len();
            desk.run_to(desk.now + (bar(until) - bar(at_bar)).micros() + 1_000_000, None);
        }
        let labels = desk.events[since..].iter().filter_map(|event| match event {
            Event::Message { item, outcome: SendOutcome::Chased, .. } => {
                Some(plan.items[item.index()].label.to_string())
            }
            _ => None,
        });
        labels.filter(|label| ["L1", "L2", "L4"].contains(&label.as_str())).collect::<Vec<_>>()
    };
    // L1 lands at bar 1, L2 at bar 9 and L4 at bar 25, all on one track.
    assert_eq!(chased(Goes::Machine, 12, None), ["L2"]);
    assert_eq!(chased(Goes::Operator, 12, None), [""; 0]);
    assert_eq!(chased(Goes::After("L1".parse().unwrap()), 12, None), [""; 0]);
    assert_eq!(chased(Goes::Operator, 5, None), ["L1"]);
    assert_eq!(chased(Goes::Operator, 28, None), ["L4"]);
    // Round a part in which the hand sets it: at its beginning the machine's own preset holds again. Without a hand it still does.
    assert_eq!(chased(Goes::Operator, 5, Some(12)), ["L1"]);
    assert_eq!(chased(Goes::Machine, 5, Some(8)), [""; 0]);
}

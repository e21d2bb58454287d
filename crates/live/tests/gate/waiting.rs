//! What waits, what is withdrawn or refused, and how reports are handled.

use super::bench::{Bench, bench, bench_of, release};
use super::made_up::{at, show};
use letfall_core::show::{Kind, Link};
use letfall_live::{Debt, Event, ItemIndex, Packet, Payload, PhysicalPort, Report, SendOutcome, ShowPort, Task};

#[test]
fn what_is_sent_before_a_port_is_open_waits_for_it_and_in_vain_for_one_that_is_missing() {
    let mut bench = bench([0, 1], false);
    let (one, other) = (bench.light(0), bench.light(1));
    assert!(!bench.gate.is_there(ShowPort(0)) && !bench.gate.is_there(ShowPort(1)));
    bench.offer(0, one, 0).unwrap();
    bench.offer(1, other, 0).unwrap();
    bench.pump(0);
    assert!(bench.taken(0).is_empty() && bench.taken(1).is_empty());
    let Bench { gate, events, .. } = &mut bench;
    gate.port_is_missing(PhysicalPort(1), at(10), &mut |event| events.push(event));
    assert_eq!(bench.fates(), [(other.index(), SendOutcome::NoPort)]);
    assert_eq!(bench.offer(1, other, 20), Err(SendOutcome::NoPort));
    bench.ready(0, 5_000);
    assert!(bench.gate.is_there(ShowPort(0)));
    let taken = bench.taken(0);
    assert!(matches!(taken[..], [Packet { task: Task::Cue { item, .. }, .. }] if item == one), "{taken:?}");
    // A port that is open does not become missing, even if it is reported so.
    let Bench { gate, events, .. } = &mut bench;
    gate.port_is_missing(PhysicalPort(0), at(6_000), &mut |event| events.push(event));
    assert!(bench.gate.is_there(ShowPort(0)));
}

#[test]
fn a_driver_that_does_not_come_back_is_as_good_as_gone() {
    let mut bench = bench([0, 1], false);
    bench.ready(0, 0);
    let (one, other) = (bench.light(0), bench.light(1));
    bench.offer(0, one, 1_000).unwrap();
    bench.pump(1_000);
    let packet = bench.taken(0)[0];
    bench.pump(151_000);
    assert!(bench.gate.is_there(ShowPort(0)), "150 ms are not over");
    bench.pump(151_001);
    assert!(!bench.gate.is_there(ShowPort(0)));
    assert_eq!(bench.gate.take_changed(), Some((PhysicalPort(0), false)));
    assert_eq!(bench.offer(0, other, 152_000), Err(SendOutcome::PortStuck));
    bench.done(0, packet, 200_000);
    bench.pump(200_000);
    assert!(bench.gate.is_there(ShowPort(0)));
    assert_eq!(bench.gate.take_changed(), Some((PhysicalPort(0), true)));
    assert_eq!(bench.gate.take_changed(), None);
    bench.offer(0, other, 210_000).unwrap();
}

#[test]
fn a_port_that_is_given_another_recalls_what_was_judged_for_the_old_ones() {
    let mut bench = bench([0, 1], false);
    bench.ready(0, 0);
    bench.ready(1, 0);
    let light = bench.light(0);
    for _ in 0..3 {
        bench.offer(0, light, 0).unwrap();
    }
    // Messages for another machine port stay, and so do those that end something.
    bench.offer(1, light, 0).unwrap();
    bench.offer(1, light, 0).unwrap();
    let end = Task::End { begun: light };
    bench.gate.offer(ShowPort(0), Payload::made(&[0x80, 1, 64]), end, Kind::END_RANK, at(0)).unwrap();
    bench.pump(0);
    let before = bench.threads[0].recalls.load(std::sync::atomic::Ordering::Relaxed);
    let Bench { gate, events, .. } = &mut bench;
    assert!(!gate.assign(ShowPort(0), Some(PhysicalPort(0)), at(1), &mut |e| events.push(e)), "nothing changed");
    assert!(events.is_empty());
    assert!(!gate.are_one(ShowPort(0), ShowPort(1)) && gate.are_one(ShowPort(0), ShowPort(0)));
    assert!(gate.assign(ShowPort(1), Some(PhysicalPort(0)), at(1), &mut |e| events.push(e)));
    assert!(gate.are_one(ShowPort(0), ShowPort(1)) && gate.leaves_by(ShowPort(1), PhysicalPort(0)));
    assert!(!gate.leaves_by(ShowPort(1), PhysicalPort(1)));
    assert_eq!(bench.threads[0].recalls.load(std::sync::atomic::Ordering::Relaxed), before + 1);
    let withdrawn = (light.index(), SendOutcome::Withdrawn);
    assert_eq!(bench.fates(), [withdrawn, withdrawn], "two waited, one was handed over");
    bench.taken(0);
    bench.taken(1);
    bench.pump(1_000_000);
    let left: Vec<Task> = bench.taken(0).into_iter().map(|packet| packet.task).collect();
    assert!(matches!(left[..], [Task::End { .. }]), "{left:?}");
    assert_eq!(bench.taken(1).len(), 1);
}

#[test]
fn what_waits_is_withdrawn_and_what_ends_something_is_not() {
    let mut bench = bench([0, 1], false);
    bench.ready(0, 0);
    let light = bench.light(0);
    bench.offer(0, light, 0).unwrap();
    bench.offer(0, light, 0).unwrap();
    let end = Task::End { begun: light };
    bench.gate.offer(ShowPort(0), Payload::made(&[0x80, 1, 64]), end, Kind::END_RANK, at(0)).unwrap();
    bench.pump(0);
    let Bench { gate, events, .. } = &mut bench;
    gate.withdraw(at(10), &mut |event| events.push(event));
    assert_eq!(bench.fates(), [(light.index(), SendOutcome::Withdrawn)]);
    bench.gate.end_all(at(10));
    bench.pump(1_000_000);
    let tasks: Vec<Task> = bench.taken(0).into_iter().map(|packet| packet.task).collect();
    assert!(matches!(tasks[..], [Task::Cue { .. }, Task::EndAll, Task::End { .. }]), "{tasks:?}");
}

/// Timecode that waited for more than 20 ms is out of date.
#[test]
fn timecode_that_is_out_of_date_is_left_out() {
    let mut bench = bench([0, 1], false);
    bench.ready(0, 0);
    for (due, now, left) in [(100_000, 119_999, 1), (200_000, 220_000, 1), (300_000, 320_001, 0)] {
        let frame = Payload::made(&[0xf1, 0x10]);
        bench.gate.offer(ShowPort(0), frame, Task::Sync, Kind::END_RANK + 1, at(due)).unwrap();
        bench.pump(now);
        assert_eq!(bench.taken(0).len(), left, "{} µs late", now - due);
    }
}

#[test]
fn what_each_row_was_sent_is_known_once_the_driver_took_it() {
    let mut bench = bench([0, 1], false);
    bench.ready(0, 0);
    let light = bench.light(0);
    let row = bench.plan.items[light.index()].sets.unwrap() as usize;
    bench.offer(0, light, 0).unwrap();
    assert_eq!(bench.gate.last_of_row(row), None);
    bench.pump(0);
    let packet = bench.taken(0)[0];
    assert_eq!(bench.gate.last_of_row(row), None, "it is on its way");
    bench.done(0, packet, 10);
    bench.pump(10);
    assert_eq!(bench.gate.last_of_row(row), Some(light));
    assert_eq!(bench.fates(), [(light.index(), SendOutcome::Sent)]);
    bench.gate.forget_rows(|port| port == ShowPort(1));
    assert_eq!(bench.gate.last_of_row(row), Some(light));
    bench.gate.forget_rows(|port| port == ShowPort(0));
    assert_eq!(bench.gate.last_of_row(row), None);
    // While the next message is on its way, the row's state is not known.
    let other = bench.light(1);
    bench.offer(0, other, 20_000).unwrap();
    bench.pump(20_000);
    assert_eq!(bench.gate.last_of_row(row), None);
    let packet = bench.taken(0)[0];
    let refused = Report::Done { packet, result: Err(SendOutcome::NoPort), free: at(20_000) };
    bench.threads[0].reports.push(refused).unwrap();
    bench.pump(20_010);
    assert_eq!(bench.gate.last_of_row(row), None);
    // After a port is lost its rows are unknown, waiting messages are reported, and its return is announced.
    bench.offer(0, other, 30_000).unwrap();
    bench.threads[0].reports.push(Report::Lost).unwrap();
    bench.pump(30_000);
    assert_eq!(bench.fates().last(), Some(&(other.index(), SendOutcome::NoPort)));
    assert!(bench.events.iter().any(|e| matches!(e, Event::PortLost { port: ShowPort(0), .. })));
    assert!(!bench.events.iter().any(|e| matches!(e, Event::PortLost { port: ShowPort(1), .. })));
    assert_eq!(bench.gate.take_changed(), Some((PhysicalPort(0), false)));
    bench.ready(0, 40_000);
    assert_eq!(bench.gate.take_changed(), Some((PhysicalPort(0), true)));
}

/// What was sent is forgotten when its port is lost, and kept when another one is.
#[test]
fn a_lost_port_forgets_its_rows_and_keeps_what_ends_something() {
    for (lost, known) in [(1, true), (0, false)] {
        let mut bench = bench([0, 1], false);
        bench.ready(0, 0);
        bench.ready(1, 0);
        let light = bench.light(0);
        let row = bench.plan.items[light.index()].sets.unwrap() as usize;
        bench.offer(0, light, 0).unwrap();
        bench.pump(0);
        let packet = bench.taken(0)[0];
        bench.done(0, packet, 10);
        bench.pump(10);
        // The wire is busy, so both wait.
        let end = Task::End { begun: light };
        bench.gate.offer(ShowPort(0), Payload::made(&[0x80, 1, 64]), end, Kind::END_RANK, at(20)).unwrap();
        bench.offer(0, light, 20).unwrap();
        bench.threads[lost].reports.push(Report::Lost).unwrap();
        bench.pump(30);
        assert_eq!(bench.gate.last_of_row(row), known.then_some(light), "port {lost} is lost");
        bench.ready(lost, 40);
        bench.pump(1_000_000);
        bench.pump(2_000_000);
        let left: Vec<bool> = bench.taken(0).iter().map(|packet| packet.task.ends()).collect();
        assert_eq!(left, if known { vec![false, true] } else { vec![true] }, "port {lost} is lost");
    }
}

/// What ends a message must be as harmless as the message itself.
#[test]
fn a_message_whose_end_would_release_is_refused() {
    let mut bench = bench([0, 1], false);
    let port = bench.plan.releases[0].port;
    bench.ready(port.index(), 0);
    let light = bench.light(0);
    let items = &bench.plan.items;
    let release = items.iter().find(|item| item.release.is_some() && item.ends.is_none()).unwrap().bytes;
    let harmless = items[light.index()].bytes;
    for (end, expected) in [(harmless, Ok(())), (release, Err(SendOutcome::WouldRelease))] {
        let owes = Some(Debt { begun: light, end: light, bytes: end, after: None });
        let task = Task::Cue { item: light, outcome: SendOutcome::Sent, owes };
        assert_eq!(bench.gate.offer(port, Payload::Plan(harmless), task, 5, at(0)), expected);
    }
}

/// The queue to a port's thread is full: the message waits, and leaves when there is room. If the driver is stuck, it is given up.
#[test]
fn a_full_queue_is_tried_again_unless_the_driver_is_stuck() {
    let mut show = show();
    show.ports.iter_mut().for_each(|port| port.link = Link::BytesPerSecond(u32::MAX));
    for stuck in [false, true] {
        let mut bench = bench_of(&show, [0, 1], false);
        bench.ready(0, 0);
        let light = bench.light(0);
        for _ in 0..514 {
            bench.offer(0, light, 0).unwrap();
        }
        bench.pump(0);
        assert!(bench.fates().is_empty());
        if stuck {
            bench.pump(150_001);
            assert_eq!(bench.fates(), [(light.index(), SendOutcome::PortStuck); 2]);
            assert_eq!(bench.taken(0).len(), 512);
        } else {
            assert_eq!(bench.taken(0).len(), 512);
            bench.pump(999);
            assert_eq!(bench.taken(0).len(), 0, "it is tried again after a millisecond");
            bench.pump(1_000);
            assert_eq!(bench.taken(0).len(), 2);
            assert!(bench.fates().is_empty());
        }
    }
}

/// No release leaves by a virtual port of ours, because we cannot tell whether anything listens.
#[test]
fn no_release_leaves_by_a_port_of_our_own() {
    for own in [false, true] {
        let mut bench = bench([0, 1], own);
        let port = bench.plan.releases[0].port;
        bench.ready(port.index(), 0);
        assert!(bench.gate.is_there(port));
        assert_eq!(bench.gate.can_release(port), !own);
        let item = ItemIndex::at(bench.plan.timed().iter().position(|i| i.release.is_some()).unwrap());
        let bytes = Payload::Plan(bench.plan.items[item.index()].bytes);
        let taken = bench.gate.offer(port, bytes, release(item, None).task, 0, at(0));
        assert_eq!(taken, if own { Err(SendOutcome::NoPort) } else { Ok(()) });
    }
}

/// A packet carries the number of stops that had been ordered when it was made.
#[test]
fn a_stop_puts_what_was_handed_over_out_of_date() {
    let mut bench = bench([0, 1], false);
    bench.ready(0, 0);
    let light = bench.light(0);
    let epoch = |bench: &mut Bench, now: i64| {
        bench.offer(0, light, now).unwrap();
        bench.pump(now);
        let packet = bench.taken(0)[0];
        bench.done(0, packet, now);
        packet.epoch
    };
    assert_eq!(epoch(&mut bench, 0), 0);
    bench.orders.order_stop();
    assert_eq!(epoch(&mut bench, 100_000), 0, "the engine has not obeyed yet");
    bench.gate.begin_epoch();
    assert_eq!(epoch(&mut bench, 200_000), 1);
    bench.orders.order_stop_all();
    bench.gate.stop_all(at(300_000), &mut |_| ());
    assert_eq!(epoch(&mut bench, 400_000), 2);
}

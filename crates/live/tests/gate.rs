//! The gate alone: what it hands over to a port's thread and when, what it refuses, and how it handles reports. The test plays
//! the part of the ports' threads.

#![allow(clippy::unwrap_used, missing_docs)]

mod made_up;

use letfall_core::show::{Kind, Link, Show};
use letfall_live::{
    Command, Debt, Event, Gate, Grip, HolderId, ItemIndex, MachineSpan, MachineTime, Mode, Orders, Packet, Payload,
    PhysicalPort, PortLink, ReleaseIndex, Report, RunPlan, SendOutcome, ShowPort, SyncPlan, Task,
};
use made_up::{at, plan, show};
use std::sync::Arc;
use std::sync::atomic::AtomicU64;

/// The other ends of a port's link.
struct Thread {
    packets: rtrb::Consumer<Packet>,
    reports: rtrb::Producer<Report>,
    recalls: Arc<AtomicU64>,
}

struct Bench {
    gate: Gate,
    plan: Arc<RunPlan>,
    orders: Arc<Orders>,
    threads: Vec<Thread>,
    events: Vec<Event>,
}

/// Two ports of the show on machine ports 0 and 1, at the speed of a five-pin cable, on the given interfaces.
fn bench(interfaces: [u16; 2], own: bool) -> Bench {
    let mut show: Show = show();
    show.ports.iter_mut().for_each(|port| port.link = Link::Din);
    bench_of(&show, interfaces, own)
}

/// The same for any show of two ports, at the speeds of their links.
fn bench_of(show: &Show, interfaces: [u16; 2], own: bool) -> Bench {
    let plan = plan(show);
    let orders = Arc::new(Orders::new(plan.releases.len()));
    let mut bench =
        Bench { gate: Gate::new(plan.clone(), orders.clone()), plan, orders, threads: Vec::new(), events: Vec::new() };
    for (at, interface) in interfaces.into_iter().enumerate() {
        let (packets, taken) = rtrb::RingBuffer::new(512);
        let (reports, heard) = rtrb::RingBuffer::new(512);
        let recalls: Arc<AtomicU64> = Arc::default();
        let link = PortLink {
            packets,
            reports: heard,
            thread: None,
            recalls: recalls.clone(),
            nanos_per_byte: bench.plan.nanos_per_byte[at],
            own,
            interface,
        };
        bench.gate.add_port(PhysicalPort::at(at), link);
        bench.threads.push(Thread { packets: taken, reports, recalls });
        assert!(bench.gate.assign(ShowPort::at(at), Some(PhysicalPort::at(at)), made_up::at(0), &mut |_| ()));
    }
    bench
}

impl Bench {
    fn ready(&mut self, port: usize, now: i64) {
        self.threads[port].reports.push(Report::Ready).unwrap();
        self.pump(now);
    }

    fn pump(&mut self, now: i64) -> Option<i64> {
        let events = &mut self.events;
        self.gate.pump(at(now), &mut |event| events.push(event)).map(MachineTime::micros)
    }

    /// The nth lighting message of the plan. They are all on the show's port 0.
    fn light(&self, nth: usize) -> ItemIndex {
        let lights = self.plan.items.iter().enumerate().filter(|(_, i)| i.label.kind == Kind::Lighting);
        let mut lights = lights.filter(|(_, i)| i.ends.is_none() && i.port == ShowPort(0));
        ItemIndex::at(lights.nth(nth).unwrap().0)
    }

    fn offer(&mut self, port: u16, item: ItemIndex, due: i64) -> Result<(), SendOutcome> {
        let task = Task::Cue { item, outcome: SendOutcome::Sent, owes: None };
        let bytes = self.plan.items[item.index()].bytes;
        self.gate.offer(ShowPort(port), Payload::Plan(bytes), task, Kind::Lighting.rank(), at(due))
    }

    /// Takes the packets that were handed over to a port.
    fn taken(&mut self, port: usize) -> Vec<Packet> {
        std::iter::from_fn(|| self.threads[port].packets.pop().ok()).collect()
    }

    fn done(&mut self, port: usize, packet: Packet, when: i64) {
        let free = at(when + 2_560);
        self.threads[port].reports.push(Report::Done { packet, result: Ok(at(when)), free }).unwrap();
    }

    fn fates(&self) -> Vec<(usize, SendOutcome)> {
        let of = |e: &Event| {
            if let Event::Message { item, outcome, .. } = e { Some((item.index(), *outcome)) } else { None }
        };
        self.events.iter().filter_map(of).collect()
    }
}

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

/// MIDI 1.0: 320 µs per byte. A show-control GO of 9 bytes takes 2.88 ms, and the next message may not begin before that. Ports
/// of one interface take turns.
#[test]
fn a_wire_carries_one_message_after_another() {
    for (interfaces, together) in [([0, 1], false), ([4, 4], true)] {
        let mut bench = bench(interfaces, false);
        bench.ready(0, 0);
        bench.ready(1, 0);
        let light = bench.light(0);
        let length = 320 * i64::try_from(bench.plan.bytes(bench.plan.items[light.index()].bytes).len()).unwrap();
        bench.offer(0, light, 1_000).unwrap();
        bench.offer(0, light, 1_000).unwrap();
        bench.offer(1, light, 1_000).unwrap();
        let next = bench.pump(1_000).unwrap();
        assert_eq!(next, 1_000 + length + 1, "to the microsecond after");
        let first = [bench.taken(0).len(), bench.taken(1).len()];
        assert_eq!(first, if together { [1, 0] } else { [1, 1] });
        bench.pump(1_000 + length - 1);
        assert_eq!([bench.taken(0).len(), bench.taken(1).len()], [0, 0]);
        bench.pump(1_000 + length);
        assert_eq!([bench.taken(0).len(), bench.taken(1).len()], [1, 0], "as they came");
        bench.pump(1_000 + 2 * length);
        assert_eq!(bench.taken(1).len(), usize::from(together));
    }
}

/// A slow port of the show that joins a machine port slows its wire, and one that leaves it does not make it fast again.
#[test]
fn a_wire_is_as_slow_as_the_slowest_port_that_ever_used_it() {
    let mut show = show();
    (show.ports[0].link, show.ports[1].link) = (Link::BytesPerSecond(1_000_000), Link::Din);
    let mut bench = bench_of(&show, [0, 1], false);
    bench.ready(0, 0);
    let light = bench.light(0);
    let bytes = i64::try_from(bench.plan.bytes(bench.plan.items[light.index()].bytes).len()).unwrap();
    let mut now = 0;
    for (joins, per_byte) in [(None, 1), (Some(0), 320), (Some(1), 320)] {
        if let Some(machine) = joins {
            assert!(bench.gate.assign(ShowPort(1), Some(PhysicalPort(machine)), at(now), &mut |_| ()));
        }
        now += 1_000_000;
        bench.offer(0, light, now).unwrap();
        bench.offer(0, light, now).unwrap();
        assert_eq!(bench.pump(now), Some(now + bytes * per_byte + 1), "{joins:?}");
        assert_eq!(bench.pump(now + bytes * per_byte), None);
        for packet in bench.taken(0) {
            bench.done(0, packet, now);
        }
    }
}

/// A show whose presets are all one system exclusive message of so many bytes, on five-pin cables.
fn show_of_long_messages(bytes: usize) -> Show {
    let mut show = show();
    let text = format!("\"F0 7D {} F7\"", "00 ".repeat(bytes - 3));
    for preset in &mut show.presets {
        preset.message = serde_json::from_str(&format!(r#"{{"sysex":{text}}}"#)).unwrap();
    }
    show.ports.iter_mut().for_each(|port| port.link = Link::Din);
    show
}

/// Ports of one interface share its cable, so a long message on one of them would delay a release on the other.
#[test]
fn a_long_message_is_refused_beside_a_release_on_the_same_interface() {
    // 15 bytes are 4.8 ms, 16 are 5.12 ms.
    for (bytes, interfaces, refused) in [(15, [4, 4], false), (16, [4, 4], true), (16, [4, 5], false)] {
        let mut bench = bench_of(&show_of_long_messages(bytes), interfaces, false);
        bench.ready(0, 0);
        bench.ready(1, 0);
        let light = bench.light(0);
        assert_eq!(bench.offer(0, light, 0), Ok(()), "no release can leave");
        bench.gate.may_release([ShowPort(1)].into_iter());
        let expected = if refused { Err(SendOutcome::TooLong) } else { Ok(()) };
        assert_eq!(bench.offer(0, light, 0), expected, "{bytes} bytes, {interfaces:?}");
        bench.gate.may_release(std::iter::empty());
        assert_eq!(bench.offer(0, light, 0), Ok(()));
    }
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
    let row = usize::from(bench.plan.items[light.index()].sets.unwrap());
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
        let row = usize::from(bench.plan.items[light.index()].sets.unwrap());
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

/// The end of a note takes three bytes of the wire, and an order to end everything takes none by itself.
#[test]
fn ends_take_their_time_on_the_wire() {
    for (task, bytes) in [(Task::End { begun: ItemIndex::at(0) }, 3), (Task::EndAll, 0)] {
        let mut bench = bench([0, 1], false);
        bench.ready(0, 0);
        bench.gate.offer(ShowPort(0), Payload::made(&[]), task, 0, at(0)).unwrap();
        let light = bench.light(0);
        bench.offer(0, light, 0).unwrap();
        bench.pump(0);
        assert_eq!(bench.taken(0).len(), if bytes > 0 { 1 } else { 2 }, "{task:?}");
        bench.pump(bytes * 320 - 1);
        assert_eq!(bench.taken(0).len(), 0);
        bench.pump(bytes * 320);
        assert_eq!(bench.taken(0).len(), usize::from(bytes > 0));
    }
}

/// A message that takes just five milliseconds is not too long: 16 bytes at 3200 bytes a second.
#[test]
fn five_milliseconds_are_not_too_long() {
    for (rate, expected) in [(3200, Ok(())), (3199, Err(SendOutcome::TooLong))] {
        let mut show = show_of_long_messages(16);
        show.ports.iter_mut().for_each(|port| port.link = Link::BytesPerSecond(rate));
        let mut bench = bench_of(&show, [0, 1], false);
        bench.ready(0, 0);
        bench.gate.may_release([ShowPort(0)].into_iter());
        let light = bench.light(0);
        assert_eq!(bench.offer(0, light, 0), expected, "{rate} bytes a second");
    }
}

/// A packet of a release that owes something.
fn release(item: ItemIndex, owes: Debt) -> Packet {
    let task = Task::Release {
        item,
        release: ReleaseIndex(0),
        holder: HolderId(0),
        grip: Grip(1),
        not_after: at(1_000_000),
        owes: Some(owes),
    };
    Packet { task, payload: Payload::made(&[]), due: at(0), epoch: 0, recalls: 0 }
}

/// While a contact is closed, its wire is kept free for the message that opens it, whether or not a release may leave.
#[test]
fn a_long_message_does_not_stand_before_the_end_of_a_contact() {
    let mut bench = bench_of(&show_of_long_messages(16), [0, 1], false);
    bench.ready(0, 0);
    let light = bench.light(0);
    let debt = Debt { begun: light, end: light, bytes: bench.plan.items[light.index()].bytes, after: None };
    let contact = Debt { after: Some(MachineSpan::from_millis(300)), ..debt };
    for (owes, expected) in [(debt, Ok(())), (contact, Err(SendOutcome::TooLong))] {
        bench.done(0, release(light, owes), 0);
        bench.pump(0);
        assert_eq!(bench.offer(0, light, 0), expected, "{owes:?}");
    }
    // Another contact was opened: this one is still closed.
    for (end, expected) in [(bench.light(1), Err(SendOutcome::TooLong)), (light, Ok(()))] {
        bench.threads[0].reports.push(Report::Ended { end, at: at(300_000), free: at(300_000) }).unwrap();
        bench.pump(300_000);
        assert_eq!(bench.offer(0, light, 300_000), expected);
    }
}

/// The wire is free when a contact is due to be opened: a message that would still be on it waits until that time is past.
#[test]
fn the_wire_is_kept_free_for_the_end_of_a_contact() {
    let mut bench = bench([0, 1], false);
    bench.ready(0, 0);
    let light = bench.light(0);
    let after = Some(MachineSpan::from_millis(300));
    let contact = Debt { begun: light, end: light, bytes: bench.plan.items[light.index()].bytes, after };
    bench.done(0, release(light, contact), 10_000);
    bench.pump(10_000);
    for (now, leaves) in [(300_000, true), (308_000, false), (310_001, true)] {
        bench.gate.keep_free(&std::iter::empty());
        bench.offer(0, light, now).unwrap();
        bench.pump(now);
        assert_eq!(bench.taken(0).len(), usize::from(leaves), "{now}");
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

/// From the start of a release's window until its contact is open again, no message over 5 ms is accepted on its port.
#[test]
fn a_long_message_does_not_stand_before_a_release_that_may_leave() {
    // 15 bytes are 4.8 ms, 16 are 5.12 ms.
    for (bytes, within) in [(15, SendOutcome::Sent), (16, SendOutcome::TooLong)] {
        let mut show = show_of_long_messages(bytes);
        let port = show.receiver(&show.releases[0].receiver).unwrap().port.clone();
        show.receivers.iter_mut().for_each(|receiver| receiver.port = port.clone());
        let plan = plan(&show);
        let (from, to) = (plan.releases[0].from, plan.releases[0].to);
        for (mode, expected) in [(Mode::Perform, within), (Mode::Rehearse, SendOutcome::Sent)] {
            let mut desk = made_up::Desk::new(&plan, SyncPlan::default());
            desk.give(Command::Mode(mode));
            desk.start(from.micros() - 20_000_000, false);
            let until = desk.now + 20_000_000 + (to - from).micros() + 1_000_000;
            desk.run_to(until, None);
            let mut seen = [0, 0];
            for event in &desk.events {
                let Event::Message { item, outcome, .. } = event else { continue };
                let item = &plan.items[item.index()];
                if item.label.kind == Kind::Lighting {
                    let inside = (from..=to).contains(&item.due);
                    seen[usize::from(inside)] += 1;
                    assert_eq!(*outcome, if inside { expected } else { SendOutcome::Sent }, "{bytes} bytes, {mode:?}");
                }
            }
            assert!(seen.iter().all(|n| *n > 0), "{seen:?}");
        }
    }
}

/// No release leaves by a virtual port of ours, because we cannot tell whether anything listens.
#[test]
fn no_release_leaves_by_a_port_of_our_own() {
    for own in [false, true] {
        let mut bench = bench([0, 1], own);
        let release = bench.plan.releases[0].port;
        bench.ready(release.index(), 0);
        assert!(bench.gate.is_there(release));
        assert_eq!(bench.gate.can_release(release), !own);
        let item = ItemIndex::at(bench.plan.items.iter().position(|i| i.release.is_some()).unwrap());
        let task = Task::Release {
            item,
            release: ReleaseIndex(0),
            holder: HolderId(0),
            grip: Grip(1),
            not_after: at(1_000_000),
            owes: None,
        };
        let bytes = Payload::Plan(bench.plan.items[item.index()].bytes);
        let taken = bench.gate.offer(release, bytes, task, 0, at(0));
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

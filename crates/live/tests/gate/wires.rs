//! How long messages take on a wire, and when it is kept free.

use super::bench::{bench, bench_of, release};
use super::made_up::{self, at, plan, show};
use letfall_core::show::{Kind, Link, Show};
use letfall_live::{
    Command, Debt, Event, ItemIndex, MachineSpan, Mode, Payload, PhysicalPort, Report, SendOutcome, ShowPort, SyncPlan,
    Task,
};

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
        // The release's own message may be as long as it is.
        let bytes = bench.plan.items[light.index()].bytes;
        let own = release(light, Some(Debt { begun: light, end: light, bytes, after: None })).task;
        assert_eq!(bench.gate.offer(ShowPort(0), Payload::Plan(bytes), own, 0, at(0)), Ok(()));
        bench.gate.may_release(std::iter::empty());
        assert_eq!(bench.offer(0, light, 0), Ok(()));
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

/// While a contact is closed, its wire is kept free for the message that opens it, whether or not a release may leave.
#[test]
fn a_long_message_does_not_stand_before_the_end_of_a_contact() {
    let mut bench = bench_of(&show_of_long_messages(16), [0, 1], false);
    bench.ready(0, 0);
    let light = bench.light(0);
    let debt = Debt { begun: light, end: light, bytes: bench.plan.items[light.index()].bytes, after: None };
    let contact = Debt { after: Some(MachineSpan::from_millis(300)), ..debt };
    for (owes, expected) in [(debt, Ok(())), (contact, Err(SendOutcome::TooLong))] {
        bench.done(0, release(light, Some(owes)), 0);
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
    bench.done(0, release(light, Some(contact)), 10_000);
    bench.pump(10_000);
    for (now, leaves) in [(300_000, true), (308_000, false), (310_001, true)] {
        bench.gate.keep_free(&std::iter::empty());
        bench.offer(0, light, now).unwrap();
        bench.pump(now);
        assert_eq!(bench.taken(0).len(), usize::from(leaves), "{now}");
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
                    // Nobody holds, so by the decision it is settled that the release does not leave.
                    let inside = (from..plan.releases[0].decision).contains(&item.due);
                    seen[usize::from(inside)] += 1;
                    assert_eq!(*outcome, if inside { expected } else { SendOutcome::Sent }, "{bytes} bytes, {mode:?}");
                }
            }
            assert!(seen.iter().all(|n| *n > 0), "{seen:?}");
        }
    }
}

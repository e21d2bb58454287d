//! Releases: held, locked, and what a device may take for one.

use super::desk::Desk;
use super::made_up::{at, plan, show, show_with_its_message_elsewhere};
use letfall_core::show::Kind;
use letfall_live::{
    Command, DisarmReason, Event, HOLD, HolderId, Lock, Mode, PhysicalPort, ReleaseIndex, SendOutcome, ShowPort,
    SyncPlan,
};

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
        (Command::Locate { song: super::made_up::song(from + 1) }, DisarmReason::Located),
        (Command::Slept, DisarmReason::Slept),
        (Command::Port { port: ShowPort(0), there: false }, DisarmReason::PortLost),
        (Command::Assign { port: ShowPort(1), physical: Some(PhysicalPort(5)) }, DisarmReason::PortLost),
        (Command::LetGo { release: ReleaseIndex(0) }, DisarmReason::LetGo),
        (Command::Hold { release: ReleaseIndex(0), holder: HolderId(2) }, DisarmReason::OtherHolder),
        (Command::Mode(Mode::Rehearse), DisarmReason::Stopped),
        (Command::Start { song: super::made_up::song(from), at: at(0), chase: false }, DisarmReason::Located),
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

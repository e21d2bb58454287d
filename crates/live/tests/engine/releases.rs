//! Releases: held, locked, and messages that a device may mistake for one.

use super::made_up::{Desk, at, plan, show, show_with_its_message_elsewhere};
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
    // Every message is sent once, exactly to the microsecond, with releases replaced by their stand-ins.
    let mut sent = desk.sent();
    for item in plan.timed() {
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
        // A hold before the window arms nothing.
        desk.run_to(begin + from - 1, Some((0, 3)));
        assert_eq!(desk.engine.lock(ReleaseIndex(0)), Some(Lock::Closed));
        desk.run_to(begin + send + 1, held.then_some((0, 3)));
        let fate = desk.fates(&plan, Kind::Release);
        assert_eq!(fate, [if held { SendOutcome::Sent } else { SendOutcome::Locked }]);
        let item = plan.timed().iter().find(|i| i.release.is_some() && i.ends.is_none()).unwrap();
        let there = desk.sent().contains(&(begin + send, item.port.0, plan.bytes(item.bytes).to_vec()));
        assert_eq!(there, held);
        if held {
            let armed = desk
                .events
                .iter()
                .find_map(|e| if let Event::Armed { at, holder, .. } = e { Some((*at, *holder)) } else { None });
            let (at, holder) = armed.unwrap();
            assert!(at.micros() >= begin + from + HOLD.micros() && holder == HolderId(3));
            // Start again before it: a release that was sent in this run is not sent again, whoever holds it.
            desk.let_go(0);
            desk.start(from, false);
            let begin = desk.now - from;
            desk.run_to(begin + send + 1, Some((0, 3)));
            assert_eq!(desk.fates(&plan, Kind::Release).last(), Some(&SendOutcome::Twice));
            desk.let_go(0);
            desk.give(Command::NewRun);
            desk.start(from, false);
            let begin = desk.now - from;
            desk.run_to(begin + send + 1, Some((0, 3)));
            assert_eq!(desk.fates(&plan, Kind::Release).last(), Some(&SendOutcome::Sent));
        }
    }
}

/// The message of a release leaves only as that release: not as its own stand-in, not as a preset with the same message, and
/// not as a chased message.
#[test]
fn what_fires_a_release_is_sent_as_nothing_else() {
    let mut show = show();
    let (receiver, message) = (show.releases[0].receiver.clone(), show.releases[0].message.clone());
    show.releases[0].stand_in = Some(message.clone());
    for preset in &mut show.presets {
        (preset.receiver, preset.message) = (receiver.clone(), message.clone());
    }
    let plan = plan(&show);
    let fires = plan.timed().iter().find(|i| i.release.is_some() && i.ends.is_none()).unwrap();
    let fires = (fires.port.0, plan.bytes(fires.bytes).to_vec());
    for mode in [Mode::Rehearse, Mode::Perform] {
        for (from, chase) in [(-2_000_000, false), (plan.releases[0].from.micros(), true)] {
            let mut desk = Desk::new(&plan, SyncPlan::default());
            desk.give(Command::Mode(mode));
            desk.start(from, chase);
            let until = desk.now + 200_000_000;
            desk.run_to(until, None);
            assert!(!desk.sent().is_empty());
            assert!(!desk.sent().iter().any(|(_, port, bytes)| (*port, bytes) == (fires.0, &fires.1)), "{mode:?}");
            let lights = desk.fates(&plan, Kind::Lighting);
            assert!(!lights.is_empty() && lights.iter().all(|w| *w == SendOutcome::WouldRelease), "{lights:?}");
            let release = if mode == Mode::Rehearse { SendOutcome::WouldRelease } else { SendOutcome::Locked };
            assert_eq!(desk.fates(&plan, Kind::Release), [release]);
        }
    }
}

/// The same for another port of the show that uses the same machine port.
#[test]
fn what_fires_a_release_by_another_port_is_not_sent_where_both_are_one() {
    let show = show_with_its_message_elsewhere();
    let plan = plan(&show);
    let item = |kind| *plan.timed().iter().find(|i| i.label.kind == kind && i.ends.is_none()).unwrap();
    let (release, light) = (item(Kind::Release), item(Kind::Lighting));
    assert_ne!(release.port, light.port);
    for (physical_ports, sent) in
        [([None, Some(0)], true), ([Some(3), Some(4)], true), ([Some(1), Some(0)], true), ([Some(3), Some(3)], false)]
    {
        for chase in [false, true] {
            let mut map = [None; 2];
            (map[release.port.index()], map[light.port.index()]) = (physical_ports[0], physical_ports[1]);
            let mut desk = Desk::with_ports(&plan, SyncPlan::default(), &map);
            desk.start(if chase { light.due.micros() + 1 } else { -2_000_000 }, chase);
            let until = desk.now + 200_000_000;
            desk.run_to(until, None);
            let bytes = plan.bytes(light.bytes);
            let went = desk.sent().iter().any(|(_, port, b)| (Some(*port), &b[..]) == (physical_ports[1], bytes));
            assert_eq!(went, sent, "{physical_ports:?}");
            assert_eq!(
                desk.fates(&plan, Kind::Lighting).contains(&SendOutcome::WouldRelease),
                !sent,
                "{physical_ports:?}"
            );
        }
    }
}

/// The board lists the cues that the gate will refuse: a transport message where one of two ports on a machine port is not
/// confirmed to ignore it, and a release whose message fires another one too.
#[test]
fn the_board_holds_back_what_the_gate_refuses() {
    let mut transport = show_with_its_message_elsewhere();
    for preset in &mut transport.presets {
        preset.message = serde_json::from_str(r#"{"sysex":"F0 7F 7F 06 02 F7"}"#).unwrap();
    }
    let apart = transport.receivers.last().unwrap().port.clone();
    transport.ports.iter_mut().find(|p| p.key == apart).unwrap().sync_confirmed_by = "the electrician".to_owned();
    let mut alike = show();
    let twin = alike.releases[0].clone();
    alike.releases.push(twin);
    alike.releases[1].key = "twin".parse().unwrap();
    for (show, kind, one_port) in [(transport, Kind::Lighting, true), (alike, Kind::Release, false)] {
        let plan = plan(&show);
        let map: Vec<Option<u16>> = (0..2).map(|at| Some(if one_port { 0 } else { at })).collect();
        let names: Vec<Option<String>> = map.iter().map(|at| at.map(|at| at.to_string())).collect();
        let mut desk = Desk::with_ports(&plan, SyncPlan::default(), &map);
        desk.give(Command::Mode(Mode::Perform));
        desk.start(plan.releases[0].from.micros(), true);
        let until = desk.now + 200_000_000;
        desk.run_to(until, Some((0, 1)));
        assert!(desk.fates(&plan, kind).contains(&SendOutcome::WouldRelease));
        assert!(plan.held_back(&names).iter().any(|label| label.kind == kind));
    }
}

/// Everything that must close an armed lock does so, and its reason is reported. The person must press again to hold it.
#[test]
fn an_armed_release_lapses() {
    type Act = Box<dyn Fn(&mut Desk)>;
    let show = show();
    let plan = plan(&show);
    let (from, send) = (plan.releases[0].from.micros(), plan.releases[0].send.micros());
    let armed = || {
        let mut desk = Desk::new(&plan, SyncPlan::default());
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
    let give = |command| Box::new(move |desk: &mut Desk| desk.give(command)) as Act;
    let port = plan.releases[0].port;
    let cases: Vec<(&str, Act, DisarmReason)> = vec![
        ("stop", give(Command::Stop), DisarmReason::Stopped),
        ("stop-all", Box::new(Desk::stop_all), DisarmReason::Stopped),
        ("locate", give(Command::Locate { song: super::made_up::song(from + 1) }), DisarmReason::Located),
        ("slept", give(Command::Slept), DisarmReason::Slept),
        ("its port goes", Box::new(move |desk| desk.close(port.0)), DisarmReason::PortLost),
        (
            "its port is another",
            Box::new(move |desk| {
                let (events, now) = (&mut desk.events, at(desk.now));
                desk.gate.assign(port, Some(PhysicalPort(0)), now, &mut |_| ());
                desk.engine.port_assigned(&desk.gate, port, at(desk.now), &mut |e| events.push(e));
            }),
            DisarmReason::PortLost,
        ),
        ("let go", Box::new(|desk| desk.let_go(0)), DisarmReason::LetGo),
        ("another hand", Box::new(|desk| desk.hold(0, 2)), DisarmReason::OtherHolder),
        (
            "another press of the same hand",
            Box::new(|desk| {
                desk.grip += 1;
                desk.hold(0, 1);
            }),
            DisarmReason::OtherHolder,
        ),
        ("mode", give(Command::Mode(Mode::Rehearse)), DisarmReason::Stopped),
        (
            "start",
            give(Command::Start { song: super::made_up::song(from), at: at(0), chase: false }),
            DisarmReason::Located,
        ),
        (
            "the clock that leads stumbles",
            Box::new(move |desk| {
                let (song, now) = (desk.engine.song(at(desk.now)).unwrap(), at(desk.now));
                desk.give(Command::Follow { song: song + letfall_core::time::SongSpan::from_millis(150), at: now });
            }),
            DisarmReason::Located,
        ),
    ];
    for (what, act, why) in cases {
        let mut desk = armed();
        act(&mut desk);
        desk.turn();
        assert_eq!(lapse(&desk), Some(why), "{what}");
        assert_eq!(desk.engine.lock(ReleaseIndex(0)), Some(Lock::Closed), "{what}");
        // It stays closed while the same press continues.
        desk.grip = 1;
        let until = desk.now + 3_000_000;
        desk.run_to(until, Some((0, 1)));
        assert_eq!(desk.engine.lock(ReleaseIndex(0)), Some(Lock::Closed), "{what}");
    }
    // A screen that no longer responds, and a machine that stalled.
    let mut desk = armed();
    let until = desk.now + 700_000;
    desk.run_to(until, None);
    assert_eq!(lapse(&desk), Some(DisarmReason::Silence));
    let mut desk = armed();
    desk.now += 5_000_000;
    let until = desk.now;
    desk.run_to(until, None);
    assert_eq!(desk.engine.lock(ReleaseIndex(0)), Some(Lock::Closed));
    // A port that fails during sending.
    let mut desk = armed();
    desk.break_ports(&[0, 1]);
    let until = desk.now + (send - from);
    desk.run_to(until, Some((0, 1)));
    assert!(!desk.fates(&plan, Kind::Release).contains(&SendOutcome::Sent));
}

/// If a port fails that neither the release nor its handover uses, the release stays armed.
#[test]
fn a_port_that_the_release_does_not_need_does_not_lock_it() {
    let mut show = show();
    show.ports.push(serde_json::from_str(r#"{"key":"spare","name":"Spare"}"#).unwrap());
    let plan = plan(&show);
    assert!(!plan.releases[0].needs.contains(&ShowPort(2)) && plan.releases[0].needs.contains(&plan.releases[0].port));
    let from = plan.releases[0].from.micros();
    for (lost, armed) in [(2, true), (plan.releases[0].port.0, false)] {
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.give(Command::Mode(Mode::Perform));
        desk.start(from, false);
        let until = desk.now + 2_000_000;
        desk.run_to(until, Some((0, 1)));
        desk.close(lost);
        desk.turn();
        assert_eq!(matches!(desk.engine.lock(ReleaseIndex(0)), Some(Lock::Armed { .. })), armed, "port {lost}");
    }
}

/// The demo show with a second release, three seconds after the first, whose window overlaps the first one's.
fn two_releases() -> letfall_core::show::Show {
    let mut show = show();
    let mut second = show.releases[0].clone();
    second.key = "second".parse().unwrap();
    second.message = serde_json::from_str(r#"{"note":{"key":61,"velocity":127}}"#).unwrap();
    show.releases.push(second);
    let cue = show.services[0].cues.as_slice().iter().find(|c| c.label.kind == Kind::Release).unwrap().clone();
    let mut text = serde_json::to_value(&cue).unwrap();
    text["label"] = "R9".into();
    text["does"]["release"]["release"] = "second".into();
    let mut other: letfall_core::show::Cue = serde_json::from_value(text).unwrap();
    other.at = letfall_core::show::Anchor::Clock(
        cue.at.time(&plan(&show).grid) + letfall_core::time::SongSpan::from_millis(3_000),
    );
    show.services[0].cues.put(vec![other]);
    show
}

/// A press that has begun to arm one release arms no other, even if commands for both come. Each opening is told once.
#[test]
fn one_press_is_for_the_release_that_it_began_with() {
    let plan = plan(&two_releases());
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.give(Command::Mode(Mode::Perform));
    desk.start(plan.releases[1].from.micros() + 1, false);
    for _ in 0..20 {
        desk.hold(0, 0);
        desk.hold(1, 0);
        desk.now += 100_000;
    }
    assert!(matches!(desk.engine.lock(ReleaseIndex(0)), Some(Lock::Armed { .. })));
    assert_eq!(desk.engine.lock(ReleaseIndex(1)), Some(Lock::Closed));
    let told: Vec<&Event> =
        desk.events.iter().filter(|e| matches!(e, Event::Opening { .. } | Event::Armed { .. })).collect();
    let first = ReleaseIndex(0);
    assert!(
        matches!(told[..], [Event::Opening { release: a, .. }, Event::Armed { release: b, .. }] if *a == first && *b == first),
        "{told:?}"
    );
}

/// One press serves one release. If it continues after that one has left, it arms no other.
#[test]
fn one_press_arms_one_release() {
    let plan = plan(&two_releases());
    assert_eq!(plan.releases.len(), 2);
    let (from, last) = (plan.releases[0].from.micros(), plan.releases[1].send.micros());
    for one_press in [true, false] {
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.give(Command::Mode(Mode::Perform));
        desk.start(from, false);
        let begin = desk.now - from;
        desk.run_to(begin + plan.releases[0].send.micros() + 1, Some((0, 1)));
        if !one_press {
            desk.let_go(0);
        }
        desk.run_to(begin + last + 1, Some((1, 1)));
        let fates = desk.fates(&plan, Kind::Release);
        let expected = [SendOutcome::Sent, if one_press { SendOutcome::Locked } else { SendOutcome::Sent }];
        assert_eq!(fates, expected, "one press: {one_press}");
    }
}

/// A person asks for a second try. It has its own window and needs its own hold, leaves as soon as it is armed, and is the
/// last one.
#[test]
fn a_second_try_is_one_of_its_own() {
    let show = show();
    let plan = plan(&show);
    let (from, send) = (plan.releases[0].from.micros(), plan.releases[0].send.micros());
    let again = Command::SecondTry { release: ReleaseIndex(0) };
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.give(Command::Mode(Mode::Perform));
    desk.start(from, false);
    desk.give(again);
    assert!(!desk.events.iter().any(|e| matches!(e, Event::SecondTry { .. })), "nothing has left yet");
    let begin = desk.now - from;
    desk.run_to(begin + send + 5_000_000, Some((0, 1)));
    desk.give(again);
    let asked = desk.now;
    // The press that fired the first try is over, however long it continues.
    desk.run_to(asked + 2_000_000, Some((0, 1)));
    assert_eq!(desk.fates(&plan, Kind::Release), [SendOutcome::Sent]);
    desk.let_go(0);
    let held = desk.now;
    desk.run_to(held + 3_000_000, Some((0, 1)));
    assert_eq!(desk.fates(&plan, Kind::Release), [SendOutcome::Sent, SendOutcome::Sent]);
    let item = plan.timed().iter().find(|i| i.release.is_some() && i.ends.is_none()).unwrap();
    let times: Vec<i64> = desk.sent().iter().filter(|s| s.2 == plan.bytes(item.bytes)).map(|s| s.0).collect();
    assert_eq!(times.len(), 2);
    assert!(times[1] >= held + HOLD.micros() && times[1] < held + HOLD.micros() + 200_000, "{}", times[1] - held);
    // There is no third try, and reaching its place again sends nothing.
    desk.let_go(0);
    desk.give(again);
    desk.start(from, false);
    let begin = desk.now - from;
    desk.run_to(begin + send + 1, Some((0, 1)));
    assert_eq!(desk.fates(&plan, Kind::Release).last(), Some(&SendOutcome::Twice));
}

#[test]
fn a_release_whose_port_is_missing_is_not_armed() {
    let show = show();
    let plan = plan(&show);
    let item = *plan.timed().iter().find(|i| i.release.is_some() && i.ends.is_none()).unwrap();
    let from = plan.releases[0].from.micros();
    for there in [false, true] {
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.close(item.port.0);
        desk.turn();
        if there {
            desk.open(item.port.0);
        }
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

/// While a contact is closed, and only then, active sensing is sent at least every 300 ms (MIDI 1.0). A box that supports it
/// opens the contact when it stops. It is never sent where power holds the fabric, because switching off would let go.
#[test]
fn a_closed_contact_is_watched_over() {
    for (kind, sensed) in [("energise", true), ("deenergise", false), ("unknown", false)] {
        let mut show = show();
        show.releases[0].kind = serde_json::from_str(&format!("\"{kind}\"")).unwrap();
        show.releases[0].pulse = letfall_core::time::SongSpan::from_millis(2_000);
        let plan = plan(&show);
        let (from, send) = (plan.releases[0].from.micros(), plan.releases[0].send.micros());
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.give(Command::Mode(Mode::Perform));
        desk.start(from, false);
        let closed = desk.now + send - from;
        desk.run_to(closed + 5_000_000, Some((0, 1)));
        assert_eq!(desk.fates(&plan, Kind::Release), [SendOutcome::Sent]);
        let sent = desk.sent();
        let times: Vec<i64> = sent.iter().filter(|s| s.2 == [0xfe]).map(|s| s.0).collect();
        assert_eq!(!times.is_empty(), sensed, "{kind}");
        if sensed {
            assert!(times.iter().all(|t| (closed..closed + 2_000_000).contains(t)), "{times:?}");
            assert!(times[0] < closed + 300_000 && times.windows(2).all(|w| w[1] - w[0] <= 300_000), "{times:?}");
            assert!(times[times.len() - 1] > closed + 1_700_000);
        }
    }
}

/// The sending thread stood still for a while: an armed release still leaves up to a quarter of a second late, and not after that.
#[test]
fn a_release_that_is_too_late_stays() {
    let plan = plan(&show());
    for (late, fate) in [(250_000, SendOutcome::Sent), (250_001, SendOutcome::TooLate)] {
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.give(Command::Mode(Mode::Perform));
        let send = plan.releases[0].send.micros();
        desk.start(send - 3_000_000, false);
        let due = desk.now + 3_000_000;
        desk.run_to(due - 1_000, Some((0, 0)));
        desk.now = due + late;
        desk.run_to(due + late, Some((0, 0)));
        assert_eq!(desk.fates(&plan, Kind::Release), [fate], "{late} µs late");
    }
}

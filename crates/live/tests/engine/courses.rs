//! What becomes of a release and of what depends on it, compared with what people chose and when: the fabric stays, is stuck, falls early,
//! or is tried once more. What may leave is worked out here from the show's own lists, not asked of the engine.

use super::made_up::{Desk, show, song};
use letfall_core::show::{Branch, HangUp, Kind, Label, Show};
use letfall_core::time::SongSpan;
use letfall_live::{
    Answer, Bend, Command, Event, Fate, HolderId, Lock, Mode, Part, Refusal, ReleaseIndex, RunPlan, SendOutcome,
    SyncPlan,
};
use std::sync::Arc;

pub const R: ReleaseIndex = ReleaseIndex(0);

/// The demo show, whose release has cues that depend on it, and something to send for each other course.
pub fn with_courses() -> Show {
    let mut show = show();
    let route = |at: usize| show.routes[at].key.clone();
    let preset = |at: usize| show.presets[at].key.clone();
    let branch =
        |lights, show| Branch { caller: "deputy".into(), words: "words".into(), lights, show, ..Branch::default() };
    let stays = branch(vec![preset(0)], vec![route(0)]);
    let early = branch(vec![preset(1)], vec![route(1)]);
    let release = &mut show.releases[0];
    release.stays = Some(stays);
    release.early = Some(early);
    let hold = release.hang_up.take().map(|plan| plan.hold).unwrap_or_default();
    release.hang_up = Some(HangUp { hold, lights: vec![preset(2)], ..HangUp::default() });
    show
}

pub fn plan(show: &Show) -> Arc<RunPlan> {
    super::made_up::plan(show)
}

pub fn bend(desk: &mut Desk, bend: Bend) -> Answer {
    desk.give(Command::Bend { bend, by: HolderId(4) });
    let answer = |event: &Event| match event {
        Event::Bent { bend: of, answer, by: HolderId(4), .. } if *of == bend => Some(*answer),
        _ => None,
    };
    desk.events.iter().rev().find_map(answer).expect("an answer")
}

/// The demo's handover, as the show file lists it.
pub fn dependents(show: &Show) -> Vec<Label> {
    let mut labels: Vec<Label> = show.services[0].handovers.iter().flat_map(|h| h.cues.iter().copied()).collect();
    labels.sort_unstable();
    assert!(labels.len() > 1);
    labels
}

/// Labels of what was sent, but for chased messages.
fn sent(desk: &Desk, plan: &RunPlan) -> Vec<Label> {
    let of = |event: &Event| match event {
        Event::Message { item, outcome: SendOutcome::Sent, .. } => plan.item(*item).filter(|i| i.ends.is_none()),
        _ => None,
    };
    desk.events.iter().filter_map(of).filter(|i| i.due < song(i64::MAX)).map(|i| i.label).collect()
}

/// Bytes that the show's presets and routes of a course have, in the order in which they are to be sent.
fn bytes_of(plan: &RunPlan, course: letfall_core::show::Course) -> Vec<Vec<u8>> {
    let items = plan.releases[0].sent_instead(course);
    items.iter().filter_map(|item| plan.item(*item)).map(|item| plan.bytes(item.bytes).to_vec()).collect()
}

fn fates(desk: &Desk) -> Vec<(Fate, bool)> {
    let of = |event: &Event| match event {
        Event::Fate { fate, late, .. } => Some((*fate, *late)),
        _ => None,
    };
    desk.events.iter().filter_map(of).collect()
}

/// Performs, starting ten seconds before the window. Returns the desk, and the machine time of song time 0.
fn begun(plan: &Arc<RunPlan>) -> (Desk, i64) {
    let mut desk = Desk::new(plan, SyncPlan::default());
    desk.give(Command::Mode(Mode::Perform));
    let from = plan.releases[0].from.micros() - 10_000_000;
    desk.start(from, true);
    let zero = desk.now - from;
    (desk, zero)
}

/// The decision is a second before the first of them leaves, and the show's list says which depend.
#[test]
fn the_plan_knows_what_depends_on_a_release() {
    let show = with_courses();
    let plan = plan(&show);
    let release = &plan.releases[0];
    let mut of: Vec<Label> = release.dependents.iter().filter_map(|item| plan.label(*item)).collect();
    of.sort_unstable();
    let machine = |label: &Label| plan.timed().iter().any(|item| item.label == *label);
    assert_eq!(of, dependents(&show).into_iter().filter(machine).collect::<Vec<_>>());
    let first = release.dependents.iter().filter_map(|item| plan.item(*item)).map(|item| item.due).min().unwrap();
    assert_eq!(release.decision, first.min(release.send) - SongSpan::from_millis(1000));
    assert_eq!(bytes_of(&plan, letfall_core::show::Course::Stays).len(), 2);
    assert!(plan.instead(release.instead[0][0]).unwrap().starts_with("fabric stays: "));
    assert_eq!(plan.instead(letfall_live::ItemIndex(0)), None);
}

/// Nobody holds: at the decision, to the microsecond, the fabric stays. Nothing that depends on it leaves, its own message neither, what is
/// sent instead leaves at once, and nobody can arm it any more.
#[test]
fn nobody_holds_and_the_fabric_stays() {
    let show = with_courses();
    let plan = plan(&show);
    let release = plan.releases[0].clone();
    let (mut desk, zero) = begun(&plan);
    let decision = zero + release.decision.micros();
    desk.run_to(decision - 1, None);
    assert_eq!((fates(&desk), desk.engine.fate(R)), (vec![], Some(Fate::Open)));
    desk.run_to(decision, None);
    assert_eq!(fates(&desk), [(Fate::Stays, false)]);
    assert_eq!(desk.engine.lock(R), Some(Lock::Withheld));
    let mut instead: Vec<Vec<u8>> = desk.sent().into_iter().filter(|s| s.0 == decision).map(|s| s.2).collect();
    // They leave by two ports.
    instead.sort_by_key(Vec::len);
    let mut wanted = bytes_of(&plan, letfall_core::show::Course::Stays);
    wanted.sort_by_key(Vec::len);
    assert_eq!(instead, wanted);
    desk.run_to(zero + release.to.micros() + 1_000_000, Some((0, 1)));
    let depend = dependents(&show);
    assert!(sent(&desk, &plan).iter().all(|label| !depend.contains(label) && label.kind != Kind::Release));
    assert_eq!(desk.fates(&plan, Kind::Release), [SendOutcome::Locked]);
    let other = |e: &Event| matches!(e, Event::Message { outcome: SendOutcome::OtherCourse, .. });
    assert_eq!(desk.events.iter().filter(|e| other(e)).count(), release.dependents.len());
    assert!(!desk.events.iter().any(|e| matches!(e, Event::Opening { .. } | Event::Armed { .. })));
}

/// Somebody holds until after the decision and lets go before the send: the fabric stays, and what has left already is told as late.
#[test]
fn letting_go_late_takes_the_same_course() {
    let mut show = with_courses();
    // A cue that depends on the release and leaves half a second before it.
    let release = show.services[0].cues.iter().find(|cue| cue.label.kind == Kind::Release).unwrap().label;
    let before = plan(&show).releases[0].send - SongSpan::from_millis(500);
    let early = plan(&show).timed().iter().find(|i| i.label.kind == Kind::Lighting && i.due < before).unwrap().label;
    let mut cue = show.services[0].cues.get(early).unwrap().clone();
    cue.at = letfall_core::show::Anchor::Clock(before);
    show.services[0].cues.put(vec![cue]);
    show.releases[0].depends = vec![early];
    assert!(letfall_core::schedule::dependents(&show, &show.services[0], release).contains(&early));
    let plan = plan(&show);
    let facts = plan.releases[0].clone();
    let due = plan.timed().iter().find(|item| item.label == early).unwrap().due;
    assert!(due < facts.send && facts.decision < due);
    for (let_go, late) in [(due.micros() - 1_000, false), (due.micros() + 1_000, true)] {
        let (mut desk, zero) = begun(&plan);
        desk.run_to(zero + facts.from.micros(), None);
        desk.run_to(zero + let_go, Some((0, 1)));
        assert!(matches!(desk.engine.lock(R), Some(Lock::Armed { .. })));
        desk.let_go(0);
        assert_eq!(fates(&desk), [(Fate::Stays, late)], "{let_go}");
        desk.run_to(zero + facts.to.micros() + 1_000_000, Some((0, 1)));
        assert_eq!(sent(&desk, &plan).contains(&early), late);
        assert_eq!(desk.fates(&plan, Kind::Release), [SendOutcome::Locked]);
        let depend = dependents(&show);
        assert!(sent(&desk, &plan).iter().all(|label| !depend.contains(label)));
    }
}

/// Held to the end, all of it leaves when planned.
#[test]
fn a_release_that_is_held_takes_its_cues_along() {
    let show = with_courses();
    let plan = plan(&show);
    let facts = plan.releases[0].clone();
    let (mut desk, zero) = begun(&plan);
    desk.run_to(zero + facts.from.micros(), None);
    desk.run_to(zero + facts.send.micros() + 10_000, Some((0, 1)));
    assert_eq!(fates(&desk), [(Fate::Gone, false)]);
    desk.run_to(zero + facts.to.micros() + 3_000_000, None);
    for item in &facts.dependents {
        let item = plan.item(*item).unwrap();
        let there = desk.sent().contains(&(zero + item.due.micros(), item.port.0, plan.bytes(item.bytes).to_vec()));
        assert!(there, "{}", item.label);
    }
    // Sent once; stuck and down can be told, the fabric stays cannot.
    assert_eq!(bend(&mut desk, Bend::Stays { release: R }), Answer::Refused(Refusal::Sent));
    assert_eq!(bend(&mut desk, Bend::Early { release: R }), Answer::Refused(Refusal::Sent));
    assert_eq!(bend(&mut desk, Bend::TryAt { release: R, land: facts.land }), Answer::Refused(Refusal::Sent));
}

/// Its port is pulled as it leaves: the driver refuses, so it counts as not gone, and nothing that depends on it follows. A person who sees
/// that it is down all the same says so, and the rest is sent.
#[test]
fn a_release_that_may_not_have_left_takes_nothing_along() {
    let show = with_courses();
    let plan = plan(&show);
    let facts = plan.releases[0].clone();
    let (mut desk, zero) = begun(&plan);
    desk.run_to(zero + facts.from.micros(), None);
    desk.run_to(zero + facts.send.micros() - 1, Some((0, 1)));
    desk.break_ports(&[facts.port.0]);
    desk.run_to(zero + facts.send.micros() + 1_000, Some((0, 1)));
    assert_eq!(fates(&desk), [(Fate::Stays, false)]);
    desk.run_to(zero + facts.to.micros() + 1_000_000, None);
    let depend = dependents(&show);
    assert!(sent(&desk, &plan).iter().all(|label| !depend.contains(label)));
    let before = desk.sent().len();
    assert_eq!(bend(&mut desk, Bend::Down { release: R }), Answer::Done);
    assert_eq!(desk.engine.fate(R), Some(Fate::Gone));
    assert!(desk.sent().len() > before, "the state of the place is sent");
}

/// A start after the release, in a run in which it did not go: the fabric counts as up, until a person says that it is down.
#[test]
fn a_start_after_it_asks_whether_the_fabric_is_down() {
    let show = with_courses();
    let plan = plan(&show);
    let facts = plan.releases[0].clone();
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.give(Command::Mode(Mode::Perform));
    desk.start(facts.to.micros() + 4_000_000, true);
    desk.run_to(desk.now + 100_000, None);
    assert_eq!(desk.engine.fate(R), Some(Fate::Stays));
    let chased = |desk: &Desk| -> Vec<Label> {
        let of = |event: &Event| match event {
            Event::Message { item, outcome: SendOutcome::Chased, .. } => plan.item(*item).map(|i| i.label),
            _ => None,
        };
        desk.events.iter().filter_map(of).collect()
    };
    let depend = dependents(&show);
    let later = |item: &letfall_live::RunItem| {
        plan.timed()
            .iter()
            .any(|i| i.sets == item.sets && i.due > item.due && i.due < facts.to + SongSpan::from_millis(4000))
    };
    let last =
        facts.dependents.iter().filter_map(|item| plan.item(*item)).filter(|item| item.sets.is_some() && !later(item));
    let last: Vec<_> = last.collect();
    assert!(!last.is_empty());
    assert!(chased(&desk).iter().all(|label| !depend.contains(label)));
    assert_eq!(bend(&mut desk, Bend::Down { release: R }), Answer::Done);
    desk.run_to(desk.now + 100_000, None);
    for item in last {
        let has = desk.gate.last_of_row(item.sets.unwrap() as usize).and_then(|at| plan.item(at)).unwrap();
        assert_eq!(plan.bytes(has.bytes), plan.bytes(item.bytes), "{}", item.label);
    }
    assert!(chased(&desk).iter().any(|label| depend.contains(label)));
}

/// Stuck: what waits and can still be stopped does, what is sent instead leaves at once, and what leaves less than 3 s after is not held.
#[test]
fn stuck_holds_what_can_still_be_stopped() {
    let mut show = with_courses();
    let facts = plan(&show).releases[0].clone();
    let near = |item: &&letfall_live::RunItem| {
        item.ends.is_none() && item.due > facts.send && item.due < facts.send + SongSpan::from_millis(3000)
    };
    let far =
        |item: &&letfall_live::RunItem| item.ends.is_none() && item.due > facts.send + SongSpan::from_millis(3500);
    let one = plan(&show);
    let near = one.timed().iter().find(near).unwrap().label;
    let far = one.timed().iter().find(far).unwrap().label;
    show.releases[0].hang_up.as_mut().unwrap().hold = vec![near, far];
    let plan = plan(&show);
    let (mut desk, zero) = begun(&plan);
    assert_eq!(
        bend(&mut desk, Bend::Stuck { release: R, part: Part::Left }),
        Answer::Refused(Refusal::NotSent),
        "nothing was sent yet"
    );
    desk.run_to(zero + facts.from.micros(), None);
    desk.run_to(zero + facts.send.micros() + 10_000, Some((0, 1)));
    let before = desk.sent().len();
    assert_eq!(bend(&mut desk, Bend::Stuck { release: R, part: Part::Left }), Answer::Done);
    assert_eq!(desk.engine.fate(R), Some(Fate::Stuck(Part::Left)));
    let sent_now: Vec<Vec<u8>> = desk.sent().into_iter().skip(before).map(|s| s.2).collect();
    assert_eq!(sent_now, bytes_of(&plan, letfall_core::show::Course::Stuck));
    // Another part of it: only what is written down changes.
    let before = desk.sent().len();
    assert_eq!(bend(&mut desk, Bend::Stuck { release: R, part: Part::Right }), Answer::Done);
    assert_eq!(
        (desk.engine.fate(R), fates(&desk).last().copied()),
        (Some(Fate::Stuck(Part::Right)), Some((Fate::Stuck(Part::Right), false)))
    );
    assert_eq!(desk.sent().len(), before, "nothing is sent twice");
    desk.run_to(zero + plan.end.micros(), None);
    assert!(sent(&desk, &plan).contains(&near) && !sent(&desk, &plan).contains(&far));
    // It comes down after all: what waited is sent.
    let (mut desk, zero) = begun(&plan);
    desk.run_to(zero + facts.from.micros(), None);
    desk.run_to(zero + facts.send.micros() + 10_000, Some((0, 1)));
    bend(&mut desk, Bend::Stuck { release: R, part: Part::All });
    bend(&mut desk, Bend::Down { release: R });
    desk.run_to(zero + plan.end.micros(), None);
    assert!(sent(&desk, &plan).contains(&far));
}

/// Early: everything stops, light first, and pictures only on a key.
#[test]
fn early_puts_people_before_pictures() {
    let show = with_courses();
    let plan = plan(&show);
    let facts = plan.releases[0].clone();
    let (mut desk, zero) = begun(&plan);
    desk.run_to(zero + facts.from.micros() + 500_000, Some((0, 1)));
    let before = desk.sent().len();
    assert_eq!(bend(&mut desk, Bend::Early { release: R }), Answer::Done);
    assert!(!desk.engine.runs());
    let all = bytes_of(&plan, letfall_core::show::Course::Early);
    let after = |desk: &Desk| -> Vec<Vec<u8>> { desk.sent().into_iter().skip(before).map(|s| s.2).collect() };
    assert_eq!(after(&desk), all[..1]);
    desk.run_to(desk.now + 5_000_000, Some((0, 1)));
    assert_eq!(after(&desk), all[..1], "nothing more by itself");
    assert_eq!(bend(&mut desk, Bend::Next), Answer::Done);
    assert_eq!(after(&desk), all);
    assert_eq!(desk.engine.lock(R), Some(Lock::Withheld));
}

/// Pictures that nobody asked for after an early fall belong to that run alone.
#[test]
fn a_new_run_owes_no_pictures_of_the_last() {
    let plan = plan(&with_courses());
    let (mut desk, zero) = begun(&plan);
    desk.run_to(zero + plan.releases[0].from.micros(), None);
    bend(&mut desk, Bend::Early { release: R });
    desk.give(Command::NewRun);
    assert_eq!(bend(&mut desk, Bend::Next), Answer::Refused(Refusal::NotRunning));
}

/// A second try lands at a chosen bar, with a decision, a window and a hold of its own, and takes along what depends on it. There is no third.
#[test]
fn a_second_try_lands_where_it_was_chosen() {
    let show = with_courses();
    let plan = plan(&show);
    let facts = plan.releases[0].clone();
    let shift = SongSpan::from_millis(20_000);
    for held in [true, false] {
        let (mut desk, zero) = begun(&plan);
        let try_at = |land| Bend::TryAt { release: R, land };
        assert_eq!(bend(&mut desk, try_at(facts.land + shift)), Answer::Refused(Refusal::Sent), "it is open still");
        desk.run_to(zero + facts.decision.micros() + 1, None);
        let soon = SongSpan::from_millis(2_000);
        assert_eq!(bend(&mut desk, try_at(facts.land + soon)), Answer::Refused(Refusal::NoTimeToArm));
        assert_eq!(bend(&mut desk, try_at(facts.land + shift)), Answer::Done);
        assert_eq!(desk.engine.fate(R), Some(Fate::Open));
        // The planned moment passes without it.
        desk.run_to(zero + facts.to.micros() + 1, Some((0, 1)));
        assert!(desk.fates(&plan, Kind::Release).is_empty());
        desk.let_go(0);
        let end = zero + (facts.to + shift).micros() + 5_000_000;
        desk.run_to(end, held.then_some((0, 1)));
        let depend: Vec<_> = facts.dependents.iter().filter_map(|item| plan.item(*item)).collect();
        for item in &depend {
            let due = zero + (item.due + shift).micros();
            let there = desk.sent().contains(&(due, item.port.0, plan.bytes(item.bytes).to_vec()));
            assert_eq!(there, held, "{}", item.label);
        }
        let outcome = if held { SendOutcome::Sent } else { SendOutcome::Locked };
        assert_eq!(desk.fates(&plan, Kind::Release), [outcome]);
        // Nothing that depends on it had left by the second decision.
        assert!(held || fates(&desk).last() == Some(&(Fate::Stays, false)), "{:?}", fates(&desk));
        let again = bend(&mut desk, try_at(facts.land + shift + shift));
        let refusal = if held { Refusal::Sent } else { Refusal::TriedTwice };
        assert_eq!(again, Answer::Refused(refusal));
    }
}

/// In a rehearsal each course can be tried: a person chooses it, and stand-ins leave instead of releases.
#[test]
fn courses_are_rehearsed_with_stand_ins() {
    let show = with_courses();
    let plan = plan(&show);
    let facts = plan.releases[0].clone();
    let depend = dependents(&show);
    let mut desk = Desk::new(&plan, SyncPlan::default());
    let from = facts.from.micros() - 1_000_000;
    desk.start(from, true);
    let zero = desk.now - from;
    desk.run_to(zero + facts.decision.micros() + 100, None);
    assert_eq!(desk.engine.fate(R), Some(Fate::Open), "a rehearsal decides nothing by itself");
    assert_eq!(bend(&mut desk, Bend::Stays { release: R }), Answer::Done);
    desk.run_to(zero + facts.to.micros() + 2_000_000, None);
    assert_eq!(desk.fates(&plan, Kind::Release), [SendOutcome::OtherCourse]);
    assert!(sent(&desk, &plan).iter().all(|label| !depend.contains(label)));
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.start(from, true);
    let zero = desk.now - from;
    desk.run_to(zero + facts.to.micros() + 2_000_000, None);
    assert_eq!(desk.fates(&plan, Kind::Release), [SendOutcome::StandIn]);
    assert!(facts.dependents.iter().filter_map(|i| plan.label(*i)).all(|label| sent(&desk, &plan).contains(&label)));
    assert_eq!(bend(&mut desk, Bend::Stuck { release: R, part: Part::Right }), Answer::Done);
    assert_eq!(bend(&mut desk, Bend::TryAt { release: R, land: facts.land }), Answer::Refused(Refusal::Rehearsing));
}

/// By hand: a key sends the group that lands together, each message as long before as its lead asks for. A release leaves only if it is
/// armed, its window opens with its group, and what depends on it goes with it.
#[test]
fn by_hand_a_group_leaves_together_and_a_release_only_armed() {
    let show = with_courses();
    let plan = plan(&show);
    let facts = plan.releases[0].clone();
    let group = plan.groups.iter().position(|group| group.releases.contains(&R)).unwrap();
    for armed in [true, false] {
        let mut desk = Desk::new(&plan, SyncPlan::default());
        desk.give(Command::Mode(Mode::Perform));
        let from = facts.from.micros() - 4_000_000;
        desk.start(from, true);
        let until = desk.now + 1_000_000;
        desk.run_to(until, None);
        assert_eq!(bend(&mut desk, Bend::Next), Answer::Refused(Refusal::NotRunning));
        assert_eq!(bend(&mut desk, Bend::ByHand), Answer::Done);
        let here = song(from + 1_000_000);
        let first = plan
            .groups
            .iter()
            .position(|g| g.items.iter().filter_map(|item| plan.item(*item)).any(|item| item.due >= here));
        let first = first.unwrap();
        assert!(first <= group);
        for at_group in first..=group {
            // Far longer than the plan would take, while the clock of the song stands.
            let until = desk.now + 30_000_000;
            let before = desk.sent().len();
            desk.run_to(until, (armed && at_group == group).then_some((0, 1)));
            assert_eq!(desk.sent().len(), before, "nothing leaves without a key");
            if at_group < group {
                // A release can be armed only with its group.
                desk.run_to(desk.now + 2_000_000, Some((0, 1)));
                assert!(!matches!(desk.engine.lock(R), Some(Lock::Armed { .. })));
                desk.let_go(0);
            }
            let now = desk.now;
            assert_eq!(bend(&mut desk, Bend::Next), Answer::Done);
            desk.run_to(now + 8_000_000, (armed && at_group == group).then_some((0, 1)));
            let items: Vec<_> = plan.groups[at_group].items.iter().filter_map(|item| plan.item(*item)).collect();
            let items: Vec<_> = items.into_iter().filter(|item| item.due >= here).collect();
            let first = items.iter().map(|item| item.due).min().unwrap();
            for item in items {
                let due = now + (item.due - first).micros();
                let there = desk.sent().contains(&(due, item.port.0, plan.bytes(item.bytes).to_vec()));
                let depends = item.release.is_some() || !plan.releases_of(item.depends).is_empty();
                assert_eq!(there, armed || !depends, "{} of group {at_group}", item.label);
            }
        }
        let outcome = if armed { SendOutcome::Sent } else { SendOutcome::Locked };
        assert_eq!(desk.fates(&plan, Kind::Release), [outcome]);
    }
}

/// Every action of the show that is sent by hand is in one group, and groups are in order of landing.
#[test]
fn every_message_is_in_one_group() {
    let show = with_courses();
    let plan = plan(&show);
    let mut seen: Vec<_> = plan.groups.iter().flat_map(|group| group.items.iter().copied()).collect();
    seen.sort_unstable();
    let all: Vec<_> =
        (0..plan.timed).filter(|at| plan.items[*at].ends.is_none()).map(letfall_live::ItemIndex::at).collect();
    assert_eq!(seen, all);
    assert!(plan.groups.windows(2).all(|pair| pair[0].land < pair[1].land));
    for group in &plan.groups {
        for item in group.items.iter().filter_map(|item| plan.item(*item)) {
            let depends = !plan.releases_of(item.depends).is_empty();
            assert!(item.land == group.land || depends || (item.land - group.land).micros() < 1_000, "{}", item.label);
        }
    }
}

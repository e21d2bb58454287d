//! What a change of the way of going takes along: from the clock to the hand, from a rehearsal to a performance.

use super::courses::{R, bend, dependents, plan, with_courses};
use super::made_up::{Desk, song};
use letfall_live::{Answer, Bend, Command, Event, Fate, HolderId, Mode, SendOutcome, SyncPlan};

/// What waited for its port when somebody went on by hand was withdrawn with the clock; what it would have set is sent anew.
#[test]
fn going_by_hand_loses_nothing_that_was_due() {
    let show = with_courses();
    let plan = plan(&show);
    let sets = |item: &&letfall_live::RunItem| item.sets.is_some() && item.due > song(20_000_000);
    let row = plan.timed().iter().find(sets).unwrap();
    let port = row.port.0;
    let mut desk = Desk::new(&plan, SyncPlan::default());
    desk.start(row.due.micros() - 2_000_000, true);
    desk.run_to(desk.now + 1_500_000, None);
    // Its port is gone as it falls due.
    desk.close(port);
    let due = desk.now + 500_000;
    desk.run_to(due + 5_000, None);
    assert_eq!(bend(&mut desk, Bend::ByHand), Answer::Done);
    desk.open(port);
    desk.run_to(due + 1_000_000, None);
    let bytes = plan.bytes(row.bytes).to_vec();
    assert!(desk.sent().iter().any(|(at, of, sent)| *at >= due && *of == port && *sent == bytes), "{}", row.label);
}

/// What counted as gone in a rehearsal has not gone in the performance after it, even without a new run: nothing that depends on it leaves.
#[test]
fn what_was_rehearsed_has_not_gone() {
    let show = with_courses();
    let plan = plan(&show);
    let mut desk = Desk::new(&plan, SyncPlan::default());
    let (send, land) = (plan.releases[0].send.micros(), plan.releases[0].land.micros());
    desk.start(send - 1_000_000, false);
    let begun = desk.now;
    desk.run_to(begun + 3_000_000, None);
    assert_eq!(desk.engine.fate(R), Some(Fate::Gone), "rehearsed");
    desk.give(Command::Mode(Mode::Perform));
    assert_eq!(desk.engine.fate(R), Some(Fate::Open));
    let before = desk.events.len();
    desk.start(land + 1_000_000, true);
    desk.run_to(begun + 9_000_000, None);
    let of = dependents(&show);
    let left = |event: &Event| match event {
        Event::Message { item, outcome: SendOutcome::Sent | SendOutcome::Chased, .. } => {
            plan.label(*item).filter(|label| of.contains(label) && plan.name_of(*item) == label.to_string())
        }
        _ => None,
    };
    assert_eq!(desk.events[before..].iter().find_map(left), None);
    // The same mode again changes nothing.
    desk.give(Command::Bend { bend: Bend::Down { release: R }, by: HolderId(1) });
    desk.start(land + 1_000_000, true);
    desk.give(Command::Bend { bend: Bend::Down { release: R }, by: HolderId(1) });
    desk.give(Command::Mode(Mode::Perform));
    assert_eq!(desk.engine.fate(R), Some(Fate::Gone));
}

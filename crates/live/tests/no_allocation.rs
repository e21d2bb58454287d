//! The sending thread does not allocate memory during a run. Engine and gate run under an allocator that counts allocations
//! (the crate `assert_no_alloc`).

#![allow(clippy::unwrap_used, missing_docs)]

mod made_up;

use assert_no_alloc::{AllocDisabler, assert_no_alloc, violation_count};
use letfall_core::time::SongSpan;
use letfall_live::{
    BandPlace, Bend, Command, Event, Grip, HolderId, Mode, Part, Rate, ReleaseIndex, ShowPort, SyncPlan,
};
use made_up::{Desk, at, plan, show, song};

#[global_allocator]
static COUNTS: AllocDisabler = AllocDisabler;

/// A performance with a release, timecode, a loop, a jump of the external clock, a port that is lost and comes back, a stop and
/// stop-all.
#[test]
fn a_run_asks_for_no_memory() {
    let show = show();
    let plan = plan(&show);
    let mut desk = Desk::new(&plan, SyncPlan { timecode: vec![ShowPort(0)], clock: vec![ShowPort(0)] });
    let (from, send) = (plan.releases[0].from.micros(), plan.releases[0].send.micros());
    let (mut sent, mut released, mut events) = (0u32, 0u32, Vec::with_capacity(1 << 16));
    // Room for the events of a whole run, like the ring buffer of the real thread.
    let mut turn = |desk: &mut Desk, command: Option<Command>| {
        let now = at(desk.now);
        let mut tell = |event: Event| events.push(event);
        let next = assert_no_alloc(|| {
            if let Some(command) = command {
                desk.engine.command(command, now, &mut desk.gate, &mut tell);
            }
            let due = desk.engine.step(now, &mut desk.gate, &mut tell);
            let free = desk.gate.pump(now, &mut tell);
            [due, free].into_iter().flatten().min()
        });
        desk.turn_ports();
        next.map_or(i64::MAX, letfall_live::MachineTime::micros)
    };
    let begin = desk.now;
    turn(&mut desk, Some(Command::Mode(Mode::Perform)));
    turn(&mut desk, Some(Command::Start { song: song(from), at: at(begin), chase: true }));
    let end = begin + (send - from) + 3_000_000;
    let mut lost = false;
    while desk.now < end {
        let hold = Command::Hold { release: ReleaseIndex(0), holder: HolderId(0), grip: Grip(1), at: at(desk.now) };
        let next = turn(&mut desk, Some(hold));
        if !lost && desk.now > begin + (send - from) + 1_000_000 {
            lost = true;
            desk.close(0);
            desk.turn_ports();
            turn(&mut desk, None);
            desk.open(0);
        }
        desk.now = next.min(desk.now + 100_000).max(desk.now + 1);
    }
    let here = song(send);
    turn(&mut desk, Some(Command::Loop(Some((song(from), here)))));
    for _ in 0..200 {
        desk.now += 50_000;
        turn(&mut desk, None);
    }
    turn(&mut desk, Some(Command::Loop(None)));
    let now = at(desk.now);
    turn(&mut desk, Some(Command::Follow { song: song(20_000_000), at: now }));
    turn(&mut desk, Some(Command::SecondTry { release: ReleaseIndex(0) }));
    turn(&mut desk, Some(Command::Stop));
    turn(&mut desk, Some(Command::NewRun));
    // Every bend, with time to come to it.
    let release = ReleaseIndex(0);
    let bar = |n| plan.grid.bar_time(n);
    let start = Command::Start { song: bar(9), at: at(desk.now), chase: true };
    turn(&mut desk, Some(start));
    let bends = [
        Bend::Wait { at: bar(10) },
        Bend::GoOn,
        Bend::Vamp { from: bar(10), to: bar(12) },
        Bend::Leave { at: None },
        Bend::Cut { from: bar(14), to: bar(20) },
        Bend::TakeBack,
        Bend::Stays { release },
        Bend::TryAt { release, land: plan.releases[0].land + SongSpan::from_millis(30_000) },
        Bend::Down { release },
        Bend::Stuck { release, part: Part::Left },
        Bend::ByHand,
        Bend::Next,
        Bend::Next,
        Bend::Early { release },
        Bend::Next,
    ];
    for bend in bends {
        turn(&mut desk, Some(Command::Bend { bend, by: HolderId(0) }));
        for _ in 0..60 {
            desk.now += 50_000;
            turn(&mut desk, None);
        }
    }
    let place = BandPlace { song: bar(30), at: at(desk.now), rate: Rate::per_million(970_000), sure: true, turns: 0 };
    turn(&mut desk, Some(start));
    turn(&mut desk, Some(Command::Band(Some(place))));
    for _ in 0..200 {
        desk.now += 50_000;
        turn(&mut desk, None);
    }
    desk.orders.order_stop_all();
    let now = at(desk.now);
    assert_no_alloc(|| desk.engine.obey_stops(now, &mut desk.gate, &mut |_| ()));
    for event in &events {
        if let Event::Message { item, outcome: letfall_live::SendOutcome::Sent, .. } = event {
            sent += 1;
            released += u32::from(plan.items[item.index()].release.is_some());
        }
    }
    // Make sure that something was sent, and the release too.
    assert!(sent > 5 && released > 0, "{sent} sent, {released} of a release");
    assert_eq!(violation_count(), 0, "the sending thread asked for memory");
}

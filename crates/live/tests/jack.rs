//! Through a real MIDI server: JACK with its dummy driver, which needs no sound card. Run with `--features jack` while a
//! server runs (`cargo xtask test` starts one); without one the test is skipped.

#![cfg(all(feature = "jack", unix))]
#![allow(clippy::unwrap_used, missing_docs)]

mod made_up;

use letfall_core::time::SongSpan;
use letfall_live::{Command, Event, MachineSpan, Mode, Runner, RunnerEvent, SyncPlan, SystemClocks, SystemPorts};
use midir::os::unix::VirtualInput as _;
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

/// What arrived, and when.
type Arrived = Arc<Mutex<Vec<(Vec<u8>, Instant)>>>;

#[test]
fn the_schedule_arrives_through_a_real_server() {
    let arrived: Arrived = Arrived::default();
    let heard = arrived.clone();
    let Ok(input) = midir::MidiInput::new("Letfall-test") else {
        return letfall_testing::skip("jack the_schedule_arrives", "no JACK server runs; cargo xtask test starts one");
    };
    let _open = input
        .create_virtual("hall", move |_, bytes, ()| heard.lock().unwrap().push((bytes.to_vec(), Instant::now())), ())
        .unwrap();
    let plan = made_up::plan(&made_up::show());
    let name = "Letfall-test:hall".to_owned();
    let begin = Instant::now();
    let clock = Arc::new(SystemClocks::default());
    let runner = Runner {
        plan: plan.clone(),
        sync: SyncPlan::default(),
        ports: Box::new(SystemPorts),
        names: vec![Some(name.clone()), Some(name)],
        log: None,
        clock,
        wake: Arc::new(|| {}),
        after: Vec::new(),
    };
    let run = runner.start().unwrap();
    let mut there = 0;
    while there < 2 {
        match run.events.recv_timeout(Duration::from_secs(10)).expect("the server's port was not found") {
            RunnerEvent::Port { there: true, .. } => there += 1,
            RunnerEvent::Port { words, .. } => panic!("{words}"),
            _ => {}
        }
    }
    // The reveal and what stands round it.
    let from = plan.releases[0].send - SongSpan::from_millis(2000);
    let to = from + SongSpan::from_millis(6000);
    let at = run.now() + MachineSpan::from_millis(100);
    assert!(run.command(Command::Start { song: from, at, chase: false }));
    let planned: Vec<(Vec<u8>, i64)> = plan
        .items
        .iter()
        .filter(|i| (from..to).contains(&i.due) && i.only != Some(Mode::Perform))
        .map(|i| {
            let bytes = if i.release.is_some() && i.ends.is_none() { i.stand_in.unwrap() } else { i.bytes };
            (plan.bytes(bytes).to_vec(), (at + MachineSpan::of_song(i.due - from)).micros())
        })
        .collect();
    thread::sleep(Duration::from_micros(((to - from).micros() + 300_000).unsigned_abs()));
    assert!(run.command(Command::Stop));
    thread::sleep(Duration::from_millis(50));
    let arrived = arrived.lock().unwrap().clone();
    let mut worst = 0i64;
    let mut left = arrived.clone();
    for (bytes, due) in &planned {
        // Both were counted from clocks that began within a millisecond of each other.
        let place = left.iter().position(|(b, _)| b == bytes).unwrap_or_else(|| panic!("{bytes:02X?} did not arrive"));
        let (_, when) = left.remove(place);
        let off = i64::try_from(when.duration_since(begin).as_micros()).unwrap() - due;
        worst = worst.max(off.abs());
    }
    println!(
        "{} messages through JACK, at most {:.1} ms from plan (a period of the server is 5.3 ms)",
        planned.len(),
        worst as f64 / 1e3
    );
    assert!(planned.len() >= 4 && worst < 60_000, "{} messages, {worst} µs", planned.len());
    let sent = run.events.try_iter().filter(|t| matches!(t, RunnerEvent::Engine(Event::Message { .. }))).count();
    assert!(sent >= planned.len());
}

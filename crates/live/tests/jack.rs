//! Through a real MIDI server: JACK with its dummy driver, which needs no sound card. Run with `--features jack` while a
//! server runs (`cargo xtask test` starts one); without one the test is skipped.

#![cfg(all(feature = "jack", unix))]
#![allow(clippy::unwrap_used, missing_docs)]

mod made_up;

use letfall_core::time::SongSpan;
use letfall_live::{
    Command, Event, Grip, HolderId, MachineSpan, Mode, ReleaseIndex, Runner, RunnerEvent, SyncPlan, SystemClocks,
    SystemPorts,
};
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
        keeper: None,
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
    // The release and the messages around it.
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
        // The two times are counted from starting points within a millisecond of each other.
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

/// Set for the process that is killed, and for the keeper that it starts.
const KILLED: &str = "LETFALL_TEST_KILLED";
const KILLED_PORT: &str = "Letfall-killed:hall";

/// The keeper of the process that is killed. The keeper's command selects this test by its name.
#[test]
fn keep_contacts() {
    if std::env::var_os(KILLED).is_some() {
        letfall_live::keep_contacts(std::io::stdin().lock(), &mut SystemPorts);
    }
}

/// The process that is killed. It performs a release that somebody holds, and does not end by itself.
#[test]
fn performs_until_it_is_killed() {
    if std::env::var_os(KILLED).is_none() {
        return;
    }
    let mut show = made_up::show();
    // Long enough that the process is killed during the pulse.
    show.releases[0].pulse = SongSpan::from_millis(20_000);
    let plan = made_up::plan(&show);
    let runner = Runner {
        plan: plan.clone(),
        sync: SyncPlan::default(),
        ports: Box::new(SystemPorts),
        names: vec![Some(KILLED_PORT.to_owned()); 2],
        log: None,
        clock: Arc::new(SystemClocks::default()),
        keeper: std::env::current_exe().ok(),
        wake: Arc::new(|| {}),
        after: Vec::new(),
    };
    let run = runner.start().unwrap();
    thread::sleep(Duration::from_secs(1));
    assert!(run.command(Command::Mode(Mode::Perform)));
    let song = plan.releases[0].send - SongSpan::from_millis(2600);
    assert!(run.command(Command::Start { song, at: run.now(), chase: false }));
    loop {
        let (release, holder) = (ReleaseIndex(0), HolderId(0));
        assert!(run.command(Command::Hold { release, holder, grip: Grip(1), at: run.now() }));
        thread::sleep(Duration::from_millis(20));
    }
}

/// However the program is ended while a contact is closed, the contact is opened: by its keeper where the program cannot do it itself
/// any more. `kill -9` cannot be caught; the others are what a system, a terminal and its closing send.
#[test]
fn a_process_that_is_ended_in_a_pulse_leaves_no_contact_closed() {
    for signal in ["-KILL", "-TERM", "-INT", "-HUP"] {
        let arrived: Arrived = Arrived::default();
        let heard = arrived.clone();
        let Ok(input) = midir::MidiInput::new("Letfall-killed") else {
            return letfall_testing::skip(
                "jack a_process_that_is_ended",
                "no JACK server runs; cargo xtask test starts one",
            );
        };
        let hear =
            move |_: u64, bytes: &[u8], (): &mut ()| heard.lock().unwrap().push((bytes.to_vec(), Instant::now()));
        let open = input.create_virtual("hall", hear, ()).unwrap();
        let mut process = std::process::Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "performs_until_it_is_killed", "--nocapture"])
            .env(KILLED, "1")
            .spawn()
            .unwrap();
        let came = |bytes: [u8; 3]| arrived.lock().unwrap().iter().find(|(b, _)| *b == bytes).map(|(_, when)| *when);
        let begin = Instant::now();
        while came([0x9f, 60, 127]).is_none() && begin.elapsed() < Duration::from_secs(15) {
            thread::sleep(Duration::from_millis(2));
        }
        let ended = std::process::Command::new("kill").args([signal, &process.id().to_string()]).status().unwrap();
        let killed = Instant::now();
        assert!(ended.success());
        while process.try_wait().unwrap().is_none() {
            // Begun in the background of a script, or with nohup, tests inherit that such a signal is ignored.
            if killed.elapsed() > Duration::from_secs(30) {
                process.kill().unwrap();
                panic!("it did not end by kill {signal}; is that signal ignored where the tests were begun?");
            }
            thread::sleep(Duration::from_millis(1));
        }
        assert!(came([0x9f, 60, 127]).is_some(), "the release did not leave");
        assert!(came([0x8f, 60, 64]).is_none_or(|opened| opened > killed), "its contact was opened before");
        while came([0x8f, 60, 64]).is_none() && killed.elapsed() < Duration::from_secs(10) {
            thread::sleep(Duration::from_millis(2));
        }
        let opened = came([0x8f, 60, 64]).unwrap_or_else(|| panic!("the contact stays closed after kill {signal}"));
        println!("kill {signal}: the contact was opened {:.0} ms after", (opened - killed).as_secs_f64() * 1e3);
        drop(open);
    }
}

//! The threads on the machine's real clock, with fake ports: what arrives, what is reported, and what is logged.

#![allow(clippy::unwrap_used, missing_docs)]

mod made_up;

use letfall_core::show::{Kind, Show};
use letfall_core::time::SongSpan;
use letfall_live::{
    Clock, Clocks, Command, DisarmReason, Event, Gone, Grip, Handle, HolderId, InputCallback, LogRecord, MachineSpan,
    MachineTime, Mode, PortInput, PortOut, Ports, ReleaseIndex, RunPlan, Runner, RunnerEvent, SendOutcome, ShowPort,
    SyncPlan, SystemClocks, UnixTime, read_log, summary,
};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicI64, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

/// What arrived: port, bytes, when.
type Arrived = Arc<Mutex<Vec<(String, Vec<u8>, i64)>>>;

#[derive(Clone)]
struct Fake {
    there: Arc<Mutex<Vec<String>>>,
    arrived: Arrived,
    clock: Clock,
    /// Ports whose driver panics at the next message.
    panics: Arc<Mutex<Vec<String>>>,
    /// Ports whose driver blocks for three seconds on a message.
    blocks: Arc<Mutex<Vec<String>>>,
}

struct Wire(Fake, String);

impl PortOut for Wire {
    fn send(&mut self, bytes: &[u8]) -> Result<(), Gone> {
        assert!(!self.0.panics.lock().unwrap().contains(&self.1), "the driver panics");
        if !self.0.there.lock().unwrap().contains(&self.1) {
            return Err(Gone);
        }
        let now = self.0.clock.now();
        self.0.arrived.lock().unwrap().push((self.1.clone(), bytes.to_vec(), now.micros()));
        if self.0.blocks.lock().unwrap().contains(&self.1) {
            thread::sleep(Duration::from_secs(3));
        }
        Ok(())
    }
}

impl Ports for Fake {
    fn outputs(&mut self) -> Result<Vec<String>, String> {
        Ok(self.there.lock().unwrap().clone())
    }

    fn inputs(&mut self) -> Result<Vec<String>, String> {
        Ok(Vec::new())
    }

    fn open(&mut self, name: &str) -> Result<Box<dyn PortOut>, String> {
        Ok(Box::new(Wire(self.clone(), name.to_owned())))
    }

    fn listen(&mut self, _: &str, _: InputCallback) -> Result<PortInput, String> {
        Err("nothing to listen to".to_owned())
    }
}

/// The machine's clocks. The test can set the wall clock, simulate sleep, and make the waiting thread panic.
struct Settable(SystemClocks, AtomicI64, AtomicI64, AtomicBool);

impl Clocks for Settable {
    fn now(&self) -> MachineTime {
        self.0.now()
    }

    fn wall(&self) -> UnixTime {
        UnixTime::from_micros(self.0.wall().micros() + self.1.load(Ordering::Relaxed))
    }

    fn asleep(&self) -> MachineSpan {
        MachineSpan::from_micros(self.2.load(Ordering::Relaxed))
    }

    fn wait_until(&self, at: MachineTime) {
        // Only the sending thread waits this way.
        assert!(!self.3.load(Ordering::Relaxed), "the sending thread breaks");
        self.0.wait_until(at);
    }

    fn rest_until(&self, at: MachineTime) {
        self.0.rest_until(at);
    }
}

struct Desk {
    handle: Option<Handle>,
    fake: Fake,
    plan: Arc<RunPlan>,
    clock: Arc<Settable>,
    events: Vec<RunnerEvent>,
}

fn desk(log: Option<PathBuf>) -> Desk {
    desk_of(&made_up::show(), ["one", "two"], log)
}

fn desk_of(show: &Show, names: [&str; 2], log: Option<PathBuf>) -> Desk {
    let plan = made_up::plan(show);
    let clock =
        Arc::new(Settable(SystemClocks::default(), AtomicI64::new(0), AtomicI64::new(0), AtomicBool::new(false)));
    let there = Arc::new(Mutex::new(vec!["one".to_owned(), "two".to_owned()]));
    let fake = Fake {
        there,
        arrived: Arrived::default(),
        clock: clock.clone(),
        panics: Arc::default(),
        blocks: Arc::default(),
    };
    let runner = Runner {
        plan: plan.clone(),
        sync: SyncPlan::default(),
        ports: Box::new(fake.clone()),
        names: names.map(|name| Some(name.to_owned())).to_vec(),
        log,
        clock: clock.clone(),
        keeper: None,
        wake: Arc::new(|| {}),
        after: Vec::new(),
    };
    let mut desk = Desk { handle: Some(runner.start().unwrap()), fake, plan, clock, events: Vec::new() };
    assert!(
        desk.until(|d| d.events.iter().filter(|t| matches!(t, RunnerEvent::Port { there: true, .. })).count() == 2)
    );
    desk
}

impl Desk {
    /// Waits until a condition is true and receives events meanwhile. Gives up after ten seconds.
    fn until(&mut self, holds: impl Fn(&Desk) -> bool) -> bool {
        let begin = Instant::now();
        while begin.elapsed() < Duration::from_secs(10) {
            while let Ok(events) = self.handle.as_ref().unwrap().events.try_recv() {
                self.events.push(events);
            }
            if holds(self) {
                return true;
            }
            thread::sleep(Duration::from_millis(2));
        }
        false
    }

    fn give(&self, command: Command) {
        assert!(self.handle.as_ref().unwrap().command(command));
    }

    fn start(&self, song: i64) -> i64 {
        let at = self.handle.as_ref().unwrap().now() + MachineSpan::from_millis(20);
        self.give(Command::Start { song: made_up::song(song), at, chase: false });
        at.micros() - song
    }

    fn events(&self) -> impl Iterator<Item = &Event> {
        self.events.iter().filter_map(|t| if let RunnerEvent::Engine(e) = t { Some(e) } else { None })
    }
}

#[test]
fn what_is_planned_arrives_and_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("logs/run.jsonl");
    let mut desk = desk(Some(path.clone()));
    let r1 = desk.plan.timed().iter().find(|i| i.release.is_some()).copied().unwrap();
    let begin = desk.start(r1.due.micros() - 1_500_000);
    assert!(desk.until(|d| d.events().any(|e| matches!(e, Event::Message { outcome: SendOutcome::StandIn, .. }))));
    thread::sleep(Duration::from_millis(700));
    desk.give(Command::Stop);
    assert!(desk.until(|d| d.events().any(|e| matches!(e, Event::Stopped { .. }))));
    let arrived = desk.fake.arrived.lock().unwrap().clone();
    let stand_in = desk.plan.bytes(r1.stand_in.unwrap()).to_vec();
    let found = arrived.iter().find(|a| a.1 == stand_in).unwrap();
    assert!(found.2 >= begin + r1.due.micros());
    drop(desk.handle.take());
    let (lines, broken) = read_log(&std::fs::read_to_string(&path).unwrap());
    assert_eq!(broken, 0);
    assert!(lines.iter().any(
        |l| matches!(l, LogRecord::Message { what, label, .. } if what == "stand-in" && *label == r1.label.to_string())
    ));
    assert!(matches!(lines.first(), Some(LogRecord::Started { .. })));
    // The log has as many messages for each port as arrived there.
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for line in &lines {
        if let LogRecord::Message { port, what, .. } = line
            && (what == "sent" || what == "stand-in")
        {
            *counts.entry(if *port == desk.plan.ports[0] { "one" } else { "two" }).or_default() += 1;
        }
    }
    for name in ["one", "two"] {
        let there = arrived.iter().filter(|a| a.0 == name && (a.1[0] & 0xf0 != 0xb0 || a.1[1] < 120)).count();
        assert_eq!(counts.get(name).copied().unwrap_or(0), there, "{name}");
    }
    assert!(summary(&lines).releases.is_empty());
    // If a crash cuts the last line off, all others can still be read.
    let text = std::fs::read_to_string(&path).unwrap();
    let (cut, broken) = read_log(&text[..text.len() - 9]);
    assert_eq!((cut.len(), broken), (lines.len() - 1, 1));
}

/// When both ports of the show use one machine port, only the release itself may send its bytes there, from the first message
/// on.
#[test]
fn one_port_of_the_machine_for_two_of_the_show() {
    let show = made_up::show_with_its_message_elsewhere();
    for (names, then, outcome) in [
        (["one", "two"], None, SendOutcome::Chased),
        (["one", "one"], None, SendOutcome::WouldRelease),
        (["one", "two"], Some("two"), SendOutcome::WouldRelease),
        (["one", "one"], Some("two"), SendOutcome::Chased),
    ] {
        let mut desk = desk_of(&show, names, None);
        if let Some(then) = then {
            // Either the port without the release is assigned elsewhere, or both are.
            let other = desk.plan.releases[0].port.index() ^ 1;
            let mut names = names.map(|name| Some(name.to_owned())).to_vec();
            names[other] = Some(then.to_owned());
            desk.handle.as_ref().unwrap().connect(names);
            let there = |t: &RunnerEvent| matches!(t, RunnerEvent::Port { port, there: true, name, .. } if port.index() == other && name == then);
            assert!(desk.until(|d| d.events.iter().any(there)));
        }
        let light = desk.plan.timed().iter().find(|i| i.label.kind == Kind::Lighting).copied().unwrap();
        desk.give(Command::Start {
            song: light.due + SongSpan::from_micros(1),
            at: desk.clock.now() + MachineSpan::from_millis(20),
            chase: true,
        });
        assert!(desk.until(|d| d.events().any(|e| matches!(e, Event::Message { .. }))));
        let fate = desk.events().find_map(|e| match e {
            Event::Message { item, outcome, .. } => {
                (desk.plan.items[item.index()].label.kind == Kind::Lighting).then_some(*outcome)
            }
            _ => None,
        });
        assert_eq!(fate, Some(outcome), "{names:?}");
    }
}

/// A newly chosen port replaces the old one at once, and it is reported when no port is chosen any more.
#[test]
fn another_port_takes_its_place_without_a_gap() {
    let mut desk = desk(None);
    desk.start(0);
    assert!(desk.until(|d| d.events().any(|e| matches!(e, Event::Started { .. }))));
    let connect = |desk: &Desk, first: Option<&str>| {
        desk.handle.as_ref().unwrap().connect(vec![first.map(str::to_owned), Some("two".to_owned())]);
    };
    connect(&desk, Some("two"));
    let there =
        |t: &RunnerEvent| matches!(t, RunnerEvent::Port { port: ShowPort(0), there: true, name, .. } if name == "two");
    assert!(desk.until(|d| d.events.iter().any(there)));
    assert!(!desk.events().any(|e| matches!(e, Event::PortLost { .. })));
    connect(&desk, None);
    assert!(desk.until(|d| {
        let last = d.events.iter().rev().find(|t| matches!(t, RunnerEvent::Port { port: ShowPort(0), .. }));
        matches!(last, Some(RunnerEvent::Port { there: false, .. }))
            && d.events().any(|e| matches!(e, Event::PortLost { port: ShowPort(0), .. }))
    }));
}

#[test]
fn a_port_that_is_pulled_is_told_and_found_again() {
    let mut desk = desk(None);
    desk.start(0);
    assert!(desk.until(|d| d.events().any(|e| matches!(e, Event::Started { .. }))));
    desk.fake.there.lock().unwrap().retain(|n| n != "two");
    assert!(desk.until(|d| {
        d.events.iter().any(|t| matches!(t, RunnerEvent::Port { port: ShowPort(1), there: false, words, .. } if words.contains("is gone")))
    }));
    assert!(desk.until(|d| d.events().any(|e| matches!(e, Event::PortLost { port: ShowPort(1), .. }))));
    let before = desk.events.len();
    desk.fake.there.lock().unwrap().push("two".to_owned());
    assert!(desk.until(|d| {
        d.events[before..].iter().any(|t| matches!(t, RunnerEvent::Port { port: ShowPort(1), there: true, .. }))
    }));
}

/// The screen thread stalls for five seconds. Everything is still sent, and an armed release is disarmed.
#[test]
fn a_screen_that_stalls_holds_nothing_up_and_arms_nothing() {
    let mut desk = desk(None);
    let release = desk.plan.releases[0].clone();
    desk.give(Command::Mode(Mode::Perform));
    let from = release.send.micros() - 4_500_000;
    let begin = desk.start(from);
    assert!(desk.until(|d| {
        d.give(Command::Hold { release: ReleaseIndex(0), holder: HolderId(0), grip: Grip(1), at: d.clock.now() });
        d.events().any(|e| matches!(e, Event::Armed { .. }))
    }));
    thread::sleep(Duration::from_secs(5));
    let now = desk.handle.as_ref().unwrap().now();
    assert!(desk.until(|d| d.events().any(|e| matches!(e, Event::Disarmed { why: DisarmReason::Silence, .. }))));
    let due = |i: &&letfall_live::RunItem| {
        (from..now.micros() - begin - 50_000).contains(&i.due.micros()) && i.ends.is_none() && i.release.is_none()
            // What depends on the release stays with the fabric.
            && desk.plan.releases_of(i.depends).is_empty()
    };
    let planned = desk.plan.timed().iter().filter(due).count();
    let sent = desk.events().filter(|e| matches!(e, Event::Message { outcome: SendOutcome::Sent, item, .. } if desk.plan.items[item.index()].ends.is_none())).count();
    assert!(sent >= planned && planned > 0, "{sent} of {planned}");
}

/// Setting the wall clock does not affect an armed release. If the machine sleeps, the release is disarmed.
#[test]
fn sleep_closes_the_lock_and_setting_the_clock_does_not() {
    let mut desk = desk(None);
    let from = desk.plan.releases[0].from.micros();
    desk.give(Command::Mode(Mode::Perform));
    desk.start(from);
    let hold = |d: &Desk| {
        d.give(Command::Hold { release: ReleaseIndex(0), holder: HolderId(0), grip: Grip(1), at: d.clock.now() });
    };
    assert!(desk.until(|d| {
        hold(d);
        d.events().any(|e| matches!(e, Event::Armed { .. }))
    }));
    desk.clock.1.store(3_600_000_000, Ordering::Relaxed);
    let begin = Instant::now();
    assert!(desk.until(|d| {
        hold(d);
        begin.elapsed() > Duration::from_secs(1)
    }));
    assert!(!desk.events().any(|e| matches!(e, Event::Disarmed { .. })));
    desk.clock.2.store(3_000_000, Ordering::Relaxed);
    assert!(desk.until(|d| {
        hold(d);
        d.events().any(|e| matches!(e, Event::Disarmed { why: DisarmReason::Slept, .. }))
    }));
}

/// If the log cannot be written (a full disk), this is reported and the run continues.
#[test]
fn a_log_that_takes_no_more_does_not_stop_the_run() {
    let full = PathBuf::from("/dev/full");
    if !full.exists() {
        return letfall_testing::skip("runner a_log_that_takes_no_more", "this system has no /dev/full");
    }
    let mut desk = desk(Some(full));
    let first = desk.plan.items[0].due;
    desk.start(first.micros() - 500_000);
    assert!(desk.until(|d| d.events.iter().any(|t| matches!(t, RunnerEvent::LogFailed(_)))));
    assert!(desk.until(|d| !d.fake.arrived.lock().unwrap().is_empty()));
    desk.handle.as_ref().unwrap().stop_all();
    assert!(desk.until(|d| d.events().any(|e| matches!(e, Event::Stopped { .. }))));
}

/// Performs until just after the release, with its contact closed. Returns its message and the message that ends it.
fn with_a_closed_contact(desk: &mut Desk) -> (Vec<u8>, Vec<u8>) {
    let release = desk.plan.timed().iter().find(|i| i.release.is_some() && i.ends.is_none()).copied().unwrap();
    let bytes = desk.plan.bytes(release.bytes).to_vec();
    let end = desk.plan.bytes(desk.plan.items[release.ended_by.unwrap().index()].bytes).to_vec();
    desk.give(Command::Mode(Mode::Perform));
    desk.start(release.due.micros() - 2_600_000);
    assert!(desk.until(|d| {
        d.give(Command::Hold { release: ReleaseIndex(0), holder: HolderId(0), grip: Grip(1), at: d.clock.now() });
        d.fake.arrived.lock().unwrap().iter().any(|a| a.1 == bytes)
    }));
    (bytes, end)
}

/// The sending thread panics during a pulse. The port's thread opens the contact, the screen is told within half a second, and
/// commands are no longer accepted.
#[test]
fn a_sending_thread_that_breaks_is_noticed_and_closes_nothing_for_good() {
    let mut desk = desk(None);
    let (_, end) = with_a_closed_contact(&mut desk);
    desk.clock.3.store(true, Ordering::Relaxed);
    let broke = Instant::now();
    desk.give(Command::Slept);
    assert!(desk.until(|d| d.events.iter().any(|t| matches!(t, RunnerEvent::SendingEnded))));
    assert!(broke.elapsed() < Duration::from_millis(500), "{:?}", broke.elapsed());
    assert!(desk.until(|d| d.fake.arrived.lock().unwrap().iter().any(|a| a.1 == end)));
    let handle = desk.handle.as_ref().unwrap();
    assert!(handle.has_ended() && !handle.command(Command::Loop(None)) && !handle.command(Command::Stop));
    // Ending the run does not wait for the thread that is gone.
    let begin = Instant::now();
    drop(desk.handle.take());
    assert!(begin.elapsed() < Duration::from_secs(2));
}

/// Stop-all while one driver blocks: what is on at the other port still ends at once.
#[test]
fn stop_all_goes_by_a_port_that_blocks() {
    let mut desk = desk(None);
    let (bytes, end) = with_a_closed_contact(&mut desk);
    let arrived = desk.fake.arrived.lock().unwrap().clone();
    let own = arrived.iter().find(|a| a.1 == bytes).unwrap().0.clone();
    let other = if own == "one" { "two" } else { "one" };
    desk.fake.blocks.lock().unwrap().push(other.to_owned());
    let before = desk.clock.now();
    desk.handle.as_ref().unwrap().stop_all();
    assert!(desk.until(|d| d.fake.arrived.lock().unwrap().iter().any(|a| a.1 == end)));
    let ended = desk.fake.arrived.lock().unwrap().iter().find(|a| a.1 == end).unwrap().2;
    // The promise is 5 ms, but a busy test machine may schedule the thread later.
    assert!(ended - before.micros() < 100_000, "{} µs", ended - before.micros());
}

/// A driver that panics does not end its thread or anything else. The port is reported as lost and opened again.
#[test]
fn a_driver_that_panics_is_a_port_that_is_lost() {
    let mut desk = desk(None);
    desk.fake.panics.lock().unwrap().push("one".to_owned());
    let first = desk.plan.timed().iter().find(|i| i.port == ShowPort(0)).unwrap().due;
    desk.start(first.micros() - 300_000);
    assert!(desk.until(|d| d.events().any(|e| matches!(e, Event::PortLost { .. }))));
    desk.fake.panics.lock().unwrap().clear();
    // It is reported as failed, and as available once it is open again.
    assert!(desk.until(|d| {
        let told = d.events.iter().filter_map(|t| match t {
            RunnerEvent::Port { name, there, .. } if name == "one" => Some(*there),
            _ => None,
        });
        told.collect::<Vec<_>>().ends_with(&[false, true])
    }));
    assert!(!desk.handle.as_ref().unwrap().has_ended());
}

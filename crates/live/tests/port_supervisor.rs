//! The supervisor on a clock that the test sets: when it looks for ports, what it says of them, and what it notices. Its loop, with the
//! end of a run, on the machine's clock.

#![allow(clippy::unwrap_used, missing_docs)]

mod made_up;

use letfall_live::machines::{PortWorker, SetUp};
use letfall_live::{
    Clocks, Command, Event, Gone, Grip, HolderId, InputCallback, MachineSpan, MachineTime, Mode, PortInput, PortOut,
    Ports, ReleaseIndex, Runner, RunnerEvent, SendOutcome, ShowPort, SyncPlan, SystemClocks, UnixTime,
};
use made_up::{at, plan, show, song};
use std::sync::atomic::{AtomicI64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

#[derive(Default)]
struct Clock {
    now: AtomicI64,
    asleep: AtomicI64,
}

impl Clocks for Clock {
    fn now(&self) -> MachineTime {
        at(self.now.load(Ordering::Relaxed))
    }
    fn wall(&self) -> UnixTime {
        UnixTime::from_micros(self.now.load(Ordering::Relaxed))
    }
    fn asleep(&self) -> MachineSpan {
        MachineSpan::from_micros(self.asleep.load(Ordering::Relaxed))
    }
    fn wait_until(&self, _: MachineTime) {}
    fn rest_until(&self, _: MachineTime) {}
}

/// What was sent, and to which port.
type Sent = Arc<Mutex<Vec<(String, Vec<u8>)>>>;

#[derive(Clone, Default)]
struct Fake {
    there: Arc<Mutex<Vec<String>>>,
    sent: Sent,
    looks: Arc<AtomicUsize>,
}

struct Wire(Fake, String);

impl PortOut for Wire {
    fn send(&mut self, bytes: &[u8]) -> Result<(), Gone> {
        if !self.0.there.lock().unwrap().contains(&self.1) {
            return Err(Gone);
        }
        self.0.sent.lock().unwrap().push((self.1.clone(), bytes.to_vec()));
        Ok(())
    }
}

impl Ports for Fake {
    fn outputs(&mut self) -> Result<Vec<String>, String> {
        self.looks.fetch_add(1, Ordering::Relaxed);
        Ok(self.there.lock().unwrap().clone())
    }
    fn inputs(&mut self) -> Result<Vec<String>, String> {
        Ok(Vec::new())
    }
    fn open(&mut self, name: &str) -> Result<Box<dyn PortOut>, String> {
        if name == "taken" {
            return Err("it is in use".to_owned());
        }
        Ok(Box::new(Wire(self.clone(), name.to_owned())))
    }
    fn listen(&mut self, _: &str, _: InputCallback) -> Result<PortInput, String> {
        Err("nothing to listen to".to_owned())
    }
}

struct Desk {
    run: SetUp,
    clock: Arc<Clock>,
    fake: Fake,
    workers: Arc<Mutex<Vec<PortWorker>>>,
    told: Vec<RunnerEvent>,
}

fn desk(names: [Option<&str>; 2]) -> Desk {
    desk_with(names, 4096)
}

/// A desk with room for so many events between two turns of the supervisor.
fn desk_with(names: [Option<&str>; 2], events: usize) -> Desk {
    desk_kept(names, events, None)
}

/// The same, with a process that opens contacts.
fn desk_kept(names: [Option<&str>; 2], events: usize, keeper: Option<std::path::PathBuf>) -> Desk {
    let (clock, fake) = (Arc::new(Clock::default()), Fake::default());
    *fake.there.lock().unwrap() = ["one", "two", "taken"].map(str::to_owned).to_vec();
    let workers: Arc<Mutex<Vec<PortWorker>>> = Arc::default();
    let kept = workers.clone();
    let runner = Runner {
        plan: plan(&show()),
        sync: SyncPlan::default(),
        ports: Box::new(fake.clone()),
        names: names.map(|name| name.map(str::to_owned)).to_vec(),
        log: None,
        clock: clock.clone(),
        keeper,
        wake: Arc::new(|| {}),
        after: Vec::new(),
    };
    let spawn = Box::new(move |worker| {
        kept.lock().unwrap().push(worker);
        Ok(None)
    });
    Desk { run: runner.set_up(spawn, 64, events), clock, fake, workers, told: Vec::new() }
}

impl Desk {
    /// One turn of the supervisor.
    fn supervise(&mut self, now: i64) {
        self.clock.now.store(now, Ordering::Relaxed);
        self.run.supervisor.turn(at(now));
        self.told.extend(self.run.told.try_iter());
    }

    /// Some turns of the sending thread and of the ports.
    fn send(&mut self, now: i64) {
        self.clock.now.store(now, Ordering::Relaxed);
        let clock: letfall_live::Clock = self.clock.clone();
        for _ in 0..4 {
            self.run.sending.turn(at(now));
            for worker in self.workers.lock().unwrap().iter_mut() {
                worker.turn(at(now), &clock);
            }
        }
    }

    fn looks(&self) -> usize {
        self.fake.looks.load(Ordering::Relaxed)
    }

    /// What was said of ports, in order: whether they are there, and the words.
    fn said(&mut self) -> Vec<(bool, String)> {
        let of = |event| if let RunnerEvent::Port { there, words, .. } = event { Some((there, words)) } else { None };
        self.told.drain(..).filter_map(of).collect()
    }
}

/// Ports are looked for every 0.4 s.
#[test]
fn ports_are_looked_for_again_and_again() {
    let mut desk = desk([Some("one"), Some("two")]);
    for (now, looks) in [(0, 1), (1, 1), (399_999, 1), (400_000, 2), (799_999, 2), (800_000, 3)] {
        desk.supervise(now);
        assert_eq!(desk.looks(), looks, "{now} µs");
    }
    // A person chose other ports.
    desk.run.reassigned.store(true, Ordering::Release);
    desk.supervise(800_001);
    desk.supervise(800_002);
    assert_eq!(desk.looks(), 4);
}

/// What is sent before the system has opened a port waits for it, so every chosen port has its number from the start.
#[test]
fn what_is_started_before_the_first_look_waits_for_its_port() {
    let mut desk = desk([Some("one"), Some("two")]);
    let late = plan(&show()).end.micros() - 5_000_000;
    assert!(desk.run.commands.give(Command::Start { song: song(late), at: at(0), chase: true }));
    desk.send(0);
    assert_eq!(desk.fake.sent.lock().unwrap().len(), 0);
    desk.supervise(1_000);
    desk.send(1_000);
    desk.send(2_000);
    desk.supervise(2_000);
    assert!(!desk.fake.sent.lock().unwrap().is_empty());
    let refused =
        |e: &RunnerEvent| matches!(e, RunnerEvent::Engine(Event::Message { outcome: SendOutcome::NoPort, .. }));
    assert!(!desk.told.iter().any(refused), "a message was dropped instead of waiting");
}

/// If the sending thread has ended by itself, that is told once. If the run is over, there is nothing to tell.
#[test]
fn the_end_of_sending_is_told_once_unless_the_run_is_over() {
    for over in [false, true] {
        let mut desk = desk([Some("one"), Some("two")]);
        desk.supervise(0);
        desk.run.quit.store(over, Ordering::Release);
        desk.run.orders.end();
        desk.supervise(1_000);
        desk.supervise(2_000);
        let ended = desk.told.iter().filter(|e| matches!(e, RunnerEvent::SendingEnded)).count();
        assert_eq!(ended, usize::from(!over), "over: {over}");
    }
}

/// Every state of a port is told once, in words that say what to do.
#[test]
fn what_becomes_of_ports_is_told_once() {
    let mut desk = desk([Some("one"), None]);
    desk.supervise(0);
    let said = desk.said();
    assert!(
        matches!(&said[..], [(true, a), (false, b)] if a.ends_with("\"one\" is there") && b.ends_with("no MIDI port is chosen for it")),
        "{said:?}"
    );
    desk.supervise(400_000);
    assert_eq!(desk.said(), [], "nothing is new");
    desk.fake.there.lock().unwrap().remove(0);
    desk.supervise(800_000);
    let said = desk.said();
    assert!(
        matches!(&said[..], [(false, words)] if words.ends_with("is gone; what is sent to it is lost until it is back")),
        "{said:?}"
    );
    desk.fake.there.lock().unwrap().push("one".to_owned());
    desk.supervise(1_200_000);
    assert!(matches!(&desk.said()[..], [(true, _)]));
    for (name, end) in [
        ("never", "is not there; plug it in or choose another"),
        ("taken", "cannot be opened (it is in use); close what else uses it, or choose another"),
    ] {
        desk.run.names.with(|names| names[1] = Some(name.to_owned()));
        desk.run.reassigned.store(true, Ordering::Release);
        desk.supervise(1_300_000);
        let said = desk.said();
        assert!(matches!(&said[..], [(false, words)] if words.ends_with(end)), "{name}: {said:?}");
    }
}

/// A port that fails while it is sent to is told for every port of the show that leaves by it, and for no other; its return too.
#[test]
fn a_port_that_fails_is_told_at_once() {
    for both in [false, true] {
        let mut desk = desk([Some("one"), Some(if both { "one" } else { "two" })]);
        desk.supervise(0);
        desk.send(0);
        desk.supervise(1_000);
        desk.told.clear();
        let late = plan(&show()).end.micros() - 5_000_000;
        desk.fake.there.lock().unwrap().retain(|name| name != "one");
        assert!(desk.run.commands.give(Command::Start { song: song(late), at: at(1_000), chase: true }));
        desk.send(2_000);
        desk.supervise(3_000);
        let failed: Vec<String> = desk.said().into_iter().filter(|(there, _)| !there).map(|(_, words)| words).collect();
        let at_once = failed.iter().filter(|words| words.contains("\"one\" failed while it was sent to")).count();
        assert_eq!(at_once, if both { 2 } else { 1 }, "{failed:?}");
        desk.fake.there.lock().unwrap().push("one".to_owned());
        desk.supervise(500_000);
        assert!(desk.said().iter().any(|(there, words)| *there && words.contains("\"one\" is there")));
    }
}

/// Events that had no room are counted, and told once.
#[test]
fn events_without_room_are_told() {
    for (room, lost) in [(2, true), (4096, false)] {
        let mut desk = desk_with([Some("one"), Some("two")], room);
        desk.supervise(0);
        let late = plan(&show()).end.micros() - 5_000_000;
        assert!(desk.run.commands.give(Command::Start { song: song(late), at: at(0), chase: true }));
        desk.send(1_000);
        desk.send(2_000);
        desk.supervise(2_000);
        desk.supervise(3_000);
        let missed: Vec<u64> =
            desk.told.iter().filter_map(|e| if let RunnerEvent::Missed(n) = e { Some(*n) } else { None }).collect();
        assert_eq!(missed.len(), usize::from(lost), "{missed:?}");
        assert!(missed.iter().all(|n| *n > 0));
    }
}

/// The machine slept if its two clocks differ by more than 0.2 s: the locks close. Less is their drift.
#[test]
fn sleep_is_noticed() {
    for (asleep, closes) in [(200_000, false), (200_001, true), (-200_001, true)] {
        let mut desk = desk([Some("one"), Some("two")]);
        desk.supervise(0);
        desk.send(0);
        desk.clock.asleep.store(asleep, Ordering::Relaxed);
        desk.supervise(1_000);
        assert_eq!(desk.run.sending.commands.pop().is_ok(), closes, "{asleep} µs");
        // It is told once.
        desk.supervise(2_000);
        assert!(desk.run.sending.commands.pop().is_err());
    }
}

/// While somebody begins to hold a release, ports are looked for at once; while its contact is closed, every 0.1 s.
#[test]
fn ports_are_looked_for_more_often_around_a_release() {
    let plan = plan(&show());
    let mut desk = desk([Some("one"), Some("two")]);
    let mut now = 0;
    desk.supervise(now);
    desk.send(now);
    let start = Command::Start {
        song: plan.releases[0].send - letfall_core::time::SongSpan::from_millis(2_600),
        at: at(now),
        chase: false,
    };
    assert!(desk.run.commands.give(Command::Mode(Mode::Perform)) && desk.run.commands.give(start));
    desk.send(now);
    desk.supervise(now);
    let before = desk.looks();
    let hold = |now| Command::Hold { release: ReleaseIndex(0), holder: HolderId(0), grip: Grip(1), at: at(now) };
    assert!(desk.run.commands.give(hold(1_000)));
    desk.send(1_000);
    // The first turn hears of the hold, the second one looks.
    desk.supervise(1_000);
    desk.supervise(1_100);
    assert_eq!(desk.looks(), before + 1);
    while now < 2_600_000 {
        now += 100_000;
        assert!(desk.run.commands.give(hold(now)));
        desk.send(now);
        desk.supervise(now);
    }
    let sent = |e: &RunnerEvent| {
        matches!(e, RunnerEvent::Engine(Event::Message { outcome: SendOutcome::Sent, holder: Some(_), .. }))
    };
    desk.send(now + 1);
    desk.supervise(now + 1);
    assert!(desk.told.iter().any(sent), "the release did not leave");
    let before = desk.looks();
    for later in [100_000, 199_999, 200_000] {
        desk.supervise(now + later);
    }
    assert!((before + 2..=before + 3).contains(&desk.looks()), "{} after {before}", desk.looks());
}

/// A run that ends with nothing owed ends at once. One whose port is gone while its contact is closed goes on looking for the port for
/// one and a half seconds, and opens the contact.
#[test]
fn the_end_of_a_run_waits_for_what_is_owed_and_not_longer() {
    for (lost, returns) in [(false, false), (true, true), (true, false)] {
        let plan = plan(&show());
        let fake = Fake::default();
        *fake.there.lock().unwrap() = vec!["one".to_owned(), "two".to_owned()];
        let runner = Runner {
            plan: plan.clone(),
            sync: SyncPlan::default(),
            ports: Box::new(fake.clone()),
            names: vec![Some("one".to_owned()), Some("two".to_owned())],
            log: None,
            clock: Arc::new(SystemClocks::default()),
            keeper: None,
            wake: Arc::new(|| {}),
            after: Vec::new(),
        };
        let run = runner.start().unwrap();
        std::thread::sleep(Duration::from_millis(300));
        assert!(run.command(Command::Mode(Mode::Perform)));
        let from = plan.releases[0].send - letfall_core::time::SongSpan::from_millis(2_600);
        assert!(run.command(Command::Start { song: from, at: run.now(), chase: false }));
        let has = |bytes: &[u8]| fake.sent.lock().unwrap().iter().any(|(_, sent)| sent == bytes);
        let begin = Instant::now();
        while !has(&[0x9f, 60, 127]) && begin.elapsed() < Duration::from_secs(5) {
            let (release, holder) = (ReleaseIndex(0), HolderId(0));
            run.command(Command::Hold { release, holder, grip: Grip(1), at: run.now() });
            std::thread::sleep(Duration::from_millis(10));
        }
        assert!(has(&[0x9f, 60, 127]), "the release did not leave");
        if lost {
            fake.there.lock().unwrap().clear();
        }
        let there = fake.there.clone();
        let back = std::thread::spawn(move || {
            std::thread::sleep(Duration::from_millis(600));
            if returns {
                *there.lock().unwrap() = vec!["one".to_owned(), "two".to_owned()];
            }
        });
        let end = Instant::now();
        drop(run);
        let took = end.elapsed();
        back.join().unwrap();
        assert_eq!(has(&[0x8f, 60, 64]), !lost || returns, "lost: {lost}, returns: {returns}");
        let least = if lost && !returns { 1_400 } else { 0 };
        // Generous, because a busy machine may be late.
        let most = if lost { 10_000 } else { 1_200 };
        assert!((least..most).contains(&took.as_millis()), "{took:?}");
    }
}

/// A machine port knows which ports of the show leave by it, and ports of one interface are paced together.
#[test]
fn ports_know_whom_they_serve_and_whose_cable_they_share() {
    let of = |names| {
        let mut desk = desk(names);
        desk.supervise(0);
        let workers = desk.workers.lock().unwrap();
        workers.iter().map(|worker| (worker.shows().to_vec(), worker.interface())).collect::<Vec<_>>()
    };
    let (first, second) = (ShowPort::at(0), ShowPort::at(1));
    assert_eq!(of([Some("one"), Some("two")]), [(vec![first], 0), (vec![second], 1)]);
    assert_eq!(of([Some("one"), Some("one")]), [(vec![first, second], 0)]);
    assert_eq!(of([None, Some("two")]), [(vec![second], 0)]);
    // "Box 1" and "Box 2" of one interface.
    assert_eq!(of([Some("Box:Box Port 1"), Some("Box:Box Port 2")]), [(vec![first], 0), (vec![second], 0)]);
}

/// The process that opens contacts if the program dies: its end is told once, and as long as it runs nothing is told.
#[test]
fn the_end_of_the_keeper_is_told_once() {
    // A program that waits for its input, and one that ends at once.
    for (program, gone) in [("grep", 0), ("true", 1)] {
        let Some(path) =
            ["/bin", "/usr/bin"].iter().map(|folder| std::path::Path::new(folder).join(program)).find(|p| p.exists())
        else {
            letfall_testing::skip("the_end_of_the_keeper_is_told_once", "this system has no such program to stand in");
            return;
        };
        let mut desk = desk_kept([Some("one"), Some("two")], 4096, Some(path));
        let told = |desk: &Desk| desk.told.iter().filter(|e| matches!(e, RunnerEvent::KeeperGone(_))).count();
        let begun = Instant::now();
        while told(&desk) < gone && begun.elapsed() < Duration::from_secs(10) {
            desk.supervise(0);
            std::thread::sleep(Duration::from_millis(5));
        }
        for turn in 1..20 {
            desk.supervise(turn);
        }
        assert_eq!(told(&desk), gone, "{program}");
    }
}

/// The sending thread may be asleep when the machine wakes: it is woken, so that the locks close at once and not with the next message.
#[test]
fn the_sending_thread_is_woken_when_the_machine_slept() {
    let desk = desk([Some("one"), Some("two")]);
    let (woken, is_woken) = std::sync::mpsc::channel();
    let sender = std::thread::spawn(move || {
        // Whatever woke it while the ports were looked for has passed.
        let begun = Instant::now();
        while begun.elapsed() < Duration::from_millis(500) {
            std::thread::park_timeout(Duration::from_millis(20));
        }
        woken.send(None).unwrap();
        let begun = Instant::now();
        std::thread::park_timeout(Duration::from_secs(20));
        woken.send(Some(begun.elapsed())).unwrap();
    });
    let (quit, clock, handle) = (desk.run.quit.clone(), desk.clock.clone(), sender.thread().clone());
    let supervisor = desk.run.supervisor;
    let supervising = std::thread::spawn(move || supervisor.run(handle));
    assert_eq!(is_woken.recv(), Ok(None));
    std::thread::sleep(Duration::from_millis(50));
    clock.asleep.store(1_000_000, Ordering::Relaxed);
    let after = is_woken.recv().unwrap().unwrap();
    quit.store(true, Ordering::Release);
    sender.join().unwrap();
    supervising.join().unwrap();
    assert!(after < Duration::from_secs(15), "it was woken by nothing but its own time: {after:?}");
}

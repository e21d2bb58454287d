//! The thread of one machine port without engine and gate: when it must be woken, when it is over, what it tells its supervisor and
//! the keeper.

#![allow(clippy::unwrap_used, missing_docs)]

mod made_up;

use letfall_core::show::Link;
use letfall_live::machines::{Connection, PortWorker, WorkerEnds, WorkerParts};
use letfall_live::{
    Clock, ContactKeeper, Debt, Gone, Grip, HolderId, ItemIndex, MachineSpan, Orders, Packet, Payload, PhysicalPort,
    PortLink, PortOut, ReleaseIndex, Report, RunPlan, SendOutcome, ShowPort, Task,
};
use made_up::{Turned, at, plan, show};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::Sender;
use std::sync::{Arc, Mutex};

type Sent = Arc<Mutex<Vec<Vec<u8>>>>;

struct Wire(Sent);

impl PortOut for Wire {
    fn send(&mut self, bytes: &[u8]) -> Result<(), Gone> {
        self.0.lock().unwrap().push(bytes.to_vec());
        Ok(())
    }
}

/// A worker for a five-pin cable that no release hangs on: 320 µs a byte (MIDI 1.0).
struct Bench {
    worker: PortWorker,
    link: Option<PortLink>,
    connections: Option<Sender<Connection>>,
    owes: Arc<AtomicUsize>,
    closed: Arc<AtomicBool>,
    lost: Arc<AtomicBool>,
    orders: Arc<Orders>,
    plan: Arc<RunPlan>,
    turned: Arc<Turned>,
    clock: Clock,
    sent: Sent,
}

fn bench(physical: u16, keeper: Option<Arc<ContactKeeper>>) -> Bench {
    let mut show = show();
    show.ports.iter_mut().for_each(|port| port.link = Link::Din);
    let plan = plan(&show);
    let orders = Arc::new(Orders::new(plan.releases.len()));
    let other = ShowPort(1 - plan.releases[0].port.0);
    let (worker, WorkerEnds { link, connections, owes, closed, lost }) = PortWorker::new(WorkerParts {
        plan: plan.clone(),
        orders: orders.clone(),
        shows: vec![other],
        physical: PhysicalPort(physical),
        name: "Box".to_owned(),
        interface: 0,
        room: 64,
        keeper,
    });
    let turned = Arc::new(Turned::default());
    Bench {
        worker,
        link: Some(link),
        connections: Some(connections),
        owes,
        closed,
        lost,
        orders,
        plan,
        clock: turned.clone(),
        turned,
        sent: Sent::default(),
    }
}

impl Bench {
    fn open(&self) {
        self.connections.as_ref().unwrap().send(Connection::Open(Box::new(Wire(self.sent.clone())))).unwrap();
    }

    fn turn(&mut self, now: i64) -> Option<i64> {
        self.turned.0.store(now, Ordering::Relaxed);
        self.worker.turn(at(now), &self.clock).map(letfall_live::MachineTime::micros)
    }

    fn give(&mut self, task: Task) {
        let payload = Payload::made(&[0x90, 1, 2]);
        let packet = Packet { task, payload, due: at(0), epoch: self.orders.generation(), recalls: 0 };
        self.link.as_mut().unwrap().packets.push(packet).unwrap();
    }

    /// A note, or a contact that is opened by itself after so many microseconds.
    fn begin(&mut self, item: usize, after: Option<i64>) {
        let bytes = self.plan.items[item].bytes;
        let begun = ItemIndex::at(item);
        let owes = Some(Debt { begun, end: begun, bytes, after: after.map(MachineSpan::from_micros) });
        self.give(Task::Cue { item: begun, outcome: SendOutcome::Sent, owes });
    }

    fn state(&self) -> (usize, bool) {
        (self.owes.load(Ordering::Relaxed), self.closed.load(Ordering::Relaxed))
    }

    fn reports(&mut self) -> Vec<Report> {
        let reports = &mut self.link.as_mut().unwrap().reports;
        std::iter::from_fn(|| reports.pop().ok()).collect()
    }

    fn count(&self) -> usize {
        self.sent.lock().unwrap().len()
    }
}

#[test]
fn it_is_woken_when_its_wire_is_free_and_when_something_must_end() {
    let mut bench = bench(1, None);
    assert_eq!(bench.turn(0), None, "it is not open, and nothing waits");
    bench.begin(0, None);
    bench.open();
    // Three bytes take 960 µs. A note has no end of its own.
    assert_eq!(bench.turn(1_000), None);
    assert_eq!((bench.count(), bench.state()), (1, (1, false)));
    bench.begin(1, Some(50_000));
    assert_eq!(bench.turn(1_500), Some(1_960), "the wire is busy");
    assert_eq!(bench.count(), 1);
    // The contact is closed, and the port sends active sensing at once and every 200 ms.
    bench.turn(1_960);
    assert_eq!((bench.count(), bench.state()), (2, (2, true)));
    let next = bench.turn(10_000).unwrap();
    assert_eq!(bench.sent.lock().unwrap().last().unwrap(), &[0xfe]);
    assert_eq!(next, 51_960, "the contact's end");
    bench.turn(51_960);
    // It has ended, but nobody knows for a second whether that arrived.
    assert_eq!(bench.state(), (1, true));
    bench.turn(1_051_960);
    assert_eq!(bench.state(), (1, true));
    bench.turn(1_051_961);
    assert_eq!(bench.state(), (1, false));
    // Everything on is ended, then the port is silenced, one message after another.
    bench.orders.order_stop_all();
    let before = bench.count();
    let mut now = 2_000_000;
    while let Some(next) = bench.turn(now) {
        assert!(next > now);
        now = next;
    }
    let silence: Vec<Vec<u8>> = bench.sent.lock().unwrap()[before + 1..].to_vec();
    let expected: Vec<Vec<u8>> = (0..16u8).flat_map(|c| [vec![0xb0 | c, 120, 0], vec![0xb0 | c, 123, 0]]).collect();
    assert_eq!(silence, expected, "all sound off and all notes off on each channel (MIDI 1.0)");
}

#[test]
fn it_is_over_when_the_sending_thread_has_ended_and_nothing_is_owed() {
    // Nothing was ever sent.
    let mut fresh = bench(1, None);
    fresh.turn(0);
    assert!(!fresh.worker.is_over());
    fresh.link = None;
    assert!(fresh.worker.is_over());
    // A note is on, and a message waits.
    let mut bench = bench(1, None);
    bench.open();
    bench.begin(0, None);
    bench.turn(0);
    bench.begin(1, None);
    bench.link = None;
    assert!(!bench.worker.is_over(), "a message waits");
    bench.turn(1_000);
    assert!(!bench.worker.is_over(), "a note is on");
    bench.turn(5_000_000);
    bench.turn(6_000_000);
    bench.turn(7_000_000);
    assert_eq!(bench.state().0, 0);
    assert!(bench.worker.is_over());
}

#[test]
fn what_can_never_be_ended_does_not_keep_it() {
    for supervised in [true, false] {
        let mut bench = bench(1, None);
        bench.open();
        bench.begin(0, None);
        bench.turn(0);
        bench.connections.as_ref().unwrap().send(Connection::Closed).unwrap();
        bench.turn(1_000_000);
        assert!(bench.lost.load(Ordering::Relaxed));
        assert!(bench.reports().contains(&Report::Lost));
        bench.link = None;
        if !supervised {
            bench.connections = None;
        }
        assert_eq!(bench.turn(2_000_000), None, "there is nothing that it could do");
        assert_eq!(bench.worker.is_over(), !supervised, "its port may come back only if somebody looks for it");
    }
}

/// A release leaves only while its hand holds it, and not after the last moment.
#[test]
fn a_release_is_handed_over_held_and_in_time() {
    for (now, let_go, expected) in [
        (20_000, false, Ok(at(20_000))),
        (20_001, false, Err(SendOutcome::TooLate)),
        (0, true, Err(SendOutcome::Locked)),
    ] {
        let mut bench = bench(1, None);
        bench.open();
        bench.turn(0);
        let (release, grip) = (ReleaseIndex(0), Grip(3));
        bench.give(Task::Release {
            item: ItemIndex::at(0),
            release,
            holder: HolderId(0),
            grip,
            not_after: at(20_000),
            owes: None,
        });
        if let_go {
            bench.orders.let_go(release, grip);
        }
        bench.turn(now);
        let results: Vec<_> = bench
            .reports()
            .into_iter()
            .filter_map(|r| if let Report::Done { result, .. } = r { Some(result) } else { None })
            .collect();
        assert_eq!(results, [expected]);
        assert_eq!(bench.count(), usize::from(expected.is_ok()));
    }
}

/// A contact that is closed again is owed once, also if the port is lost just then.
#[test]
fn a_contact_that_is_closed_again_is_owed_once() {
    let mut bench = bench(1, None);
    bench.open();
    bench.begin(0, Some(10_000));
    bench.turn(0);
    bench.turn(20_000);
    bench.turn(30_000);
    assert_eq!(bench.state(), (0, true));
    // Another one was opened just before too.
    bench.begin(1, Some(10_000));
    bench.turn(40_000);
    bench.turn(60_000);
    bench.begin(0, Some(500_000));
    bench.turn(70_000);
    assert_eq!(bench.state(), (1, true));
    bench.connections.as_ref().unwrap().send(Connection::Closed).unwrap();
    bench.turn(80_000);
    assert_eq!(bench.state(), (2, true), "the contact that is closed, and the other, of which nobody knows");
}

/// The keeper is told of every contact that is closed and opened, and of no note. Numbers of different ports differ.
#[cfg(unix)]
#[test]
fn the_keeper_is_told_of_every_contact() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = tempfile::tempdir().unwrap();
    let (program, told) = (folder.path().join("keeper"), folder.path().join("told"));
    std::fs::write(&program, format!("#!/bin/sh\ncat > '{}'\n", told.display())).unwrap();
    std::fs::set_permissions(&program, std::fs::Permissions::from_mode(0o755)).unwrap();
    let keeper = Arc::new(ContactKeeper::start(&program).unwrap());
    for physical in [1, 2] {
        let mut bench = bench(physical, Some(keeper.clone()));
        bench.open();
        bench.begin(0, Some(10_000));
        bench.begin(1, None);
        bench.begin(2, Some(10_000));
        for now in 0..40 {
            bench.turn(now * 1_000);
        }
        assert_eq!(bench.state().0, 1, "the note");
    }
    drop(keeper);
    let text = || std::fs::read_to_string(&told).unwrap_or_default();
    let begin = std::time::Instant::now();
    while text().lines().count() < 8 && begin.elapsed() < std::time::Duration::from_secs(20) {
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    let text = text();
    let numbers = |word: &str| -> Vec<String> {
        text.lines().filter_map(|line| line.strip_prefix(word)?.split(' ').next().map(str::to_owned)).collect()
    };
    let (owed, mut paid) = (numbers("owes "), numbers("paid "));
    assert_eq!(
        owed,
        ["4294967297", "4294967298", "8589934593", "8589934594"],
        "2³² for each port, and a number from 1"
    );
    paid.sort();
    assert_eq!(paid, owed);
}

/// The machine's clock, and how often it was read.
struct Counted(letfall_live::SystemClocks, AtomicUsize);

impl letfall_live::Clocks for Counted {
    fn now(&self) -> letfall_live::MachineTime {
        self.1.fetch_add(1, Ordering::Relaxed);
        self.0.now()
    }
    fn wall(&self) -> letfall_live::UnixTime {
        self.0.wall()
    }
    fn asleep(&self) -> MachineSpan {
        MachineSpan::ZERO
    }
    fn wait_until(&self, _: letfall_live::MachineTime) {}
    fn rest_until(&self, _: letfall_live::MachineTime) {}
}

/// The thread of a port sleeps while nothing is due, hands over what comes, and ends with the run. Only the sending thread may wait
/// awake.
#[test]
fn the_thread_of_a_port_sleeps_while_nothing_is_due() {
    let mut bench = bench(1, None);
    bench.open();
    bench.begin(0, Some(150_000));
    let Bench { worker, link, connections, sent, .. } = bench;
    let counted = Arc::new(Counted(letfall_live::SystemClocks::default(), AtomicUsize::new(0)));
    let clock: Clock = counted.clone();
    let thread = std::thread::spawn(move || worker.run(&clock));
    std::thread::sleep(std::time::Duration::from_millis(400));
    let first: Vec<u8> = sent.lock().unwrap().first().cloned().unwrap_or_default();
    assert_eq!(first, [0x90, 1, 2]);
    assert!(sent.lock().unwrap().len() >= 2, "the contact was not opened");
    let reads = counted.1.load(Ordering::Relaxed);
    assert!(reads < 300, "the clock was read {reads} times in 0.4 s: the thread does not sleep");
    drop((link, connections));
    thread.join().unwrap();
}

/// When everything is to end, one end follows another as soon as the wire is free.
#[test]
fn it_is_woken_for_each_of_several_ends() {
    let mut bench = bench(1, None);
    bench.open();
    bench.begin(0, None);
    bench.turn(0);
    bench.begin(1, None);
    bench.turn(1_000);
    bench.give(Task::EndAll);
    assert_eq!(bench.state().0, 2);
    let next = bench.turn(2_000);
    assert_eq!((bench.state().0, next.is_some()), (1, true));
    assert_eq!(bench.turn(next.unwrap()), None);
    assert_eq!(bench.state().0, 0);
}

/// A port that is opened anew is silenced first, and what was left on is ended before that.
#[test]
fn a_port_that_is_opened_anew_is_put_in_order() {
    let all = |bench: &mut Bench| {
        let mut now = 5_000_000;
        while let Some(next) = bench.turn(now) {
            now = next;
        }
    };
    // Opened for the first time: nothing is sent.
    let mut first = bench(1, None);
    first.open();
    all(&mut first);
    assert_eq!(first.count(), 0);
    // Opened again although nobody saw it go.
    first.open();
    all(&mut first);
    assert_eq!(first.count(), 32);
    // A note was on when it went: its end comes first.
    let mut other = bench(1, None);
    other.open();
    other.begin(0, None);
    other.turn(0);
    other.connections.as_ref().unwrap().send(Connection::Closed).unwrap();
    other.turn(10_000);
    other.open();
    all(&mut other);
    let sent = other.sent.lock().unwrap().clone();
    assert_eq!(sent.len(), 1 + 1 + 32);
    assert_eq!(sent[1], other.plan.bytes(other.plan.items[0].bytes));
    assert_eq!(other.state().0, 0);
}

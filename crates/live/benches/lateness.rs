//! Measures how late messages leave compared to the plan, on the machine's real clock, with the traffic of 1, 10 and 100
//! ports, on an idle machine and with every core busy. `LETFALL_MINUTES` sets the length of each run. The default of 10 is
//! design.md's, and less is enough for a quick check.

#![allow(clippy::unwrap_used, clippy::cast_possible_truncation, clippy::cast_sign_loss, missing_docs)]

use letfall_core::prepared::Prepared;
use letfall_core::time::SongTime;
use letfall_live::{
    Clock, Command, Event, Gone, Handle, InputCallback, MachineSpan, NoPorts, PortInput, PortOut, Ports, Priority,
    RunItem, RunPlan, Runner, RunnerEvent, ShowPort, SyncPlan, SystemClocks,
};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

/// When each message of a port arrived.
type Times = Arc<Mutex<Vec<i64>>>;

/// Makes each port its own interface. Names that differ only in a number at the end would be paced together.
fn port_name(number: usize) -> String {
    format!("{number} out")
}

struct Sink(Times, Clock);

impl PortOut for Sink {
    fn send(&mut self, _: &[u8]) -> Result<(), Gone> {
        self.0.lock().unwrap().push(self.1.now().micros());
        Ok(())
    }
}

struct Sinks(Vec<Times>, Clock);

impl Ports for Sinks {
    fn outputs(&mut self) -> Result<Vec<String>, String> {
        Ok((0..self.0.len()).map(port_name).collect())
    }

    fn inputs(&mut self) -> Result<Vec<String>, String> {
        NoPorts.inputs()
    }

    fn open(&mut self, name: &str) -> Result<Box<dyn PortOut>, String> {
        Ok(Box::new(Sink(self.0[name.trim_end_matches(" out").parse::<usize>().unwrap()].clone(), self.1.clone())))
    }

    fn listen(&mut self, name: &str, heard: InputCallback) -> Result<PortInput, String> {
        NoPorts.listen(name, heard)
    }
}

/// Each port sends a message of three bytes about every 50 ms, no two ports at the same instant.
fn traffic(ports: usize, secs: i64) -> RunPlan {
    let show = letfall_core::file::read(include_bytes!("../../../demo-shows/lantern-night.letfall")).unwrap();
    let mut plan = RunPlan::new(Prepared::hypothetical(Arc::new(show), 0).unwrap());
    let one = *plan.items.iter().find(|i| i.release.is_none() && i.ends.is_none()).unwrap();
    let mut items: Vec<RunItem> = Vec::new();
    for port in 0..ports {
        let port = i64::try_from(port).unwrap();
        let mut due = 100_000 + port * 377;
        while due < secs * 1_000_000 {
            let port = ShowPort::at(usize::try_from(port).unwrap());
            items.push(RunItem { due: SongTime::saturating(due), port, ..one });
            due += 50_000 + i64::from(port.0) % 7 * 13;
        }
    }
    items.sort_by_key(|i| i.due);
    plan.timed = items.len();
    plan.items = items;
    plan.ports = (0..ports).map(|k| k.to_string()).collect();
    plan.end = SongTime::saturating(secs * 1_000_000);
    plan
}

/// Starts the threads of a run, with a port for each list of times, and waits until all ports are there. Returns the priority
/// that the system gives.
fn started(plan: &Arc<RunPlan>, times: &[Times], clock: Clock) -> (Handle, Option<Priority>) {
    let run = Runner {
        plan: plan.clone(),
        sync: SyncPlan::default(),
        ports: Box::new(Sinks(times.to_vec(), clock.clone())),
        names: (0..times.len()).map(|k| Some(port_name(k))).collect(),
        log: None,
        clock,
        keeper: None,
        wake: Arc::new(|| {}),
        after: Vec::new(),
    };
    let run = run.start().unwrap();
    let mut priority = None;
    let mut there = 0;
    while there < times.len() {
        match run.events.recv().unwrap() {
            RunnerEvent::Priority(p) => priority = Some(p),
            RunnerEvent::Port { there: true, .. } => there += 1,
            _ => {}
        }
    }
    (run, priority)
}

fn run(ports: usize, secs: i64, loaded: bool) {
    let plan = Arc::new(traffic(ports, secs));
    let busy = Arc::new(AtomicBool::new(loaded));
    let clock: Clock = Arc::new(SystemClocks::default());
    let times: Vec<Times> = (0..ports)
        .map(|p| {
            Arc::new(Mutex::new(Vec::with_capacity(plan.items.iter().filter(|i| i.port.index() == p).count() + 64)))
        })
        .collect();
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let workers: Vec<_> = (0..if loaded { cores } else { 0 })
        .map(|_| {
            let busy = busy.clone();
            thread::spawn(move || {
                let mut x = 1u64;
                while busy.load(Ordering::Relaxed) {
                    x = std::hint::black_box(x.wrapping_mul(6_364_136_223_846_793_005) + 1);
                }
            })
        })
        .collect();
    let (run, priority) = started(&plan, &times, clock);
    let at = run.now() + MachineSpan::from_millis(50);
    assert!(run.command(Command::Start { song: SongTime::ZERO, at, chase: false }));
    let begin = Instant::now();
    while begin.elapsed() < Duration::from_secs(secs.unsigned_abs() + 5) {
        match run.events.recv_timeout(Duration::from_secs(3)) {
            Ok(RunnerEvent::Engine(Event::Stopped { .. })) | Err(_) => break,
            Ok(RunnerEvent::Missed(n)) => println!("{n} events missed"),
            Ok(_) => {}
        }
    }
    busy.store(false, Ordering::Relaxed);
    for worker in workers {
        worker.join().unwrap();
    }
    // Compare what arrived at each port with the plan, message by message.
    let (mut late, mut lost, mut twice) = (Vec::with_capacity(plan.items.len()), 0usize, 0usize);
    for (port, times) in times.iter().enumerate() {
        let times = times.lock().unwrap();
        let planned: Vec<i64> = plan.items.iter().filter(|i| i.port.index() == port).map(|i| i.due.micros()).collect();
        lost += planned.len().saturating_sub(times.len());
        twice += times.len().saturating_sub(planned.len());
        late.extend(planned.iter().zip(times.iter()).map(|(due, came)| came - at.micros() - due));
    }
    late.sort_unstable();
    let within = late.iter().filter(|l| **l <= 1000).count() as f64 / late.len().max(1) as f64 * 100.0;
    let share_at = |share: f64| late[((late.len() - 1) as f64 * share) as usize];
    println!(
        "{ports:3} ports, {}: {} messages, {within:.3} % within 1 ms; half within {} µs, 99.9 % within {} µs, worst {} µs; {lost} lost, {twice} twice ({priority:?})",
        if loaded { "every core at work" } else { "idle" },
        late.len(),
        share_at(0.5),
        share_at(0.999),
        share_at(1.0)
    );
}

fn main() {
    let minutes: f64 = std::env::var("LETFALL_MINUTES").ok().and_then(|m| m.parse().ok()).unwrap_or(10.0);
    let secs = (minutes * 60.0) as i64;
    // `-- 100` runs only that number of ports.
    let chosen: Vec<usize> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    println!("messages against plan, {minutes} minutes a run; reach 99.9 % within 1 ms, none lost, none twice");
    for loaded in [false, true] {
        for ports in [1, 10, 100].into_iter().filter(|p| chosen.is_empty() || chosen.contains(p)) {
            run(ports, secs, loaded);
        }
    }
    if chosen.is_empty() {
        stop_all(10, 200);
        stop_all(100, 50);
    }
}

/// Measures the time from pressing stop-all to the first byte that ends each note, while the driver of one port blocks.
fn stop_all(ports: usize, rounds: usize) {
    let plan = Arc::new(sounding(ports));
    let clock: Clock = Arc::new(SystemClocks::default());
    let times: Vec<Times> = (0..ports).map(|_| Times::default()).collect();
    let (run, _) = started(&plan, &times, clock);
    let mut took = Vec::new();
    for _ in 0..rounds {
        assert!(run.command(Command::Start { song: SongTime::ZERO, at: run.now(), chase: false }));
        thread::sleep(Duration::from_millis(60));
        for times in &times {
            times.lock().unwrap().clear();
        }
        let pressed = run.now().micros();
        run.stop_all();
        // Silencing takes 31 ms on a five-pin cable.
        thread::sleep(Duration::from_millis(60));
        took.extend(times.iter().filter_map(|times| times.lock().unwrap().first().map(|at| at - pressed)));
    }
    took.sort_unstable();
    println!(
        "stop-all, {ports} ports, {rounds} times: the first byte on each after {} µs (half), {} µs (99 %), {} µs (worst); at most 5000 wanted",
        took[took.len() / 2],
        took[took.len() * 99 / 100],
        took[took.len() - 1]
    );
}

/// A long note on each port.
fn sounding(ports: usize) -> RunPlan {
    let mut plan = traffic(ports, 60);
    let on = *plan.items.iter().find(|i| i.release.is_none() && i.ends.is_none()).unwrap();
    plan.items =
        (0..ports).map(|port| RunItem { due: SongTime::saturating(1000), port: ShowPort::at(port), ..on }).collect();
    plan.timed = plan.items.len();
    plan
}

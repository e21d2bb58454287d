//! Drives the real engine, gate, supervisor and port workers on a simulated clock, with simulated ports, people and faults.

mod act;
mod machine;

use crate::happening::Happening;
use crate::scene::{MACHINE, Scene};
use crate::script::Script;
use crate::witness::Witness;
use letfall_core::prepared::Prepared;
use letfall_live::machines::{CommandQueue, PortSupervisor, PortWorker, Sending, SetUp, SharedList, SpawnWorker};
use letfall_live::{
    Clock, Command, Event, Grip, HolderId, MachineTime, Orders, ReleaseIndex, RunPlan, Runner, RunnerEvent, ShowPort,
    SyncPlan,
};
use machine::{Machine, SimClock, SimPorts};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Receiver;
use std::sync::{Arc, Mutex, PoisonError};

/// The interval at which a screen that responds renews a hold.
pub const RENEWED: i64 = 100_000;
/// The interval of the supervisor's turns.
const SUPERVISED: i64 = 50_000;
/// How long ports have after the end of a run to send what they owe.
const TO_PAY: i64 = 2_500_000;
/// How many commands may wait for the engine. Few, so that the queue is soon full.
const COMMANDS: usize = 64;
/// How many events may wait for the log.
const EVENTS: usize = 1 << 12;

/// The result of a run.
#[derive(Debug, Clone, Default)]
pub struct Outcome {
    /// What the witness objects to, with the number of the property.
    pub objections: Vec<(u8, String)>,
    /// How many times a lock was armed.
    pub armed: u32,
    /// How many releases left.
    pub left: u32,
    /// How many ports were lost.
    pub lost: u32,
    /// Everything that happened, for the story.
    pub happenings: Vec<(i64, Happening)>,
}

struct Hand {
    release: usize,
    who: u16,
    renew: i64,
}

/// The simulated world of one run.
struct World<'a> {
    scene: &'a Scene,
    clock: Arc<SimClock>,
    shared: Clock,
    ports: SimPorts,
    orders: Arc<Orders>,
    commands: CommandQueue,
    sending: Option<Sending>,
    supervisor: PortSupervisor,
    workers: Arc<Mutex<Vec<PortWorker>>>,
    told: Receiver<RunnerEvent>,
    quit: Arc<AtomicBool>,
    names: SharedList<Option<String>>,
    reassigned: Arc<AtomicBool>,
    hand: Option<Hand>,
    grip: u64,
    stalled_until: i64,
    blocked_until: [i64; 3],
    screen_until: i64,
    witness: Witness,
    /// How many turns of the song the screen has heard of.
    turns: u32,
    /// Commands given and not yet seen by the sending thread.
    pending: Vec<Happening>,
    outcome: Outcome,
    seen: usize,
    sender_due: i64,
    supervisor_due: i64,
}

/// Runs a script on a scene.
pub fn run(scene: &Scene, script: &Script, keep_story: bool) -> Outcome {
    let died = catch_unwind(AssertUnwindSafe(|| World::new(scene, keep_story).run(script)));
    died.unwrap_or_else(|_| Outcome {
        objections: vec![(9, "a panic took a thread with it that was to survive it".to_owned())],
        ..Outcome::default()
    })
}

impl<'a> World<'a> {
    fn new(scene: &'a Scene, keep_story: bool) -> World<'a> {
        let show = match letfall_core::file::read(scene.text.as_bytes()) {
            Ok(show) => show,
            Err(why) => panic!("the scene is no show: {why}\n{}", scene.text),
        };
        let prepared = match Prepared::hypothetical(Arc::new(show), 0) {
            Ok(prepared) => prepared,
            Err(why) => panic!("the scene has no plan: {why}"),
        };
        let plan = Arc::new(RunPlan::new(prepared));
        for (facts, release) in scene.releases.iter().zip(&plan.releases) {
            let own = (facts.send, facts.window);
            let theirs = (release.send.micros(), (release.from.micros(), release.to.micros()));
            assert_eq!(own, theirs, "{} is planned for another time than the scene's", facts.label);
        }
        let clock = Arc::new(SimClock::default());
        let shared: Clock = clock.clone();
        let machine = Machine { there: [true; 3], ..Machine::default() };
        let ports = SimPorts(Arc::new(Mutex::new(machine)), clock.clone());
        let all: Vec<ShowPort> = (0..plan.ports.len()).map(ShowPort::at).collect();
        let sync = SyncPlan {
            timecode: if scene.sync.0 { all.clone() } else { Vec::new() },
            clock: if scene.sync.1 { all } else { Vec::new() },
        };
        let workers: Arc<Mutex<Vec<PortWorker>>> = Arc::default();
        let kept = workers.clone();
        let spawn: SpawnWorker = Box::new(move |worker| {
            kept.lock().unwrap_or_else(PoisonError::into_inner).push(worker);
            Ok(None)
        });
        let runner = Runner {
            plan,
            sync,
            ports: Box::new(ports.clone()),
            names: scene.machine.iter().map(|at| Some(MACHINE[*at].to_owned())).collect(),
            log: None,
            clock: shared.clone(),
            keeper: None,
            wake: Arc::new(|| {}),
            after: Vec::new(),
        };
        let SetUp { sending, supervisor, commands, orders, quit, names, reassigned, holders, told, .. } =
            runner.set_up(spawn, COMMANDS, EVENTS);
        holders.with(|names| *names = vec!["Robin".to_owned(), "Kim".to_owned()]);
        World {
            scene,
            clock,
            shared,
            ports,
            orders,
            commands,
            sending: Some(sending),
            supervisor,
            workers,
            told,
            quit,
            names,
            reassigned,
            hand: None,
            grip: 0,
            stalled_until: 0,
            blocked_until: [0; 3],
            screen_until: 0,
            witness: Witness::new(scene, keep_story),
            turns: 0,
            pending: Vec::new(),
            outcome: Outcome::default(),
            seen: 0,
            sender_due: 0,
            supervisor_due: 0,
        }
    }

    fn run(mut self, script: &Script) -> Outcome {
        self.supervisor_due = script.ready;
        self.witness.opened_from(script.ready);
        let mut next = 0;
        let mut now = 0;
        let mut steps = 0u32;
        while now < script.end {
            self.clock.now.store(now, Ordering::Relaxed);
            while let Some((_, action)) = script.actions.get(next).filter(|(at, _)| *at <= now) {
                self.act(action, now);
                next += 1;
            }
            let due = self.turn(now);
            let action = script.actions.get(next).map_or(script.end, |(at, _)| *at);
            now = due.min(action).min(script.end).max(now + 1);
            steps += 1;
            if steps > 400_000 {
                self.outcome.objections.push((15, "the run never comes to rest: a port is flooded".to_owned()));
                break;
            }
        }
        self.clock.now.store(now, Ordering::Relaxed);
        self.witness.before_the_end(now);
        // The end of the run, as the handle orders it.
        self.happen(now, &Happening::Ended);
        self.hand = None;
        self.orders.order_stop_all();
        self.turn(now);
        now += 5_000;
        self.clock.now.store(now, Ordering::Relaxed);
        self.turn(now);
        self.quit.store(true, Ordering::Release);
        if let Some(sending) = self.sending.take() {
            sending.end(false);
        }
        let until = now + TO_PAY;
        while now < until {
            self.clock.now.store(now, Ordering::Relaxed);
            let due = self.turn(now);
            let over = self.with_workers(|workers| workers.iter().all(PortWorker::is_over));
            if over {
                break;
            }
            now = due.min(until).max(now + 1);
        }
        self.gather(now);
        let opened = self.ports.with(|machine| machine.opened.clone());
        if let Some((name, at)) = opened.iter().find(|(name, at)| MACHINE[*at] != name) {
            self.witness.object(12, now, &format!("\"{}\" was opened for \"{name}\"", MACHINE[*at]));
        }
        self.witness.after_the_end(now);
        self.outcome.objections.extend(std::mem::take(&mut self.witness.objections));
        self.outcome.happenings = std::mem::take(&mut self.witness.story);
        self.outcome.left = self.witness.left;
        self.outcome
    }

    fn with_workers<R>(&self, act: impl FnOnce(&mut Vec<PortWorker>) -> R) -> R {
        act(&mut self.workers.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// Runs everything that is due. Returns when something is due next.
    fn turn(&mut self, now: i64) -> i64 {
        let mut next = i64::MAX;
        self.renew(now);
        if now >= self.supervisor_due {
            self.supervisor.turn(MachineTime::from_micros(now));
            self.supervisor_due = now + SUPERVISED;
            self.hear(now);
        }
        next = next.min(self.supervisor_due);
        let at = MachineTime::from_micros(now);
        for _ in 0..3 {
            let blocked = self.blocked_until;
            let (clock, opened) = (self.shared.clone(), self.opened_by());
            let woken = self.with_workers(|workers| {
                let mut woken = i64::MAX;
                for (number, worker) in workers.iter_mut().enumerate() {
                    let until = opened.get(number).copied().flatten().map_or(0, |machine| blocked[machine]);
                    let due = if until > now { Some(until) } else { worker.turn(at, &clock).map(MachineTime::micros) };
                    woken = woken.min(due.unwrap_or(i64::MAX));
                }
                woken
            });
            next = next.min(woken.max(now + 1));
            self.gather(now);
            if now < self.stalled_until {
                next = next.min(self.stalled_until);
                continue;
            }
            if let Some(sending) = &mut self.sending {
                for happening in self.pending.drain(..) {
                    self.witness.happened(now, &happening);
                }
                self.sender_due = sending.turn(at).map_or(now + 40_000, MachineTime::micros).min(now + 40_000);
                next = next.min(self.sender_due.max(now + 1));
            }
        }
        self.gather(now);
        if let Some(hand) = &self.hand {
            next = next.min(hand.renew.max(self.screen_until).max(now + 1));
        }
        next
    }

    /// For each port worker, the machine port that was opened for it. Ports are numbered in the order in which they were first
    /// chosen.
    fn opened_by(&self) -> Vec<Option<usize>> {
        let mut order: Vec<usize> = Vec::new();
        for at in self.witness.wanted_in_order() {
            if !order.contains(at) {
                order.push(*at);
            }
        }
        order.into_iter().map(Some).collect()
    }

    fn renew(&mut self, now: i64) {
        let Some(hand) = &mut self.hand else { return };
        if now < hand.renew || now < self.screen_until {
            return;
        }
        hand.renew = now + RENEWED;
        let (release, who) = (ReleaseIndex::at(hand.release), HolderId(hand.who));
        let _taken = self.commands.give(Command::Hold {
            release,
            holder: who,
            grip: Grip(self.grip),
            at: MachineTime::from_micros(now),
        });
        self.witness.renewed(now, self.grip);
    }

    /// Passes the bytes that were handed over to the witness.
    fn gather(&mut self, now: i64) {
        let new = self.ports.with(|machine| machine.sent.split_off(self.seen.min(machine.sent.len())));
        self.seen = 0;
        for (at, port, bytes) in new {
            self.witness.sent(at, port, &bytes);
        }
        debug_assert!(now >= 0);
    }

    fn hear(&mut self, now: i64) {
        while let Ok(told) = self.told.try_recv() {
            match told {
                RunnerEvent::Engine(Event::Armed { .. }) => self.outcome.armed += 1,
                RunnerEvent::Engine(Event::PortLost { .. }) => self.outcome.lost += 1,
                RunnerEvent::Engine(Event::Turned { turns, .. }) => self.turns = turns,
                RunnerEvent::SendingEnded => self.witness.told_the_end(now),
                _ => {}
            }
        }
    }
}

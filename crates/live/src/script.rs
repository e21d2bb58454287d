//! A rehearsal without devices: a script says what people do and when, and the real engine, gate and port workers run on a clock that is
//! only counted. The result is the log. Nothing is sent anywhere.

use crate::bend::{Bend, Part};
use crate::command::{Command, Mode};
use crate::engine::Engine;
use crate::event::Event;
use crate::gate::Gate;
use crate::log::{ClockPair, LogRecord};
use crate::orders::{Grip, Moves, Orders};
use crate::ports::{Gone, PortOut};
use crate::run_plan::RunPlan;
use crate::runner::machines::{Connection, PortWorker, WorkerEnds, WorkerParts};
use crate::runner::{Clock, Clocks};
use crate::sync::SyncPlan;
use crate::units::{HolderId, MachineSpan, MachineTime, PhysicalPort, ReleaseIndex, ShowPort, UnixTime};
use letfall_core::show::Label;
use letfall_core::time::{BarBeat, SongTime};
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::mpsc::Sender;

/// What people do in a rehearsal that runs by itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Script {
    /// Whether it is a performance, in which a release leaves while it is held. If not, its stand-in does.
    #[serde(default)]
    pub perform: bool,
    /// The bar in which it starts; the song's beginning if none is given.
    #[serde(default)]
    pub from_bar: Option<i32>,
    /// What people do, one after another.
    pub steps: Vec<Step>,
}

/// One thing that a person does.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// When: as the song comes to this bar.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bar: Option<i32>,
    /// The counted beat of that bar, from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beat: Option<u16>,
    /// When: so many seconds after the step before, or, with a bar, after that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after_s: Option<f64>,
    /// Who.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub by: String,
    /// What.
    #[serde(rename = "do")]
    pub does: Does,
}

/// What a person does.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Does {
    /// Lets time stand at a bar ahead.
    Wait {
        /// The bar.
        bar: i32,
    },
    /// Goes on after a wait.
    GoOn {},
    /// Lets a stretch go round.
    Vamp {
        /// Its first bar.
        bar: i32,
        /// How many bars it has.
        bars: u32,
    },
    /// Leaves a vamp at its end, or at a bar in it.
    Leave {
        /// The bar.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        bar: Option<i32>,
    },
    /// Leaves out a part ahead.
    Cut {
        /// The bar at which the song leaves.
        bar: i32,
        /// The bar at which it goes on.
        to: i32,
    },
    /// Takes back what was chosen for ahead.
    TakeBack {},
    /// The fabric of a release stays.
    FabricStays {
        /// The release's cue.
        release: Label,
    },
    /// It is stuck.
    Stuck {
        /// The release's cue.
        release: Label,
        /// Which part.
        #[serde(default)]
        part: ScriptPart,
    },
    /// It fell before its time.
    Early {
        /// The release's cue.
        release: Label,
    },
    /// A person saw that it is down.
    Down {
        /// The release's cue.
        release: Label,
    },
    /// It is tried once more, to land at a bar ahead, as far into the bar as planned.
    TryAt {
        /// The release's cue.
        release: Label,
        /// The bar.
        bar: i32,
    },
    /// The clock stands, and each group is sent by a key.
    ByHand {},
    /// The next group.
    Next {},
    /// Presses to hold a release, until it is let go.
    Hold {
        /// The release's cue.
        release: Label,
    },
    /// Lets go.
    LetGo {},
    /// Stops the run.
    Stop {},
    /// Stops all.
    StopAll {},
    /// Starts from a bar.
    Start {
        /// The bar.
        bar: i32,
    },
    /// A port of the show is pulled out.
    Unplug {
        /// Its name.
        port: String,
    },
    /// It is plugged in again.
    Plug {
        /// Its name.
        port: String,
    },
}

/// Which part of a fabric is stuck.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ScriptPart {
    /// All of it.
    #[default]
    All,
    /// The left.
    Left,
    /// The right.
    Right,
}

/// Why a script cannot be carried out, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScriptError {
    /// The step, counted from 1.
    pub step: usize,
    /// Why, and what to do.
    pub why: String,
}

impl std::fmt::Display for ScriptError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "step {}: {}", self.step, self.why)
    }
}

impl std::error::Error for ScriptError {}

/// A hold is renewed this often, as by the screen.
const RENEWED: i64 = 100_000;
/// A run that is longer than this is ended.
const LONGEST: i64 = 86_400_000_000;
/// After the last step of a run that stands, what is owed is given this long.
const TO_PAY: i64 = 2_500_000;

/// A clock that is counted.
#[derive(Default)]
struct Counted(AtomicI64);

impl Clocks for Counted {
    fn now(&self) -> MachineTime {
        MachineTime::from_micros(self.0.load(Ordering::Relaxed))
    }
    fn wall(&self) -> UnixTime {
        UnixTime::from_micros(self.0.load(Ordering::Relaxed))
    }
    fn asleep(&self) -> MachineSpan {
        MachineSpan::ZERO
    }
    fn wait_until(&self, _: MachineTime) {}
    fn rest_until(&self, _: MachineTime) {}
}

/// A port that takes everything and sends nothing.
struct Nowhere;

impl PortOut for Nowhere {
    fn send(&mut self, _: &[u8]) -> Result<(), Gone> {
        Ok(())
    }
}

/// Carries a script out. Returns the log; its times count from the start.
///
/// # Errors
/// [`ScriptError`]: a step names a release, port or time that there is not.
pub fn rehearse(plan: &Arc<RunPlan>, script: &Script) -> Result<Vec<LogRecord>, ScriptError> {
    for (at, step) in script.steps.iter().enumerate() {
        check(plan, step).map_err(|why| ScriptError { step: at + 1, why })?;
    }
    let mut desk = Desk::new(plan);
    desk.give(Command::Mode(if script.perform { Mode::Perform } else { Mode::Rehearse }));
    let song = script.from_bar.map_or(SongTime::ZERO, |bar| plan.grid.bar_time(bar));
    desk.give(Command::Start { song, at: desk.at(), chase: true });
    let mut next = 0;
    let mut before = desk.now;
    let mut idle_since = None;
    loop {
        let due = desk.turn();
        if let Some(step) = script.steps.get(next)
            && let Some(time) = desk.comes(step, before)
            && time <= desk.now
        {
            desk.carry_out(step);
            (before, next) = (desk.now, next + 1);
            continue;
        }
        let steps = script.steps.get(next).map(|step| desk.comes(step, before));
        let stands = desk.engine.place(desk.at()).moves != Moves::Runs;
        // Whatever is still to be done waits for a place to which the song does not come.
        let idle = stands && steps.flatten().is_none();
        idle_since = idle.then(|| idle_since.unwrap_or(desk.now));
        if idle_since.is_some_and(|since| desk.now - since > TO_PAY) || desk.now > LONGEST {
            break;
        }
        let renew = desk.held.map(|(.., at)| at + RENEWED);
        let wake = [due, steps.flatten(), renew, Some(desk.now + RENEWED)].into_iter().flatten().min();
        desk.now = wake.unwrap_or(desk.now).max(desk.now + 1);
    }
    let holders = desk.holders;
    Ok(desk.events.iter().map(|event| LogRecord::of(event, plan, &holders, ClockPair::default())).collect())
}

/// Whether a step can be carried out with a plan.
fn check(plan: &RunPlan, step: &Step) -> Result<(), String> {
    if step.bar.is_none() && step.after_s.is_none() {
        return Err("it has no time; give \"bar\", \"after_s\" or both".to_owned());
    }
    if step.after_s.is_some_and(|after| !(0.0..=86_400.0).contains(&after)) {
        return Err("\"after_s\" is between 0 and 86400 seconds".to_owned());
    }
    match &step.does {
        Does::FabricStays { release }
        | Does::Stuck { release, .. }
        | Does::Early { release }
        | Does::Down { release }
        | Does::TryAt { release, .. }
        | Does::Hold { release } => {
            let known = plan.releases.iter().any(|r| r.label == *release);
            let all: Vec<String> = plan.releases.iter().map(|r| r.label.to_string()).collect();
            let has = if all.is_empty() { "no release that is sent".to_owned() } else { all.join(", ") };
            known.then_some(()).ok_or_else(|| format!("the service has no release {release}; it has {has}"))
        }
        Does::Unplug { port } | Does::Plug { port } => {
            let known = plan.ports.contains(port);
            known
                .then_some(())
                .ok_or_else(|| format!("there is no port \"{port}\"; there is {}", plan.ports.join(", ")))
        }
        _ => Ok(()),
    }
}

/// Everything that a run needs, on a clock that is counted.
struct Desk<'a> {
    plan: &'a Arc<RunPlan>,
    engine: Engine,
    gate: Gate,
    orders: Arc<Orders>,
    workers: Vec<PortWorker>,
    connections: Vec<Sender<Connection>>,
    clock: Arc<Counted>,
    shared: Clock,
    events: Vec<Event>,
    holders: Vec<String>,
    now: i64,
    grip: u64,
    /// Which release is held, by whom, and when the hold was last renewed.
    held: Option<(ReleaseIndex, HolderId, i64)>,
}

impl<'a> Desk<'a> {
    fn new(plan: &'a Arc<RunPlan>) -> Desk<'a> {
        let orders = Arc::new(Orders::new(plan.releases.len()));
        let clock = Arc::new(Counted::default());
        let shared: Clock = clock.clone();
        let mut desk = Desk {
            plan,
            engine: Engine::new(plan.clone(), orders.clone(), SyncPlan::default()),
            gate: Gate::new(plan.clone(), orders.clone()),
            orders,
            workers: Vec::new(),
            connections: Vec::new(),
            clock,
            shared,
            events: Vec::new(),
            holders: Vec::new(),
            now: 0,
            grip: 0,
            held: None,
        };
        for at in 0..plan.ports.len() {
            let physical = PhysicalPort::at(at);
            let (worker, WorkerEnds { link, connections, .. }) = PortWorker::new(WorkerParts {
                plan: plan.clone(),
                orders: desk.orders.clone(),
                shows: vec![ShowPort::at(at)],
                physical,
                name: plan.ports[at].clone(),
                interface: physical.0,
                room: 256,
                keeper: None,
            });
            desk.workers.push(worker);
            desk.gate.add_port(physical, link);
            desk.gate.assign(ShowPort::at(at), Some(physical), MachineTime::default(), &mut |_| ());
            // It cannot fail: the worker is right here.
            drop(connections.send(Connection::Open(Box::new(Nowhere))));
            desk.connections.push(connections);
        }
        desk.turn();
        desk
    }

    fn at(&self) -> MachineTime {
        MachineTime::from_micros(self.now)
    }

    /// Does what is due now. Returns when something is due next.
    fn turn(&mut self) -> Option<i64> {
        self.clock.0.store(self.now, Ordering::Relaxed);
        let now = self.at();
        if let Some((release, holder, at)) = self.held
            && self.now >= at + RENEWED
        {
            self.held = Some((release, holder, self.now));
            let (grip, events) = (Grip(self.grip), &mut self.events);
            let hold = Command::Hold { release, holder, grip, at: now };
            self.engine.command(hold, now, &mut self.gate, &mut |event| events.push(event));
        }
        let mut next = None;
        for _ in 0..4 {
            let events = &mut self.events;
            let mut tell = |event| events.push(event);
            let woken: Vec<_> = self.workers.iter_mut().map(|worker| worker.turn(now, &self.shared)).collect();
            self.engine.obey_stops(now, &mut self.gate, &mut tell);
            let due = self.engine.step(now, &mut self.gate, &mut tell);
            let free = self.gate.pump(now, &mut tell);
            next = woken.into_iter().chain([due, free]).flatten().min().map(MachineTime::micros);
        }
        next
    }

    fn give(&mut self, command: Command) {
        let (now, events) = (self.at(), &mut self.events);
        self.engine.command(command, now, &mut self.gate, &mut |event| events.push(event));
        self.turn();
    }

    fn holder(&mut self, name: &str) -> HolderId {
        let name = if name.is_empty() { "somebody" } else { name };
        let at = self.holders.iter().position(|known| known == name).unwrap_or_else(|| {
            self.holders.push(name.to_owned());
            self.holders.len() - 1
        });
        HolderId(u16::try_from(at).unwrap_or(u16::MAX))
    }

    /// When a step comes, as far as can be told now: `None` while the song is not on its way to its place.
    fn comes(&self, step: &Step, before: i64) -> Option<i64> {
        #[allow(clippy::cast_possible_truncation)] // a day at most
        let after = (step.after_s.unwrap_or(0.0) * 1e6) as i64;
        let Some(bar) = step.bar else { return Some(before + after) };
        let grid = &self.plan.grid;
        let place = BarBeat { beat: step.beat.unwrap_or(1), ..BarBeat::downbeat(bar) };
        let song = grid.time_at(grid.tick_of(place));
        let machine = self.engine.machine(song)?.micros() + after;
        // A place that the song has passed already comes in its next round, if there is one.
        (machine >= self.now - RENEWED).then_some(machine)
    }

    fn carry_out(&mut self, step: &Step) {
        let by = self.holder(&step.by);
        let grid = self.plan.grid.clone();
        let bar = |bar: i32| grid.bar_time(bar);
        let release = |label: Label| {
            self.plan.releases.iter().position(|r| r.label == label).map_or(ReleaseIndex(0), ReleaseIndex::at)
        };
        let bend = match &step.does {
            Does::Wait { bar: at } => Bend::Wait { at: bar(*at) },
            Does::GoOn {} => Bend::GoOn,
            Does::Vamp { bar: from, bars } => {
                let to = from.saturating_add(i32::try_from(*bars).unwrap_or(1));
                Bend::Vamp { from: bar(*from), to: bar(to) }
            }
            Does::Leave { bar: at } => Bend::Leave { at: at.map(bar) },
            Does::Cut { bar: from, to } => Bend::Cut { from: bar(*from), to: bar(*to) },
            Does::TakeBack {} => Bend::TakeBack,
            Does::FabricStays { release: of } => Bend::Stays { release: release(*of) },
            Does::Stuck { release: of, part } => {
                let part = match part {
                    ScriptPart::All => Part::All,
                    ScriptPart::Left => Part::Left,
                    ScriptPart::Right => Part::Right,
                };
                Bend::Stuck { release: release(*of), part }
            }
            Does::Early { release: of } => Bend::Early { release: release(*of) },
            Does::Down { release: of } => Bend::Down { release: release(*of) },
            Does::TryAt { release: of, bar: at } => {
                let release = release(*of);
                let land = self.plan.release(release).map_or(SongTime::ZERO, |r| r.land);
                let within = land - bar(grid.place_of(grid.tick_at(land)).bar);
                Bend::TryAt { release, land: bar(*at) + within }
            }
            Does::ByHand {} => Bend::ByHand,
            Does::Next {} => Bend::Next,
            Does::Hold { release: of } => {
                self.grip += 1;
                // The first hold is given in the next turn.
                self.held = Some((release(*of), by, self.now - RENEWED));
                self.turn();
                return;
            }
            Does::LetGo {} => {
                self.held = None;
                self.orders.let_go_all(Grip(self.grip));
                self.turn();
                return;
            }
            Does::Stop {} => {
                self.orders.order_stop();
                self.turn();
                return;
            }
            Does::StopAll {} => {
                self.orders.order_stop_all();
                self.turn();
                return;
            }
            Does::Start { bar: at } => return self.give(Command::Start { song: bar(*at), at: self.at(), chase: true }),
            Does::Unplug { port } => return self.connect(port, false),
            Does::Plug { port } => return self.connect(port, true),
        };
        self.give(Command::Bend { bend, by });
    }

    fn connect(&mut self, port: &str, there: bool) {
        let Some(at) = self.plan.ports.iter().position(|name| name == port) else { return };
        let connection = if there { Connection::Open(Box::new(Nowhere)) } else { Connection::Closed };
        drop(self.connections[at].send(connection));
        self.turn();
    }
}

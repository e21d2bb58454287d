//! Runs of the whole runner, with its real threads, on real MIDI ports of a JACK server. The witness sees what was handed over to each
//! port, as in a simulated run, and what was handed over is compared with what arrived at the other end of the port.

mod hall;

use crate::happening::Happening;
use crate::random::Random;
use crate::scene::Scene;
use crate::script::{Action, Script};
use crate::story;
use crate::witness::Witness;
use hall::{Entry, Shared, WatchedPorts, system_name};
use letfall_core::prepared::Prepared;
use letfall_core::time::SongTime;
use letfall_live::{
    Clock, Command, Event, Grip, Handle, HolderId, MachineSpan, MachineTime, Mode, ReleaseIndex, RunPlan, Runner,
    RunnerEvent, SendOutcome, ShowPort, SyncPlan, SystemClocks, SystemPorts,
};
use midir::MidiInput;
use std::process::ExitCode;
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

/// By how much threads on a busy machine may be later than simulated ones. Lateness itself is measured in the benches.
const LATENESS: i64 = 60_000;
/// The shortest time between pulling a port out and plugging it in again. The program looks for ports every 0.4 s, and a system
/// needs about a second to recognise a device. Our own figure.
const UNPLUGGED: i64 = 900_000;
/// How long a run goes on after the last release. Our own figure.
const AFTER: i64 = 2_500_000;
struct Hand {
    release: usize,
    who: u16,
    renew: i64,
}

/// One run.
struct RealRun {
    handle: Handle,
    shared: Shared,
    names: Vec<Option<String>>,
    hand: Option<Hand>,
    grip: u64,
    screen_until: i64,
    /// Where the song was started last, for a clock that comes from outside: song time, and when it was there.
    place: Option<(i64, i64)>,
    armed: u32,
    lost: u32,
    /// By how much each message was late when it was handed over, in microseconds.
    late: Vec<i64>,
}

impl RealRun {
    fn at(&self, now: i64) -> MachineTime {
        self.shared.begin + MachineSpan::from_micros(now)
    }

    fn give(&self, command: Command, happening: Happening) {
        if self.handle.command(command) {
            self.shared.happened(happening);
        }
    }

    fn lift(&mut self) {
        if let Some(hand) = self.hand.take() {
            self.handle.let_go(ReleaseIndex::at(hand.release), Grip(self.grip));
            self.shared.happened(Happening::Lift);
        }
    }

    fn act(&mut self, action: &Action, now: i64) -> Result<(), String> {
        let song = SongTime::saturating;
        let at = self.at(now);
        match *action {
            Action::Start { song: place, chase } => {
                self.give(Command::NewRun, Happening::NewRun);
                self.place = Some((place, now));
                let happening = Happening::Start { song: place, at: now, chase };
                self.give(Command::Start { song: song(place), at, chase }, happening);
            }
            Action::Stop => {
                self.shared.enter(now, Entry::OrderedStop);
                self.place = None;
                self.give(Command::Stop, Happening::Stop);
            }
            Action::StopAll => {
                self.place = None;
                self.handle.stop_all();
                self.shared.happened(Happening::StopAll);
            }
            Action::Locate { song: place } => {
                self.place = None;
                self.give(Command::Locate { song: song(place) }, Happening::Locate);
            }
            Action::Loop(part) => {
                let loops = part.map(|(from, to)| (song(from), song(to)));
                self.give(Command::Loop(loops), Happening::Loop(part));
            }
            Action::Perform(performs) => {
                let mode = if performs { Mode::Perform } else { Mode::Rehearse };
                self.place = None;
                self.give(Command::Mode(mode), Happening::Perform(performs));
            }
            Action::Press { release, who } => {
                self.lift();
                self.grip += 1;
                self.hand = Some(Hand { release, who, renew: now });
                self.shared.happened(Happening::Press { release, grip: self.grip });
            }
            Action::Lift => self.lift(),
            Action::SecondTry { release } => {
                let command = Command::SecondTry { release: ReleaseIndex::at(release) };
                self.give(command, Happening::SecondTry { release });
            }
            Action::Unplug(machine) => {
                let pulled = self.shared.with(|hall| hall.unplug(machine, now));
                if pulled.is_some() {
                    self.shared.happened(Happening::Port { machine, there: false });
                }
            }
            Action::Plug(machine) => {
                self.shared.with(|hall| hall.plug(machine))?;
                self.shared.happened(Happening::Port { machine, there: true });
            }
            Action::Block(machine, long) => {
                let until = now + long;
                self.shared.with(|hall| hall.blocked_until[machine] = hall.blocked_until[machine].max(until));
                self.shared.happened(Happening::Blocked { machine, until });
            }
            Action::StallScreen(long) => {
                self.screen_until = self.screen_until.max(now + long);
                self.shared.happened(Happening::ScreenStalled { until: now + long });
            }
            Action::Follow(off) => {
                if let Some((from, since)) = self.place {
                    let to = (from + now - since + off).clamp(-1_000_000, crate::scene::SONG_US - 500_000);
                    self.place = Some((to, now));
                    self.give(Command::Follow { song: song(to), at }, Happening::Follow { song: to, at: now });
                }
            }
            Action::FollowStart { song: place } => {
                self.place = Some((place, now));
                let happening = Happening::FollowStart { song: place, at: now };
                self.give(Command::FollowStart { song: song(place), at }, happening);
            }
            Action::Assign { port, machine } => {
                if let Some(name) = self.names.get_mut(port) {
                    *name = Some(system_name(machine));
                }
                self.handle.connect(self.names.clone());
                self.shared.happened(Happening::Assigned { port, machine });
            }
            // These cannot be done to real threads from outside.
            // Bends are tried on the simulated clock.
            Action::Bend(_)
            | Action::Band { .. }
            | Action::NoBand
            | Action::BandEnds
            | Action::LateHold
            | Action::FailDriver(_)
            | Action::PanicDriver(_)
            | Action::StallSender(_)
            | Action::PanicSender
            | Action::Flood
            | Action::Sleep
            | Action::SetWall => {}
        }
        Ok(())
    }

    fn renew(&mut self, now: i64) {
        let at = self.at(now);
        let Some(hand) = self.hand.as_mut().filter(|hand| now >= hand.renew && now >= self.screen_until) else {
            return;
        };
        hand.renew = now + crate::world::RENEWED;
        let (release, holder) = (ReleaseIndex::at(hand.release), HolderId(hand.who));
        if self.handle.command(Command::Hold { release, holder, grip: Grip(self.grip), at }) {
            self.shared.enter(now, Entry::Renewed(self.grip));
        }
    }

    fn hear(&mut self) {
        while let Ok(told) = self.handle.events.try_recv() {
            match told {
                RunnerEvent::Engine(Event::Armed { .. }) => self.armed += 1,
                RunnerEvent::Engine(Event::PortLost { .. }) => self.lost += 1,
                RunnerEvent::Engine(Event::Message { outcome: SendOutcome::Sent, due, at, .. }) => {
                    self.late.push((at - due).micros());
                }
                RunnerEvent::SendingEnded => self.shared.enter(self.shared.now(), Entry::ToldTheEnd),
                _ => {}
            }
        }
    }
}

/// What came of one run.
struct Told {
    witness: Witness,
    differences: Vec<String>,
    handed: usize,
    armed: u32,
    lost: u32,
    late: Vec<i64>,
}

fn run(scene: &Scene, script: &Script) -> Result<Told, String> {
    let show = letfall_core::file::read(scene.text.as_bytes()).map_err(|e| e.to_string())?;
    let plan = Arc::new(RunPlan::new(Prepared::hypothetical(Arc::new(show), 0).map_err(|e| e.to_string())?));
    let clock: Clock = Arc::new(SystemClocks::default());
    let shared = Shared { hall: Arc::default(), begin: clock.now(), clock: clock.clone() };
    (0..3).try_for_each(|machine| shared.with(|hall| hall.plug(machine)))?;
    let all: Vec<ShowPort> = (0..plan.ports.len()).map(ShowPort::at).collect();
    let names: Vec<Option<String>> = scene.machine.iter().map(|at| Some(system_name(*at))).collect();
    let sync = SyncPlan {
        timecode: if scene.sync.0 { all.clone() } else { Vec::new() },
        clock: if scene.sync.1 { all } else { Vec::new() },
    };
    let runner = Runner {
        plan,
        sync,
        ports: Box::new(WatchedPorts(SystemPorts, shared.clone())),
        names: names.clone(),
        log: None,
        clock,
        keeper: None,
        wake: Arc::new(|| {}),
        after: Vec::new(),
    };
    let handle = runner.start()?;
    let mut there = 0;
    while there < scene.machine.len() {
        match handle.events.recv_timeout(Duration::from_secs(10)) {
            Ok(RunnerEvent::Port { there: true, .. }) => there += 1,
            Ok(_) => {}
            Err(_) => return Err("the ports of the JACK server were not found within ten seconds".to_owned()),
        }
    }
    handle.holder("Robin");
    handle.holder("Kim");
    // The script's time begins when every port is open.
    let offset = shared.now();
    let mut run = RealRun {
        handle,
        shared: shared.clone(),
        names,
        hand: None,
        grip: 0,
        screen_until: 0,
        place: None,
        armed: 0,
        lost: 0,
        late: Vec::new(),
    };
    let mut actions = script.actions.iter().peekable();
    let end = script.end + offset;
    while shared.now() < end {
        while let Some((_, action)) = actions.next_if(|(at, _)| at + offset <= shared.now()) {
            run.act(action, shared.now())?;
        }
        run.renew(shared.now());
        run.hear();
        thread::sleep(Duration::from_millis(1));
    }
    shared.enter(shared.now(), Entry::BeforeTheEnd);
    shared.happened(Happening::Ended);
    run.hear();
    let RealRun { handle, armed, lost, late, .. } = run;
    drop(handle);
    // What was handed over last arrives within a period of the server.
    thread::sleep(Duration::from_millis(50));
    let mut witness = Witness::new(scene, true);
    witness.on_real_threads(LATENESS);
    witness.opened_from(offset);
    let (mut entries, differences) = shared.with(|hall| (std::mem::take(&mut hall.entries), hall.differences()));
    entries.sort_by_key(|(at, _)| *at);
    let handed = entries.iter().filter(|(_, entry)| matches!(entry, Entry::Sent { .. })).count();
    for (at, entry) in entries {
        match entry {
            Entry::Happened(happening) => witness.happened(at, &happening),
            Entry::Renewed(grip) => witness.renewed(at, grip),
            Entry::OrderedStop => witness.ordered_stop(at),
            Entry::Sent { machine, bytes } => witness.sent(at, machine, &bytes),
            Entry::ToldTheEnd => witness.told_the_end(at),
            Entry::BeforeTheEnd => witness.before_the_end(at),
        }
    }
    witness.after_the_end(shared.now());
    Ok(Told { witness, differences, handed, armed, lost, late })
}

/// A script for real threads. Nothing is shortened but the waits: a port stays out for as long as a system needs to notice.
fn script(random: &mut Random, scene: &Scene) -> Script {
    let mut script = Script::new(random, scene);
    let mut out = [i64::MIN / 2; 3];
    for (at, action) in &mut script.actions {
        match action {
            Action::Unplug(machine) => out[*machine] = *at,
            Action::Plug(machine) => *at = (*at).max(out[*machine] + UNPLUGGED),
            _ => {}
        }
    }
    script.actions.sort_by_key(|(at, _)| *at);
    let started = script.actions.iter().find_map(|(at, action)| match action {
        Action::Start { song, .. } => Some(at - song),
        _ => None,
    });
    let last = scene.releases.iter().map(|release| release.send).max().unwrap_or(0);
    script.end = script.end.min(started.unwrap_or(0) + last + AFTER);
    script
}

/// A script in which the first release is held and leaves, and its port is pulled out or blocks while the contact is closed.
fn script_of_a_pulse(scene: &Scene, unplugs: bool) -> Script {
    let release = &scene.releases[0];
    let machine = scene.machine[release.port];
    let begin = 300_000;
    let song = (release.send - 3_000_000).max(release.window.0 - 200_000);
    let due = begin + release.send - song;
    let mut actions = vec![
        (50_000, Action::Perform(true)),
        (begin, Action::Start { song, chase: true }),
        (due - 1_600_000, Action::Press { release: 0, who: 0 }),
        (due + release.pulse + 300_000, Action::Lift),
    ];
    let middle = due + release.pulse / 2;
    if unplugs {
        actions.push((middle, Action::Unplug(machine)));
        actions.push((middle + UNPLUGGED, Action::Plug(machine)));
    } else {
        actions.push((middle, Action::Block(machine, 600_000)));
        actions.push((middle + 300_000, Action::StopAll));
    }
    actions.retain(|(at, _)| *at > 0);
    actions.sort_by_key(|(at, _)| *at);
    Script { actions, ready: 0, end: due + AFTER }
}

/// Whether a release may leave at all in this run, so that the time is well spent.
fn is_worth_it(scene: &Scene, script: &Script) -> bool {
    let has = |wanted: fn(&Action) -> bool| script.actions.iter().any(|(_, action)| wanted(action));
    scene.safe && has(|action| *action == Action::Perform(true)) && has(|action| matches!(action, Action::Press { .. }))
}

/// Runs for so many seconds, from a seed on.
pub fn all(seconds: u64, first: u64) -> ExitCode {
    if let Err(why) = MidiInput::new("Letfall-witness") {
        letfall_testing::skip("simulate real ports", "no JACK server runs; cargo xtask test starts one");
        eprintln!("{why}");
        return ExitCode::SUCCESS;
    }
    let begin = Instant::now();
    let (mut runs, mut failed, mut handed, mut sent, mut armed, mut lost) = (0u32, 0u32, 0, 0, 0, 0);
    let mut late = Vec::new();
    let mut seed = first;
    while begin.elapsed().as_secs() < seconds {
        let mut random = Random::new(seed);
        let scene = Scene::new(&mut random);
        // Every second run is one with a fault while a contact is closed, which is rare otherwise.
        let script = match runs % 4 {
            1 => script_of_a_pulse(&scene, true),
            3 => script_of_a_pulse(&scene, false),
            _ => script(&mut random, &scene),
        };
        seed += 1;
        if !is_worth_it(&scene, &script) {
            continue;
        }
        runs += 1;
        let told = match run(&scene, &script) {
            Ok(told) => told,
            Err(why) => {
                println!("seed {}: {why}", seed - 1);
                failed += 1;
                continue;
            }
        };
        handed += told.handed;
        (sent, armed, lost) = (sent + told.witness.left, armed + told.armed, lost + told.lost);
        // Messages wait for a driver that blocks, and are overdue after a clock from outside has moved.
        let on_time = |action: &Action| {
            !matches!(
                action,
                Action::Block(..)
                    | Action::Unplug(_)
                    | Action::Assign { .. }
                    | Action::Follow(_)
                    | Action::FollowStart { .. }
            )
        };
        if script.actions.iter().all(|(_, action)| on_time(action)) {
            late.extend(told.late);
        }
        for difference in &told.differences {
            println!("seed {}: {difference}", seed - 1);
        }
        for (property, words) in &told.witness.objections {
            println!("seed {}: P{property} {words}", seed - 1);
        }
        if !told.differences.is_empty() || !told.witness.objections.is_empty() {
            failed += 1;
            println!("\nThe run of seed {}:\n{}", seed - 1, story::tell(&scene, &told.witness.story));
        }
    }
    late.sort_unstable();
    println!(
        "{runs} runs on real ports: {armed} armings, {sent} releases sent, {lost} ports lost; {handed} messages were handed over"
    );
    if let (Some(half), Some(most)) = (late.get(late.len() / 2), late.last()) {
        let within = late.iter().filter(|late| **late <= 1_000).count() * 10_000 / late.len();
        println!(
            "handed over {half} µs after plan (half of them), {most} µs at most, {}.{:02} % within 1 ms",
            within / 100,
            within % 100
        );
    }
    println!("{} passed, {failed} failed", runs - failed);
    if failed == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

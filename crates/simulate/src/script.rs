//! What happens in a simulated run and when: presses, orders and faults. Made from a seed, and shortened when a run fails.

use crate::random::Random;
use crate::scene::{BAR_US, SONG_US, Scene};

/// The shortest time for which a port is pulled out. A person needs longer, and so does a system to recognise a device.
const PULLED_OUT: i64 = 200_000;

/// Something that happens.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Action {
    /// A person starts from a song time.
    Start { song: i64, chase: bool },
    /// A person stops the run.
    Stop,
    /// Stop-all is ordered.
    StopAll,
    /// The playhead is set.
    Locate { song: i64 },
    /// A part of the song is looped, or the loop ends.
    Loop(Option<(i64, i64)>),
    /// Changes to performing (`true`) or rehearsing (`false`).
    Perform(bool),
    /// A person presses to hold a release.
    Press { release: usize, who: u16 },
    /// The person lets go.
    Lift,
    /// A hold that was given before the person let go arrives afterwards.
    LateHold,
    /// A second try is asked for.
    SecondTry { release: usize },
    /// A machine port is pulled out.
    Unplug(usize),
    /// It is plugged in again.
    Plug(usize),
    /// Its driver fails at the next message.
    FailDriver(usize),
    /// Its driver panics at the next message.
    PanicDriver(usize),
    /// Its driver blocks for this long.
    Block(usize, i64),
    /// The sending thread stalls for this long.
    StallSender(i64),
    /// The sending thread panics.
    PanicSender,
    /// The screen does not respond for this long, so no hold is renewed.
    StallScreen(i64),
    /// The external clock gives a place that is this far from where the run is.
    Follow(i64),
    /// The external clock starts at a place.
    FollowStart { song: i64 },
    /// The command queue is filled up.
    Flood,
    /// The machine has slept.
    Sleep,
    /// The wall clock is set.
    SetWall,
    /// A person bends the run.
    Bend(Bending),
    /// A band leads: it is this far from where the run is. `sure` tells whether its taps agree, `heard` whether whoever tells it knows of the
    /// latest turn of the song.
    Band { off: i64, sure: bool, heard: bool },
    /// Nobody has said where the band is.
    NoBand,
    /// No band leads any more.
    BandEnds,
    /// A port of the show is assigned to another machine port.
    Assign { port: usize, machine: usize },
}

/// How a person bends the run. Places are song times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bending {
    /// Time is to stand at a bar line ahead.
    Wait(i64),
    /// It goes on.
    GoOn,
    /// A stretch goes round.
    Vamp(i64, i64),
    /// It is left at its end.
    Leave,
    /// A part is left out.
    Cut(i64, i64),
    /// The fabric stays.
    Stays(usize),
    /// It is stuck.
    Stuck(usize),
    /// It is down.
    Down(usize),
    /// It is tried once more, so much later than planned.
    TryAt(usize, i64),
    /// By hand from now on.
    ByHand,
    /// The next group.
    Next,
}

/// A script: actions in the order of their times, and when the run ends.
#[derive(Debug, Clone)]
pub struct Script {
    /// When, and what.
    pub actions: Vec<(i64, Action)>,
    /// When the supervisor first looks for ports, because a system may be slow.
    pub ready: i64,
    /// When the run is ended, in machine time.
    pub end: i64,
}

/// Something that can go wrong around a release.
fn trouble(random: &mut Random, scene: &Scene) -> Action {
    let release = usize::try_from(random.below(scene.releases.len() as u64)).unwrap_or(0);
    let machine = if random.percent(80) {
        scene.machine[scene.releases[release].port]
    } else {
        usize::try_from(random.below(3)).unwrap_or(0)
    };
    match random.below(27) {
        0 => Action::Stop,
        1..=3 => Action::StopAll,
        4 => Action::Locate { song: random.range(0, SONG_US) },
        5 => Action::Perform(random.percent(60)),
        6 | 7 => Action::Lift,
        8 | 9 => Action::LateHold,
        10 => Action::Press { release, who: u16::try_from(random.below(2)).unwrap_or(0) },
        11 => Action::SecondTry { release },
        12 => Action::Unplug(machine),
        13 => Action::Plug(machine),
        14 => Action::FailDriver(machine),
        15 => Action::PanicDriver(machine),
        16 => Action::Block(machine, random.range(20_000, 2_000_000)),
        17 => Action::StallSender(random.range(5_000, 1_500_000)),
        18 => Action::PanicSender,
        19 => Action::StallScreen(random.range(300_000, 1_500_000)),
        20 => Action::Follow(random.range(-400_000, 400_000)),
        21 => Action::Follow(random.range(-8_000_000, 8_000_000)),
        22 => Action::FollowStart { song: random.range(0, SONG_US) },
        23 => Action::Flood,
        24 => Action::Sleep,
        25 => Action::SetWall,
        _ => Action::Assign {
            port: usize::try_from(random.below(scene.machine.len() as u64)).unwrap_or(0),
            machine: usize::try_from(random.below(3)).unwrap_or(0),
        },
    }
}

/// A band leads for some time: mostly it is where the run is, and whoever taps along is mostly sure.
fn band(random: &mut Random, (begin, end): (i64, i64), actions: &mut Vec<(i64, Action)>) {
    let (from, to) = (begin + random.range(1_000, 3_000_000), end - random.range(0, 2_000_000));
    let (mut at, mut sure) = (from, random.percent(85));
    // Half of them keep time with the machine.
    let keeps = random.percent(50);
    while at < to {
        let off = match random.below(100) {
            _ if keeps => 0,
            0..=84 => 0,
            85..=95 => random.range(-140_000, 140_000),
            96..=98 => random.range(-1_500_000, 1_500_000),
            _ => random.range(-6_000_000, 6_000_000),
        };
        let action =
            if random.percent(2) { Action::NoBand } else { Action::Band { off, sure, heard: random.percent(95) } };
        actions.push((at, action));
        at += random.range(60_000, 400_000);
        sure ^= random.percent(if sure { 4 } else { 40 });
    }
    if random.percent(50) {
        actions.push((to, Action::BandEnds));
    }
}

/// Bends a run: a wait, a vamp or a cut before a release, the other courses of a release, or by hand. Returns from which place of the song
/// on everything comes later, and by how much.
fn bend(random: &mut Random, scene: &Scene, (song, begin): (i64, i64), actions: &mut Vec<(i64, Action)>) -> (i64, i64) {
    let machine_time = |place: i64| begin + place - song;
    let release = usize::try_from(random.below(scene.releases.len() as u64)).unwrap_or(0);
    let facts = &scene.releases[release];
    let first = song.div_euclid(BAR_US) + 1;
    let bar = (first + random.range(0, 4)) * BAR_US;
    let bends = |at: i64, bending: Bending| (at, Action::Bend(bending));
    let before = |random: &mut Random, place: i64| {
        // Mostly in good time, and sometimes too late or just then.
        machine_time(place)
            - if random.percent(85) { random.range(300_000, 1_900_000) } else { random.range(-400_000, 300_000) }
    };
    match random.below(9) {
        0..=2 => {
            let waits = random.range(200_000, 4_000_000);
            actions.push(bends(before(random, bar), Bending::Wait(bar)));
            actions.push(bends(machine_time(bar) + waits, Bending::GoOn));
            (bar, waits)
        }
        3 | 4 => {
            let (from, to) = (bar, bar + random.range(1, 3) * BAR_US);
            let rounds = random.range(0, 3);
            actions.push(bends(before(random, from), Bending::Vamp(from, to)));
            let leave = machine_time(to) + rounds * (to - from) - random.range(300_000, to - from - 200_000);
            actions.push(bends(leave, Bending::Leave));
            (to, rounds * (to - from))
        }
        5 => {
            let to = bar + random.range(1, 4) * BAR_US;
            actions.push(bends(before(random, bar), Bending::Cut(bar, to)));
            (to, bar - to)
        }
        6 | 7 => {
            let at = machine_time(facts.send) + random.range(-3_000_000, 2_000_000);
            let course = match random.below(4) {
                0 => Bending::Stays(release),
                1 => Bending::Stuck(release),
                2 => Bending::Down(release),
                _ => Bending::TryAt(release, random.range(2, 6) * BAR_US),
            };
            actions.push(bends(at, course));
            if random.percent(40) {
                actions.push(bends(at + random.range(200_000, 3_000_000), Bending::Down(release)));
            }
            if let Bending::TryAt(_, shift) = course {
                let due = machine_time(facts.decision) + shift;
                actions.push((due - random.range(1_200_000, 2_500_000), Action::Press { release, who: 1 }));
                actions.push((due + random.range(500_000, 4_000_000), Action::Lift));
            }
            (i64::MAX, 0)
        }
        _ => {
            let mut at = machine_time(facts.send) - random.range(1_000_000, 4_000_000);
            actions.push(bends(at, Bending::ByHand));
            for _ in 0..random.range(2, 12) {
                at += random.range(300_000, 1_800_000);
                actions.push((at, Action::Bend(Bending::Next)));
            }
            let press = at - random.range(1_500_000, 6_000_000);
            actions.push((press, Action::Press { release, who: 0 }));
            actions.push((at + random.range(-200_000, 3_000_000), Action::Lift));
            (i64::MAX, 0)
        }
    }
}

impl Script {
    /// A script for a scene.
    pub fn new(random: &mut Random, scene: &Scene) -> Script {
        let mut actions = Vec::new();
        let ready = if random.percent(50) { 0 } else { random.range(0, 400_000) };
        let first = scene.releases.first().map_or(5_000_000, |r| r.send);
        if random.percent(85) {
            actions.push((500, Action::Perform(true)));
        }
        let lead = random.range(1_200_000, 7_000_000);
        // Start either at once, before any port is open, or when everything is ready.
        let begin = if random.percent(25) { 1_000 } else { random.range(500_000, 900_000) };
        let song = (first - lead).max(-1_000_000);
        let chase = random.percent(75);
        actions.push((begin, Action::Start { song, chase }));
        let machine_time = |place: i64| begin + place - song;
        let mut rounds = 1;
        let mut round_us = 0;
        let bends = random.percent(33);
        // What comes after a bend in the song comes later by this.
        let mut bent = (i64::MAX, 0);
        if bends {
            bent = bend(random, scene, (song, begin), &mut actions);
        }
        let machine_time = |place: i64| machine_time(place) + if place >= bent.0 { bent.1 } else { 0 };
        if !bends && random.percent(25) {
            let part = (first - random.range(1_500_000, 3_000_000), first + random.range(200_000, 2_000_000));
            let part = if random.percent(10) { (first, first + random.range(1_000, 900_000)) } else { part };
            actions.push((begin - 500, Action::Loop(Some(part))));
            rounds = 3;
            round_us = part.1 - part.0;
        }
        for round in 0..rounds {
            for (at, release) in scene.releases.iter().enumerate() {
                if random.percent(80) {
                    let due = machine_time(release.send) + round * round_us;
                    let decided = due - (release.send - release.decision);
                    let press = if random.percent(70) {
                        decided - random.range(900_000, 2_500_000)
                    } else {
                        due - random.range(600_000, 2_500_000)
                    };
                    actions.push((press, Action::Press { release: at, who: 0 }));
                    let lift = match random.below(4) {
                        0 => due + random.range(-400_000, 3_000),
                        1 => due + random.range(3_000, 6_000_000),
                        _ => due + random.range(3_000, 400_000),
                    };
                    actions.push((lift, Action::Lift));
                }
            }
        }
        if random.percent(20) {
            let release = usize::try_from(random.below(scene.releases.len() as u64)).unwrap_or(0);
            let asked = machine_time(scene.releases[release].send) + random.range(300_000, 4_000_000);
            actions.push((asked, Action::SecondTry { release }));
            actions.push((asked + random.range(1_000, 800_000), Action::Press { release, who: 0 }));
            actions.push((asked + random.range(1_500_000, 4_000_000), Action::Lift));
        }
        if random.percent(12) {
            // Pulled out while the contact is closed.
            let release = random.pick(&scene.releases);
            let out = machine_time(release.send) + random.range(1_000, release.pulse);
            let machine = scene.machine[release.port];
            actions.push((out, Action::Unplug(machine)));
            actions.push((out + random.range(PULLED_OUT, 2_500_000), Action::Plug(machine)));
        }
        let end = machine_time(first) + random.range(2_000_000, 9_000_000);
        if rounds == 1 && random.percent(25) {
            band(random, (begin, end), &mut actions);
        }
        for _ in 0..random.below(5) {
            let due = machine_time(random.pick(&scene.releases).send);
            let at =
                if random.percent(65) { due + random.range(-1_500_000, 900_000) } else { random.range(10_000, end) };
            let action = trouble(random, scene);
            if let Action::Unplug(machine) = action {
                actions.push((at + random.range(PULLED_OUT, 2_500_000), Action::Plug(machine)));
            }
            if matches!(action, Action::StopAll | Action::Stop) && random.percent(50) {
                let song = (first - random.range(1_500_000, 4_000_000)).max(0);
                // Given just before the stop comes through, or a while after it.
                let again = if random.percent(40) { at - 1 } else { at + random.range(10_000, 600_000) };
                let start =
                    if random.percent(40) { Action::FollowStart { song } } else { Action::Start { song, chase: true } };
                actions.push((again, start));
            }
            let flood = action == Action::Flood;
            actions.push((at, action));
            if flood {
                actions.push((at, Action::Stop));
            }
        }
        actions.retain(|(at, _)| *at >= 0);
        actions.sort_by_key(|(at, _)| *at);
        Script { actions, ready, end }
    }
}

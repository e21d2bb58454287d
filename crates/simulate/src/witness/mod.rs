//! The witness sees the bytes that were handed over to each machine port, with their times, and reads them as a device would.
//! It also knows what people did. It objects to whatever breaks a property. It shares no code with the engine, the gate or the
//! program's own MIDI code.

mod bytes;
mod courses;
mod judge;
mod known;
mod state;
mod way;

use known::{Course, Way};

use crate::device::{Device, Stream};
use crate::happening::Happening;
use crate::scene::{SONG_US, Scene};
use std::collections::BTreeMap;

/// How long a person must hold: one second, as the program promises.
const HOLD: i64 = 1_000_000;
/// The tolerance on a simulated clock, when times of people and of threads are compared.
const SLACK: i64 = 1_000;

#[derive(Debug, Clone, Copy)]
struct Grip {
    release: usize,
    number: u64,
    pressed: i64,
    lifted: i64,
    /// The press is over: what it held was closed or has left.
    over: bool,
    /// Since when it has held without interruption.
    since: i64,
    renewed: i64,
    /// Whether a screen that responds has seen the press.
    heard: bool,
}

#[derive(Debug, Clone)]
struct OpenContact {
    release: usize,
    machine: usize,
    at: i64,
    deadline: i64,
    end: Vec<u8>,
}

#[derive(Debug, Clone, Copy)]
struct Place {
    song: i64,
    at: i64,
}

/// The witness.
#[allow(clippy::struct_excessive_bools)] // each is a fact of its own
pub struct Witness {
    scene: Scene,
    /// The tolerance when times of people and of threads are compared.
    slack: i64,
    /// By how much real threads may be later than simulated ones.
    lateness: i64,
    /// When people or faults last changed what may leave.
    changed: i64,
    streams: Vec<Stream>,
    devices: Vec<Device>,
    /// The machine port that each release's device is connected to.
    hangs_on: Vec<usize>,
    wanted: Vec<usize>,
    /// When a port of the show was last assigned to another machine port.
    assigned: i64,
    map: Vec<usize>,
    place: Option<Place>,
    looped: Option<(i64, i64)>,
    performs: bool,
    grips: Vec<Grip>,
    fired: Vec<u32>,
    second: Vec<Option<i64>>,
    /// Whether it is uncertain that a second try was granted. From outside one cannot tell if the first try was held back.
    unsure: Vec<bool>,
    open: Vec<OpenContact>,
    last_on_wire: [i64; 3],
    there: [bool; 3],
    /// Which drivers were made to fail. The program still ends what they refused, because it may have been begun.
    faults: [bool; 3],
    /// From when each port is expected to work: once it was looked for, or is no longer blocked.
    works_from: [i64; 3],
    /// From when each port is expected back after it was unplugged.
    back_from: [i64; 3],
    stalled_until: i64,
    /// When sending last began to stand still.
    stalled_from: i64,
    stopped_all: Option<i64>,
    stopped: Option<i64>,
    broke: Option<i64>,
    told: bool,
    refused: bool,
    /// When anything last happened that excuses lateness.
    disturbed: i64,
    /// When the machine last slept, or commands last waited.
    slept: i64,
    /// Since when the state of receivers is known: since a start with a chase, without a disturbance after it.
    followed: Option<i64>,
    ended: bool,
    last_program: BTreeMap<(usize, u8), (i64, u8)>,
    keep_story: bool,
    /// What it objects to.
    pub objections: Vec<(u8, String)>,
    /// What happened, in order.
    pub story: Vec<(i64, Happening)>,
    /// Releases that left.
    pub left: u32,
    /// When each release last left.
    fired_at: Vec<i64>,
    /// Somebody went on by hand, so that no clock from outside takes over until a person starts by the clock.
    hand_leads: bool,
    /// The song's way, where it leaves the straight line.
    way: Way,
    /// What is known of each release: what people said, and what was seen.
    courses: Vec<Course>,
    /// Notes that are on, except those of releases: machine port, channel, key, and by when each must have ended.
    sounding: Vec<(usize, u8, u8, i64)>,
}

impl Witness {
    /// A witness for a scene.
    pub fn new(scene: &Scene, keep_story: bool) -> Witness {
        let count = scene.releases.len();
        Witness {
            slack: SLACK,
            lateness: 0,
            changed: i64::MIN / 2,
            streams: vec![Stream::default(); 3],
            devices: vec![Device::default(); count],
            hangs_on: scene.releases.iter().map(|r| scene.machine[r.port]).collect(),
            wanted: scene.machine.clone(),
            assigned: -1_000_000,
            map: scene.machine.clone(),
            place: None,
            looped: None,
            performs: false,
            grips: Vec::new(),
            fired: vec![0; count],
            second: vec![None; count],
            unsure: vec![false; count],
            open: Vec::new(),
            last_on_wire: [i64::MIN; 3],
            there: [true; 3],
            faults: [false; 3],
            works_from: [0; 3],
            back_from: [0; 3],
            stalled_until: 0,
            stalled_from: 0,
            stopped_all: None,
            stopped: None,
            broke: None,
            told: false,
            refused: false,
            disturbed: -1,
            slept: i64::MIN / 2,
            followed: None,
            ended: false,
            last_program: BTreeMap::new(),
            keep_story,
            objections: Vec::new(),
            story: Vec::new(),
            left: 0,
            fired_at: vec![i64::MIN; count],
            hand_leads: false,
            way: Way::default(),
            courses: vec![Course::default(); count],
            sounding: Vec::new(),
            scene: scene.clone(),
        }
    }

    /// On real threads: everything may be this much later than on the simulated clock.
    #[cfg(all(feature = "jack", unix))]
    pub fn on_real_threads(&mut self, lateness: i64) {
        (self.slack, self.lateness) = (SLACK + lateness, lateness);
    }

    /// Sets when ports are first looked for.
    pub fn opened_from(&mut self, ready: i64) {
        self.works_from = [ready + self.slack; 3];
        self.disturbed = ready;
    }

    /// Machine ports in the order in which they were first chosen.
    pub fn wanted_in_order(&self) -> &[usize] {
        &self.wanted
    }

    /// Records an objection.
    pub fn object(&mut self, property: u8, at: i64, words: &str) {
        self.note(at, Happening::Objection(format!("P{property}: {words}")));
        self.objections.push((property, format!("at {}: {words}", time(at))));
    }

    fn note(&mut self, at: i64, happening: Happening) {
        if self.keep_story {
            self.story.push((at, happening));
        }
    }

    /// Where the song should be, by what people and external clocks commanded.
    pub fn place(&self, now: i64) -> Option<i64> {
        let place = self.place?;
        let mut song = place.song + now - place.at;
        if let Some((from, to)) = self.looped.filter(|(from, to)| to > from && song >= *to) {
            song = from + (song - to).rem_euclid(to - from);
        }
        Some(song)
    }

    /// A hold was renewed.
    pub fn renewed(&mut self, now: i64, grip: u64) {
        if let Some(of) = self.grips.iter_mut().find(|of| of.number == grip) {
            of.renewed = now;
            of.heard = true;
        }
    }

    /// A stop was ordered. It is obeyed as soon as the sending thread is not stalled.
    pub fn ordered_stop(&mut self, now: i64) {
        self.stopped = Some(now.max(self.stalled_until));
    }

    /// A command was refused because the sending thread has ended.
    pub fn refused(&mut self) {
        self.refused = true;
    }

    /// The screen was told that sending has ended.
    pub fn told_the_end(&mut self, now: i64) {
        self.note(now, Happening::ToldTheEnd);
        self.told = true;
        if let Some(broke) = self.broke
            && now - broke > 500_000
        {
            self.object(9, now, "the screen was told late that sending has ended");
        }
    }

    fn disturb(&mut self, now: i64) {
        self.disturbed = self.disturbed.max(now);
        self.followed = None;
    }

    /// All notes that are on must end now.
    fn end_notes(&mut self, now: i64) {
        let by = now.max(self.stalled_until) + 40_000 + self.lateness;
        for note in &mut self.sounding {
            note.3 = note.3.min(by);
        }
    }

    /// Every held lock closes, and the presses that held them are over.
    fn close(&mut self, now: i64) {
        for at in 0..self.grips.len() {
            let Grip { release, since, pressed, lifted, over, .. } = self.grips[at];
            // What sending hears at the end of a stall may have been ordered before the press.
            let in_a_stall = pressed > self.stalled_from && now <= self.stalled_until + 2 * self.slack;
            // Its first hold command may still be on its way.
            if !over
                && !in_a_stall
                && self.grips[at].heard
                && lifted == i64::MAX
                && since < now - 2 * self.slack
                && self.can_hold(release, now)
                && now - since > 150_000
            {
                self.grips[at].over = true;
            }
            self.grips[at].since = self.grips[at].since.max(now);
        }
    }

    fn can_hold(&self, release: usize, now: i64) -> bool {
        let (from, to) = self.window(release);
        let machine = self.hangs_on[release];
        let works = self.there[machine] && self.works_from(machine) <= now;
        let within = self.place(now).is_some_and(|song| (from..=to).contains(&song));
        works && self.performs && (within || self.way.by_hand)
    }

    /// From when a port is expected to work.
    fn works_from(&self, machine: usize) -> i64 {
        self.works_from[machine].max(self.back_from[machine])
    }

    fn window(&self, release: usize) -> (i64, i64) {
        let (from, to) = self.scene.releases[release].window;
        if let Some(shift) = self.courses[release].shift {
            return (from + shift, to + shift);
        }
        self.second[release].map_or((from, to), |second| (second, second + to - from))
    }

    /// Something happened.
    pub fn happened(&mut self, now: i64, happening: &Happening) {
        self.walk(now);
        self.note(now, happening.clone());
        self.changed = now;
        let jumps = match *happening {
            Happening::Follow { song, at } => self.place(at).is_some_and(|own| (song - own).abs() >= 2_000_000),
            Happening::Start { .. }
            | Happening::Stop
            | Happening::StopAll
            | Happening::Locate
            | Happening::Perform(_)
            | Happening::NewRun => true,
            Happening::FollowStart { .. } => self.stopped_all.is_none() && !self.hand_leads,
            _ => false,
        };
        if jumps {
            self.end_notes(now);
        }
        match *happening {
            Happening::Bend(bending) => self.bent(now, bending),
            Happening::Start { song, at, chase } => {
                self.close(now);
                self.hand_leads = false;
                self.way = Way::straight();
                self.place = Some(Place { song, at });
                (self.stopped_all, self.stopped) = (None, None);
                self.disturbed = self.disturbed.max(now);
                self.followed = chase.then_some(now);
                self.fresh(now);
            }
            Happening::FollowStart { song, at } => {
                if self.stopped_all.is_none() && !self.hand_leads {
                    self.close(now);
                    self.way = Way::led();
                    self.place = Some(Place { song, at });
                    self.stopped = None;
                    self.disturbed = self.disturbed.max(now);
                    self.followed = Some(now);
                    self.fresh(now);
                }
            }
            Happening::Follow { song, at } => {
                let off = self.place(at).map_or(0, |own| song - own);
                // A run is over at the end of its song, and a clock that goes back does not start it again.
                let is_over = self.looped.is_none() && self.place(at).is_some_and(|own| own > SONG_US);
                if self.place.is_some() {
                    self.moved(song - off, song);
                    if off.abs() >= 150_000 {
                        self.close(now);
                    }
                    if off.abs() >= 2_000_000 {
                        // A jump begins a new way.
                        // If it may be waiting, it may not have heard of it.
                        let lost = self.way.lost;
                        self.way = if self.way.led { Way::led() } else { Way::straight() };
                        (self.way.lost, self.way.jumped) = (lost, true);
                    }
                    self.place = Some(Place { song, at });
                    self.way.moves.push((now, off));
                    let followed = self.followed;
                    self.disturb(now);
                    // A jump makes the engine chase. A hiccup does not.
                    self.followed = followed.filter(|_| off.abs() >= 2_000_000 && !is_over).map(|_| now);
                }
            }
            Happening::Band { song, at, sure } => self.band(now, (song, at), sure),
            Happening::BandEnds => {
                if self.way.unsure.take().is_some() {
                    self.close(now);
                }
            }
            Happening::Stop | Happening::Locate => {
                self.close(now);
                self.way = Way::default();
                self.place = None;
                self.disturb(now);
            }
            Happening::StopAll => {
                self.close(now);
                self.way = Way::default();
                self.place = None;
                self.stopped_all = Some(now);
                self.disturb(now);
                for contact in &mut self.open {
                    contact.deadline = contact.deadline.min(now + 5_000 + self.lateness);
                }
            }
            Happening::Loop(part) => self.looped = part.filter(|(from, to)| to - from >= 1_000_000),
            Happening::Perform(performs) => {
                self.close(now);
                self.way = Way::default();
                self.place = None;
                self.performs = performs;
                self.disturb(now);
            }
            Happening::NewRun => {
                self.close(now);
                self.courses.fill(Course::default());
                self.place = None;
                self.fired.fill(0);
                self.second.fill(None);
                self.unsure.fill(false);
                self.disturb(now);
            }
            Happening::SecondTry { release } => {
                // A first try that the driver refused still counts as a try, and one that was due and held may have been refused too.
                let tried = self.fired[release] == 1 || self.faults.contains(&true);
                // Whether an earlier one was granted cannot always be told from outside; then this one may be the first.
                let open = self.second[release].is_none() || self.unsure[release];
                if tried && open && self.performs {
                    self.second[release] = self.place(now);
                    self.unsure[release] = self.fired[release] == 0;
                }
            }
            Happening::Press { release, grip } => {
                self.grips.push(Grip {
                    release,
                    number: grip,
                    pressed: now,
                    lifted: i64::MAX,
                    over: false,
                    since: now,
                    renewed: now,
                    heard: false,
                });
            }
            Happening::Lift => {
                if let Some(grip) = self.grips.last_mut() {
                    grip.lifted = grip.lifted.min(now);
                }
            }
            Happening::Port { machine, there } => {
                self.there[machine] = there;
                self.faults[machine] |= !there;
                // Ports are looked for every 0.4 s. A planned fault of its driver stays in force.
                self.back_from[machine] = if there { now + 700_000 } else { i64::MAX / 2 };
                self.disturb(now);
            }
            Happening::Fault { machine } => {
                self.works_from[machine] = self.works_from[machine].max(SONG_US * 10);
                self.faults[machine] = true;
                self.disturb(now);
            }
            Happening::Blocked { machine, until } => {
                self.works_from[machine] = self.works_from[machine].max(until + self.slack);
                self.faults[machine] = true;
                self.disturb(until);
            }
            Happening::Stalled { until } => {
                // A stall within a stall begins with the first.
                if now > self.stalled_until {
                    self.stalled_from = now;
                }
                self.stalled_until = self.stalled_until.max(until);
                self.disturb(until);
            }
            Happening::ScreenStalled { until } => self.disturb(until),
            Happening::Broke => {
                self.broke = Some(now);
                self.close(now);
                self.way = Way::default();
                self.place = None;
                self.stopped_all = Some(now);
                self.disturb(now);
            }
            Happening::Slept | Happening::Disturbed(_) => {
                self.slept = now;
                self.disturb(now);
            }
            Happening::Assigned { port, machine } => {
                self.map[port] = machine;
                self.assigned = now;
                self.wanted.push(machine);
                self.disturb(now + 100_000);
                self.works_from[machine] = self.works_from[machine].max(now + 700_000);
                // The release moves with its port: assume that somebody has moved the cable.
                for (at, release) in self.scene.releases.iter().enumerate() {
                    self.hangs_on[at] = self.map[release.port];
                }
            }
            Happening::Ended => {
                self.ended = true;
                self.stopped_all = Some(now);
                for contact in &mut self.open {
                    contact.deadline = contact.deadline.min(now + 5_000 + self.lateness);
                }
            }
            Happening::WallSet
            | Happening::Sent { .. }
            | Happening::Fired { .. }
            | Happening::ToldTheEnd
            | Happening::Objection(_) => {}
        }
    }

    /// After a start, all holds count from the beginning.
    fn fresh(&mut self, now: i64) {
        for grip in &mut self.grips {
            grip.since = grip.since.max(now);
        }
    }
}

/// Formats a time for people.
pub fn time(micros: i64) -> String {
    let sign = if micros < 0 { "-" } else { "" };
    let micros = micros.unsigned_abs();
    format!("{sign}{}.{:06} s", micros / 1_000_000, micros % 1_000_000)
}

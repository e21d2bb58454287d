//! A random show that is hostile on purpose: its messages are chosen to collide with its releases. It is written as the text
//! of a show file, together with the facts that the witness needs. Nothing here uses the program's own MIDI code.

pub use crate::messages::Trigger;
use crate::messages::{Message, channel_of, collision, control, cue, exclusive, message_of, note, program, trigger};
use crate::random::Random;
use std::fmt::Write as _;

/// Microseconds for a byte on the five-pin cable (MIDI 1.0: 31.25 kbaud, ten bits a byte).
pub const BYTE_US: i64 = 320;
/// The length of a bar.
pub const BAR_US: i64 = 2_000_000;
/// The length of the song: 16 bars of 2 s.
pub const SONG_US: i64 = 32_000_000;

/// What opens a contact again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum End {
    /// These bytes.
    Bytes(Vec<u8>),
    /// The box itself.
    Timer,
    /// The show does not say.
    Unstated,
}

/// What the witness knows of a release.
#[derive(Debug, Clone)]
pub struct ReleaseFacts {
    /// Its label.
    pub label: String,
    /// The show's port that it leaves by.
    pub port: usize,
    /// What fires its device.
    pub trigger: Trigger,
    /// All bytes of its message.
    pub row: Vec<u8>,
    /// Whether power holds the fabric, or the show does not say. Then anything that switches off counts as letting go.
    pub held_by_power: bool,
    /// Whether somebody tested that the box responds to its own channel only.
    pub channel_tried: bool,
    /// When its message leaves, song time.
    pub send: i64,
    /// Its window, song time.
    pub window: (i64, i64),
    /// How long its contact stays closed.
    pub pulse: i64,
    /// What opens it.
    pub end: End,
    /// By when it must be armed, song time.
    pub decision: i64,
    /// What is sent at once if the fabric stays, and if it is stuck: a port of the show and a program change that nothing else sends.
    pub instead: [Option<(usize, Vec<u8>)>; 2],
}

/// A cue that collides with nothing, so that the witness can follow its state.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HarmlessCue {
    /// The show's port.
    pub port: usize,
    /// Its bytes: a program change on a channel that nothing else uses.
    pub bytes: Vec<u8>,
    /// When it leaves, song time; for a hand, when the hand has pressed.
    pub send: i64,
    /// Whether an operator presses for it at the desk, so that the program never sends it.
    pub by_hand: bool,
    /// When it lands, song time.
    pub land: i64,
    /// The release without which it makes no sense, by its number.
    pub depends: Option<usize>,
    /// Its label.
    pub label: String,
}

/// A show and the facts about it.
#[derive(Debug, Clone)]
pub struct Scene {
    /// The show file.
    pub text: String,
    /// Its releases, in the order of its plan.
    pub releases: Vec<ReleaseFacts>,
    /// Cues that collide with nothing.
    pub harmless: Vec<HarmlessCue>,
    /// When every other message that is sent leaves and lands, song time.
    pub others: Vec<(i64, i64)>,
    /// For each port of the show: whether somebody tested that nothing on it responds to timecode and clock.
    pub sync_tried: Vec<bool>,
    /// For each port of the show: its machine port.
    pub machine: Vec<usize>,
    /// Whether the safety sheet is filled in.
    pub safe: bool,
    /// Whether timecode and clock are sent.
    pub sync: (bool, bool),
}

/// Names of the machine's ports. Two have the same beginning.
pub const MACHINE: [&str; 3] = ["Box 1", "Box 10", "Desk"];

impl Scene {
    /// A random show.
    pub fn new(random: &mut Random) -> Scene {
        let ports = usize::try_from(random.range(1, 4)).unwrap_or(1);
        let sync_tried: Vec<bool> = (0..ports).map(|_| random.percent(20)).collect();
        let machine: Vec<usize> = (0..ports)
            .map(|at| if random.percent(25) { usize::try_from(random.below(3)).unwrap_or(0) } else { at })
            .collect();
        let mut parts = Parts::default();
        let mut releases = Vec::new();
        let mut last = random.range(6_000_000, 12_000_000);
        for at in 0..random.range(1, 3) {
            releases.push(parts.release(random, usize::try_from(at).unwrap_or(0), ports, last, &machine));
            last += random.range(400_000, 9_000_000);
        }
        let mut harmless = Vec::new();
        for port in 0..ports {
            parts.harmless(random, port, &releases, &mut harmless);
        }
        parts.depend(random, &mut releases, &mut harmless, ports);
        parts.hostile(random, ports, &releases);
        let safe = random.percent(92);
        let text = parts.text(&sync_tried, safe);
        // The plan numbers releases in the order in which they are due.
        let mut order: Vec<usize> = (0..releases.len()).collect();
        order.sort_by_key(|at| releases[*at].send);
        for cue in &mut harmless {
            cue.depends = cue.depends.and_then(|of| order.iter().position(|at| *at == of));
        }
        releases.sort_by_key(|r| r.send);
        let sync = (random.percent(25), random.percent(15));
        Scene { text, releases, harmless, others: parts.others, sync_tried, machine, safe, sync }
    }
}

#[derive(Default)]
struct Parts {
    receivers: Vec<String>,
    presets: Vec<String>,
    releases: Vec<String>,
    cues: Vec<String>,
    others: Vec<(i64, i64)>,
    lights: u32,
}

impl Parts {
    fn receiver(&mut self, key: &str, port: usize, channel: u8, more: &str) {
        let channel = channel + 1;
        self.receivers.push(format!(r#"{{"key":"{key}","name":"{key}","port":"p{port}","channel":{channel}{more}}}"#));
    }

    fn light(&mut self, receiver: &str, message: &Message, at_us: i64) {
        self.light_by(receiver, message, at_us, false);
    }

    /// Some harmless cues depend on a release, and some releases send something else if they take another course.
    fn depend(
        &mut self,
        random: &mut Random,
        releases: &mut [ReleaseFacts],
        harmless: &mut [HarmlessCue],
        ports: usize,
    ) {
        for (at, facts) in releases.iter_mut().enumerate() {
            let mut first = facts.send;
            let mut depends = Vec::new();
            let near = |cue: &HarmlessCue| cue.send > facts.send - 2_500_000 && cue.send < facts.send + 12_000_000;
            for cue in harmless.iter_mut().filter(|cue| !cue.by_hand && cue.depends.is_none() && near(cue)) {
                if random.percent(25) {
                    cue.depends = Some(at);
                    depends.push(format!("\"{}\"", cue.label));
                    first = first.min(cue.send);
                }
            }
            facts.decision = first - 1_000_000;
            let mut more = format!(r#","depends":[{}]"#, depends.join(","));
            for (course, key) in ["stays", "stuck"].into_iter().enumerate() {
                if random.percent(25) {
                    let port = usize::try_from(random.below(ports as u64)).unwrap_or(0);
                    let number = u8::try_from(80 + 10 * course + at).unwrap_or(80);
                    let channel = 8 + u8::try_from(port).unwrap_or(0);
                    let message = program(channel, number, None);
                    let preset = format!("{key}{at}");
                    self.presets.push(format!(
                        r#"{{"key":"{preset}","name":"{preset}","receiver":"calm{port}","message":{}}}"#,
                        message.json
                    ));
                    let of = if course == 0 { "stays" } else { "hang_up" };
                    let _fits = write!(more, r#","{of}":{{"lights":["{preset}"]}}"#);
                    facts.instead[course] = Some((port, message.row));
                }
            }
            let own = self.releases[at].pop();
            debug_assert_eq!(own, Some('}'));
            self.releases[at].push_str(&more);
            self.releases[at].push('}');
        }
    }

    fn light_by(&mut self, receiver: &str, message: &Message, at_us: i64, by_hand: bool) {
        let call = if by_hand { r#","call":{"goes":"operator"}"# } else { "" };
        let number = self.lights;
        self.lights += 1;
        if !by_hand {
            self.others.push((at_us - i64::try_from(message.row.len()).unwrap_or(0) * BYTE_US, at_us));
        }
        self.presets.push(format!(
            r#"{{"key":"l{number}","name":"L{number}","receiver":"{receiver}","message":{}}}"#,
            message.json
        ));
        let label = number + 1;
        self.cues.push(format!(
            r#"{{"label":"L{label}","track":"l","at":"{}","does":{{"lighting":{{"preset":"l{number}","share":"start"}}}}{call}}}"#,
            seconds(at_us)
        ));
    }

    fn release(&mut self, random: &mut Random, at: usize, ports: usize, land: i64, _machine: &[usize]) -> ReleaseFacts {
        let trigger = trigger(random);
        let message = message_of(&trigger);
        let kind = *random.pick(&["energise", "energise", "deenergise", "unknown"]);
        let channel_tried = random.percent(60);
        let port = usize::try_from(random.below(ports as u64)).unwrap_or(0);
        let (before, after) = (random.range(1_500_000, 5_000_000), random.range(100_000, 2_000_000));
        let pulse = random.range(100_000, 900_000);
        let (end, ends) = match (&message.off, random.below(4)) {
            (Some(off), 0 | 1) => (End::Bytes(off.clone()), String::new()),
            (_, 2) => (End::Timer, r#","ends":{"own-timer":{}}"#.to_owned()),
            (None, 0) => (End::Unstated, String::new()),
            _ => {
                let end = match &trigger {
                    Trigger::Control { channel, controller } => control(*channel, *controller, 0),
                    Trigger::Note { channel, key } => note(*channel, key ^ 64, 1, 0),
                    Trigger::Program { channel, program: number, .. } => program(*channel, number ^ 64, None),
                    Trigger::Cue { device, format, cue: name } => {
                        cue(*device, *format, 1, format!("{name}9").as_bytes())
                    }
                    Trigger::Exclusive { bytes } => {
                        let mut end = bytes.clone();
                        end[4] = 0;
                        exclusive(&end)
                    }
                };
                let ends = format!(r#","ends":{{"message":{}}}"#, end.json);
                (End::Bytes(end.row), ends)
            }
        };
        let stand_in = match random.below(4) {
            0 => format!(r#","stand_in":{}"#, note(0, 1, 1, 100_000).json),
            1 => format!(r#","stand_in":{}"#, collision(random, &trigger).1.json),
            _ => String::new(),
        };
        let tried = if channel_tried { r#","channel_confirmed_by":"the electrician""# } else { "" };
        let device = if let Trigger::Cue { device, format, .. } = &trigger {
            format!(r#","device":{device},"format":{format}"#)
        } else {
            String::new()
        };
        let key = format!("box{at}");
        self.receiver(&key, port, channel_of(&trigger), &format!("{tried}{device}"));
        self.releases.push(format!(
            r#"{{"key":"r{at}","name":"Release {at}","hang":"h{at}","units":4,"kind":"{kind}","receiver":"{key}","message":{},"pulse_us":{pulse},"arm_before_us":{before},"arm_after_us":{after}{ends}{stand_in}}}"#,
            message.json
        ));
        let label = format!("R{}", at + 1);
        self.cues.push(format!(
            r#"{{"label":"{label}","track":"r","at":"{}","does":{{"release":{{"release":"r{at}","lands":"let-go"}}}}}}"#,
            seconds(land)
        ));
        let wire = i64::try_from(message.row.len()).unwrap_or(0) * BYTE_US;
        let send = land - wire;
        self.others.push((send, land));
        ReleaseFacts {
            label,
            port,
            trigger,
            row: message.row,
            held_by_power: kind != "energise",
            channel_tried,
            send,
            window: (send - before, land + after),
            pulse,
            end,
            decision: send - 1_000_000,
            instead: [None, None],
        }
    }

    /// A receiver with a channel and programs that nothing else uses.
    fn harmless(&mut self, random: &mut Random, port: usize, releases: &[ReleaseFacts], cues: &mut Vec<HarmlessCue>) {
        let key = format!("calm{port}");
        let channel = 8 + u8::try_from(port).unwrap_or(0);
        self.receiver(&key, port, channel, "");
        for number in 0..random.range(3, 8) {
            let program_number = 100 + u8::try_from(number).unwrap_or(0);
            let message = program(channel, program_number, None);
            let near = random.percent(40);
            let at = if !near && random.percent(25) {
                // Exactly on a bar line: its message leaves before it.
                random.range(1, 15) * BAR_US
            } else if near {
                random.pick(releases).send + random.range(-3_000, 3_000)
            } else {
                random.range(500_000, SONG_US - 2_000_000)
            };
            let by_hand = !near && random.percent(25);
            // What a hand sets has no wire: it is there when the hand has pressed.
            let wire = if by_hand { 0 } else { i64::try_from(message.row.len()).unwrap_or(0) * BYTE_US };
            self.light_by(&key, &message, at, by_hand);
            let label = format!("L{}", self.lights);
            cues.push(HarmlessCue {
                port,
                bytes: message.row,
                send: at - wire,
                by_hand,
                land: at,
                depends: None,
                label,
            });
        }
    }

    fn hostile(&mut self, random: &mut Random, ports: usize, releases: &[ReleaseFacts]) {
        for at in 0..random.range(2, 9) {
            let with = random.pick(releases).clone();
            let (channel, message) = collision(random, &with.trigger);
            let port =
                if random.percent(75) { with.port } else { usize::try_from(random.below(ports as u64)).unwrap_or(0) };
            let key = format!("foe{at}");
            self.receiver(&key, port, channel, "");
            let place = match random.below(3) {
                0 => with.send + random.range(-2_000_000, 1_000_000),
                _ => random.range(100_000, SONG_US - 1_000_000),
            };
            self.light(&key, &message, place);
        }
        if random.percent(60) {
            // A burst, or one long message, just before a release.
            let with = random.pick(releases).clone();
            let key = "burst";
            self.receiver(key, with.port, 7, "");
            if random.percent(65) {
                let long =
                    [&[0xf0, 0x7d][..], &vec![0; usize::try_from(random.range(4, 60)).unwrap_or(4)], &[0xf7]].concat();
                // It leaves early by the time that it takes on the wire, so it would be on the wire when the release is due.
                let wire = i64::try_from(long.len()).unwrap_or(0) * BYTE_US;
                self.light(key, &exclusive(&long), with.send + random.range(-3_000, wire));
            } else {
                for n in 0..random.range(5, 40) {
                    let message = control(7, 64, u8::try_from(n).unwrap_or(0));
                    self.light(key, &message, with.send - random.range(-1_000, 12_000));
                }
            }
        }
    }

    fn text(&self, sync_tried: &[bool], safe: bool) -> String {
        let ports: Vec<String> = sync_tried
            .iter()
            .enumerate()
            .map(|(at, tried)| {
                let tried = if *tried { r#","sync_confirmed_by":"the electrician""# } else { "" };
                format!(r#"{{"key":"p{at}","name":"Port {at}"{tried}}}"#)
            })
            .collect();
        let hangs: Vec<String> = (0..self.releases.len())
            .map(|at| format!(r#"{{"key":"h{at}","name":"Hang {at}","width_m":4,"drop_m":3,"top_m":4,"areal_mass_kg_m2":0.15,"sightline_m":1.5}}"#))
            .collect();
        let safety = if safe {
            r#"{"competent":"A","drop_zone":"B","clear_signal":"C","caller":"D","arm_holder":"E","spotter":"F","key_switch":"G","abort_words":"H"}"#
        } else {
            "{}"
        };
        format!(
            r#"{{"letfall":1,"show":{{"title":"Simulated","settings":{{"seat_m":0}},"ports":[{}],"receivers":[{}],"presets":[{}],"hangs":[{}],"releases":[{}],"tracks":[{{"key":"l","name":"L","kind":"lighting"}},{{"key":"r","name":"R","kind":"release","called":true}}],"safety":{safety},"services":[{{"name":"A","starts":"20:00","timecode":{{"rate":"25","at":"10:00:00:00"}},"song":{{"title":"S","bars":16,"grid":{{"metres":[{{"bar":1,"metre":"4/4"}}],"tempos":[{{"at":"1|1","tempo":"120"}}]}}}},"cues":[{}]}}]}}}}"#,
            ports.join(","),
            self.receivers.join(","),
            self.presets.join(","),
            hangs.join(","),
            self.releases.join(","),
            self.cues.join(",")
        )
    }
}

fn seconds(micros: i64) -> String {
    format!("{}.{:06}s", micros / 1_000_000, micros % 1_000_000)
}

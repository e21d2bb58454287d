//! From a few answers about the room to a show in which cues can be laid: ports, receivers, presets, pictures, outputs with their routes,
//! a hang with its release, tracks. What nobody has answered stays open: delays are unsaid, the safety sheet is empty.

use crate::limits::{self, Limit};
use crate::show::{
    Carries, Channel, Combine, CueNumber, CuePath, Data7, Goes, Hang, Kind, Latency, Link, MediaItem, Message, Output,
    Port, Preset, Receiver, Release, ReleaseKind, Route, SafetySheet, Service, Settings, Show, ShowCommand, Song,
    Surface, Track, Units,
};
use crate::time::{GridPlan, Metre, SongSpan, SongTime, Tempo};
use std::collections::{BTreeMap, BTreeSet};
use std::str::FromStr;

/// The answers.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// The show's title.
    pub title: String,
    /// The song of its first service.
    pub song: Song,
    /// Units in which people read lengths and weights.
    pub units: Units,
    /// The fabric that is to fall, if there is one.
    pub fabric: Option<FabricOutline>,
    /// Lighting presets: one name a line, each perhaps after the number that the desk shows for it.
    pub presets: String,
    /// How the lighting desk takes its cues.
    pub desk: DeskTakes,
    /// Pictures and films: one name a line.
    pub pictures: String,
    /// Names of the screens that stay, one a line.
    pub screens: String,
}

/// What is known of the fabric.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FabricOutline {
    /// Its width, metres.
    pub width_m: f64,
    /// From its top to its bottom edge, metres.
    pub drop_m: f64,
    /// What opens the units that hold it; unknown if nobody has said.
    pub kind: ReleaseKind,
}

/// How a lighting desk takes its cues.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DeskTakes {
    /// Program changes on a channel: program 0 is the desk's number 1.
    #[default]
    Programs,
    /// The GO of MIDI Show Control, with the cue number of the desk.
    ShowControl,
}

impl Default for Outline {
    /// Nothing but a screen, and a song of 4/4 at 120.
    fn default() -> Outline {
        let (Ok(tempo), Ok(metre)) = ("120".parse(), "4/4".parse()) else { unreachable!("120 and 4/4 are valid") };
        Outline {
            title: String::new(),
            song: steady_song("", tempo, metre, SongLength::Bars(64)),
            units: Units::Metric,
            fabric: None,
            presets: String::new(),
            desk: DeskTakes::Programs,
            pictures: String::new(),
            screens: "Main screen".to_owned(),
        }
    }
}

/// How far units may stand apart, metres, before the check speaks up; one unit more than it takes is planned.
const APART_M: f64 = 1.2;
/// The layer on which pictures play.
const LAYER: &str = "pictures";

/// A key that is written here and therefore valid.
fn key<K: FromStr>(text: &str) -> K {
    match text.parse() {
        Ok(key) => key,
        Err(_) => unreachable!("keys of an outline are small letters, digits and hyphens: {text}"),
    }
}

fn data(value: u8) -> Data7 {
    Data7::new(value & 0x7f).unwrap_or_else(|| unreachable!("seven bits"))
}

/// A program change, or for numbers beyond 127 the last one.
fn program(at: usize) -> Message {
    Message::Program { number: data(u8::try_from(at.min(127)).unwrap_or(127)), bank: None }
}

/// The program that a desk's number stands for: desks count programs from 1.
fn program_of(number: &str) -> Option<usize> {
    let number: usize = number.parse().ok()?;
    (1..=128).contains(&number).then(|| number - 1)
}

/// Names of a list, one a line, without empty lines.
pub fn names(list: &str) -> impl Iterator<Item = &str> {
    list.lines().map(str::trim).filter(|line| !line.is_empty())
}

/// The number at the beginning of a line and what stands after it; without a number the line as it is.
fn numbered(line: &str) -> (Option<&str>, &str) {
    let Some((number, name)) = line.split_once(char::is_whitespace) else { return (None, line) };
    let number = number.trim_end_matches(['.', ')', ':']);
    let is_number =
        number.starts_with(|c: char| c.is_ascii_digit()) && number.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    if is_number { (Some(number), name.trim()) } else { (None, line) }
}

impl Outline {
    /// The show. The release contact has a port of its own, because nothing else may be taken for its message there.
    pub fn show(&self) -> Show {
        let mut show = Show::empty(if self.title.trim().is_empty() { "New show" } else { self.title.trim() });
        show.settings = Settings { units: self.units, ..Settings::default() };
        show.ports.push(port("main", "MIDI out 1"));
        self.lights(&mut show);
        self.pictures(&mut show);
        self.surfaces(&mut show);
        if let Some(fabric) = &self.fabric {
            release(&mut show, within(&limits::HANG_WIDTH, fabric.width_m), fabric.kind);
        }
        for (name, words, kind, called) in [
            ("media", "Media", Kind::Media, false),
            ("lighting", "Lighting", Kind::Lighting, true),
            ("release", "Release", Kind::Release, true),
            ("outputs", "Outputs", Kind::Output, false),
        ] {
            show.tracks.push(Track { key: key(name), name: words.to_owned(), kind, goes: Goes::default(), called });
        }
        show.services.push(Service::new("First service", self.song.clone()));
        show
    }

    fn lights(&self, show: &mut Show) {
        let mut lights = receiver("lights", "Lighting", "main", 1, "lighting operator");
        if self.desk == DeskTakes::ShowControl {
            // MIDI Show Control 1.1.1: device 1, format 1 (lighting).
            (lights.channel, lights.device, lights.format) = (None, Some(data(1)), Some(data(1)));
        }
        show.receivers.push(lights);
        for (at, (number, name)) in self.numbered_presets().into_iter().enumerate() {
            let message = match (self.desk, number.parse::<CueNumber>()) {
                (DeskTakes::ShowControl, Ok(cue)) => {
                    Message::ShowControl(ShowCommand::Go(CuePath { cue: Some(cue), ..CuePath::default() }))
                }
                // What has no message is told by [`Outline::trouble`]; a preset needs one all the same.
                _ => program(program_of(&number).unwrap_or(at)),
            };
            let dark = ["blackout", "dark", "black", "off"].contains(&name.to_lowercase().as_str());
            show.presets.push(Preset {
                key: key(&format!("preset-{}", at + 1)),
                name: name.to_owned(),
                receiver: key("lights"),
                desk: number,
                message,
                fade: SongSpan::from_millis(1000),
                colour: "ffffff".to_owned(),
                level: if dark { 0 } else { 100 },
                behind: None,
                front_lux: 0.0,
                back_lux: 0.0,
            });
        }
    }

    /// The presets with their numbers at the desk. One without a number has the next after the preset before it that no other has.
    fn numbered_presets(&self) -> Vec<(String, &str)> {
        let lines: Vec<(Option<&str>, &str)> = names(&self.presets).map(numbered).collect();
        let mut taken: BTreeSet<u64> =
            lines.iter().filter_map(|(number, _)| number.and_then(|number| number.parse().ok())).collect();
        let mut last = 0;
        let mut all = Vec::with_capacity(lines.len());
        for (number, name) in lines {
            let number = number.map_or_else(
                || {
                    // Among one more than are taken, one is free.
                    let from = u64::saturating_add(last, 1);
                    let to = from.saturating_add(taken.len() as u64);
                    let free = (from..=to).find(|free| !taken.contains(free)).unwrap_or(from);
                    taken.insert(free);
                    free.to_string()
                },
                str::to_owned,
            );
            last = number.split('.').next().and_then(|whole| whole.parse().ok()).unwrap_or(last);
            all.push((number, name));
        }
        all
    }

    /// What cannot be made as it was answered, in a sentence with what to do; `None` if all can.
    pub fn trouble(&self) -> Option<String> {
        let presets = self.numbered_presets();
        let mut met: BTreeMap<String, &str> = BTreeMap::new();
        for (number, name) in &presets {
            let why = match self.desk {
                DeskTakes::Programs if program_of(number).is_none() => Some(
                    "has no program change, which are whole numbers from 1 to 128; give it another number or choose MIDI Show Control",
                ),
                DeskTakes::ShowControl if number.parse::<CueNumber>().is_err() => {
                    Some("is no cue number; write digits with points between them, such as 13.5")
                }
                _ => None,
            };
            if let Some(why) = why {
                return Some(format!("The preset \"{name}\": number {number} {why}."));
            }
            // 7 and 07 are one program.
            let same = program_of(number).filter(|_| self.desk == DeskTakes::Programs);
            let same = same.map_or_else(|| number.clone(), |program| program.to_string());
            if let Some(other) = met.insert(same, name) {
                return Some(format!(
                    "The presets \"{other}\" and \"{name}\" have one number; give one of them another."
                ));
            }
        }
        let (pictures, screens) = (names(&self.pictures).count(), names(&self.screens).count());
        if pictures > 128 {
            return Some(format!(
                "{pictures} pictures: one channel has 128 programs; begin with fewer and add a receiver on the Rig screen."
            ));
        }
        let outputs = screens + usize::from(self.fabric.is_some());
        (outputs > 64).then(|| format!("{outputs} screens: one channel has programs for 64 of them; begin with fewer."))
    }

    fn pictures(&self, show: &mut Show) {
        if names(&self.pictures).next().is_none() {
            return;
        }
        show.receivers.push(receiver("pictures", "Media", "main", 2, "media operator"));
        for (at, line) in names(&self.pictures).enumerate() {
            show.media.push(MediaItem {
                key: key(&format!("picture-{}", at + 1)),
                name: line.to_owned(),
                receiver: key("pictures"),
                layer: key(LAYER),
                desk: String::new(),
                message: program(at),
                pre_roll: SongSpan::ZERO,
                length: SongSpan::ZERO,
            });
        }
    }

    /// The fabric and the screens that stay, each with the routes “pictures” and “blank”.
    fn surfaces(&self, show: &mut Show) {
        let fabric = self.fabric.iter().map(|fabric| (true, "Fabric", Some(fabric)));
        let screens = names(&self.screens).map(|name| (false, name, None));
        for (at, (is_fabric, name, fabric)) in fabric.chain(screens).enumerate() {
            let output = if is_fabric { "fabric".to_owned() } else { format!("screen-{}", at + 1) };
            if let Some(fabric) = fabric {
                show.hangs.push(hang(fabric));
            }
            for (nth, (word, words, carries)) in
                [("pictures", "pictures", Carries::Layer(key(LAYER))), ("blank", "blank", Carries::Blank {})]
                    .into_iter()
                    .enumerate()
            {
                show.routes.push(Route {
                    key: key(&format!("{output}-{word}")),
                    name: words.to_owned(),
                    output: key(&output),
                    carries,
                    receiver: key("screens"),
                    desk: String::new(),
                    message: program(2 * at + nth),
                });
            }
            show.outputs.push(Output {
                key: key(&output),
                name: name.to_owned(),
                surface: if is_fabric { Surface::Fabric(key("fabric")) } else { Surface::Screen {} },
                // Pictures begin on the fabric; screens are dark until they get them.
                starts_with: key(&format!("{output}-{}", if is_fabric { "pictures" } else { "blank" })),
                switch: SongSpan::ZERO,
                resync: None,
                projection: None,
            });
        }
        if !show.routes.is_empty() {
            show.receivers.push(receiver("screens", "Screens", "main", 3, "media operator"));
        }
    }
}

fn port(name: &str, words: &str) -> Port {
    Port {
        key: key(name),
        name: words.to_owned(),
        link: Link::Din,
        sync_confirmed_by: String::new(),
        shared_with: String::new(),
    }
}

fn receiver(name: &str, words: &str, port: &str, channel: u8, answers: &str) -> Receiver {
    Receiver {
        key: key(name),
        name: words.to_owned(),
        port: key(port),
        channel: Channel::new(channel),
        channel_confirmed_by: String::new(),
        device: None,
        format: None,
        latency: Latency::default(),
        warm_up: None,
        combines: Combine::default(),
        gap: SongSpan::ZERO,
        answers: answers.to_owned(),
    }
}

fn within(limit: &Limit, value: f64) -> f64 {
    value.clamp(limit.low, limit.high)
}

fn hang(fabric: &FabricOutline) -> Hang {
    let drop_m = within(&limits::DROP, fabric.drop_m);
    // Its hem at the floor.
    let top_m = within(&limits::TOP, drop_m);
    let width_m = within(&limits::HANG_WIDTH, fabric.width_m);
    Hang::new(key("fabric"), "Fabric", width_m, drop_m, top_m, (drop_m / 2.0).min(2.0))
}

/// The circuit that lets the fabric go: a contact box on a port of its own. How long anything takes, what its units are, and what is done
/// when they stick is left to the people who know.
fn release(show: &mut Show, width_m: f64, kind: ReleaseKind) {
    show.ports.push(port("release", "MIDI out 2"));
    show.receivers.push(receiver("contact", "Release contact", "release", 1, "release operator"));
    let note = |key: u8| Message::Note { key: data(key), velocity: data(127), length: SongSpan::from_millis(500) };
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // some hundred at most
    let units = libm::ceil((width_m / APART_M).min(500.0)) as u32 + 1;
    show.releases.push(Release {
        units,
        kind,
        stand_in: Some(note(1)),
        ..Release::new(key("fabric"), "Fabric release", key("fabric"), key("contact"), note(60))
    });
}

/// A show's rig, without anything of its performances: one service with this song and no cues.
pub fn rig_of(show: &Show, title: &str, song: Song) -> Show {
    let title = if title.trim().is_empty() { "New show" } else { title.trim() };
    let services = vec![Service::new("First service", song)];
    // Whoever signed for the last show has not signed for this one.
    let safety = SafetySheet::default();
    Show {
        title: title.to_owned(),
        services,
        safety,
        hand_outs: Vec::new(),
        notes: Vec::new(),
        version: String::new(),
        ..show.clone()
    }
}

/// How long a song is said to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SongLength {
    /// Bars.
    Bars(u32),
    /// Time; the song has as many bars as it takes.
    Time(SongSpan),
}

/// A song in one tempo and metre throughout.
pub fn steady_song(title: &str, tempo: Tempo, metre: Metre, length: SongLength) -> Song {
    let grid = GridPlan::steady(metre, tempo);
    let bars = match (length, grid.build()) {
        (SongLength::Bars(bars), _) => bars,
        (SongLength::Time(span), Ok(grid)) => {
            let end = SongTime::ZERO + span;
            let place = grid.place_of(grid.tick_at(end));
            // A bar that has begun is played to its end.
            let full = grid.bar_time(place.bar) >= end;
            u32::try_from(place.bar - i32::from(full)).unwrap_or(1)
        }
        (SongLength::Time(_), Err(_)) => 1,
    };
    let title = if title.trim().is_empty() { "Song" } else { title.trim() };
    Song::new(title.to_owned(), bars.max(1), grid)
}

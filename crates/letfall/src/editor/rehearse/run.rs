//! A run as the screen sees it: where it is, what was sent, where locks and ports stand. Told by the threads of letfall-live.

use letfall_core::show::{Label, Show};
use letfall_core::time::SongTime;
use letfall_live::{Event, Handle, Lapse, Line, Mode, Priority, Programme, Told, What};
use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;

/// Where a release's lock stands, for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Seen {
    /// Closed; why it closed, if it was open.
    Closed(Option<Lapse>),
    /// Somebody holds, since a time of the machine's clock.
    Opening(i64),
    /// Open.
    Armed(String),
    /// The message has left. What the fabric did is not known here.
    Sent(String),
    /// Its time came and it was not sent.
    NotSent(String),
}

/// A port of the show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PortSeen {
    /// Whether it is there.
    pub there: bool,
    /// In words.
    pub words: String,
}

/// A run.
pub struct Run {
    /// The threads.
    pub handle: Handle,
    /// What is sent.
    pub programme: Arc<Programme>,
    /// Which state of the show it was made from, and which service.
    pub of: (u64, usize),
    /// Whether releases may leave.
    pub mode: Mode,
    /// Song time, and the machine's time at which it was there; running or not.
    pub place: (i64, i64, bool),
    /// Locks, by the programme's releases.
    pub locks: Vec<Seen>,
    /// Ports, by the show's.
    pub ports: Vec<PortSeen>,
    /// Cues that are not sent, because by these ports they would let a fabric go.
    pub held: Vec<Label>,
    /// What was sent last, newest first, and whether it is a warning.
    pub recent: VecDeque<(String, bool)>,
    /// What became of the last release, which stays in sight.
    pub release_line: Option<(String, bool)>,
    /// Everything that was told, as it is logged.
    pub lines: Vec<Line>,
    /// Where the log is kept.
    pub log: Option<PathBuf>,
    /// What people should know, once each.
    pub notices: Vec<String>,
    holders: Vec<String>,
}

/// Lines that are kept for the page after the run.
const MOST_LINES: usize = 200_000;

impl Run {
    /// A run that was just set up.
    pub fn new(handle: Handle, programme: Arc<Programme>, of: (u64, usize), log: Option<PathBuf>, show: &Show) -> Run {
        let port =
            |p: &letfall_core::show::Port| PortSeen { there: false, words: format!("{}: looking for it", p.name) };
        Run {
            locks: vec![Seen::Closed(None); programme.releases.len()],
            ports: show.ports.iter().map(port).collect(),
            handle,
            programme,
            of,
            mode: Mode::Rehearse,
            place: (0, 0, false),
            held: Vec::new(),
            recent: VecDeque::new(),
            release_line: None,
            lines: Vec::new(),
            log,
            notices: Vec::new(),
            holders: Vec::new(),
        }
    }

    /// Whether it runs.
    pub const fn runs(&self) -> bool {
        self.place.2
    }

    /// Song time now.
    pub fn song(&self) -> SongTime {
        let (song, at, runs) = self.place;
        SongTime::saturating(if runs { song + (self.handle.now() - at) } else { song })
    }

    /// The number of a person who holds.
    pub fn holder(&mut self, name: &str) -> u16 {
        let number = self.handle.holder(name);
        if usize::from(number) >= self.holders.len() {
            self.holders.resize(usize::from(number) + 1, String::new());
        }
        name.clone_into(&mut self.holders[usize::from(number)]);
        number
    }

    /// Hears what was told since the last frame.
    pub fn hear(&mut self) {
        while let Ok(told) = self.handle.told.try_recv() {
            match told {
                Told::Event(event) => self.event(&event),
                Told::Port { port, there, words, .. } => {
                    if let Some(seen) = self.ports.get_mut(usize::from(port)) {
                        *seen = PortSeen { there, words };
                    }
                }
                Told::Priority(Priority::Raised) => {}
                Told::Priority(Priority::Usual(_)) => {
                    self.notices
                        .push("the system does not let sending go before other work: close other programs".into());
                }
                Told::LogFailed(why) => self.notices.push(format!("the log failed: {why}")),
                Told::Missed(count) => self.notices.push(format!("{count} lines are missing from the log")),
            }
        }
    }

    fn event(&mut self, event: &Event) {
        if self.lines.len() < MOST_LINES {
            self.lines.push(Line::of(event, &self.programme, &self.holders, 0));
        }
        let name = |holders: &[String], holder: u16| holders.get(usize::from(holder)).cloned().unwrap_or_default();
        match *event {
            Event::Started { song, at } => self.place = (song, at, true),
            Event::Stopped { song, at } => self.place = (song, at, false),
            Event::Opening { release, at, .. } => self.set(release, Seen::Opening(at)),
            Event::Armed { release, holder, .. } => self.set(release, Seen::Armed(name(&self.holders, holder))),
            Event::Lapsed { release, why, .. } => self.set(release, Seen::Closed(Some(why))),
            Event::PortLost { port, .. } => {
                if let Some(seen) = self.ports.get_mut(usize::from(port)) {
                    seen.there = false;
                }
            }
            Event::Message { item, what, due, at, holder } => self.message(item, what, at - due, holder),
        }
    }

    /// Looks which cues are not sent with these ports of the machine.
    pub fn held_back(&mut self, names: &[Option<String>]) {
        self.held = self.programme.held_back(names);
    }

    fn set(&mut self, release: u16, seen: Seen) {
        // What became of it is not covered up by what the lock does later.
        let told = |s: &Seen| matches!(s, Seen::Sent(_) | Seen::NotSent(_));
        if let Some(lock) = self.locks.get_mut(usize::from(release))
            && (!told(lock) || told(&seen))
        {
            *lock = seen;
        }
    }

    /// The place of a release among the run's, by its cue.
    pub fn place_of(&self, label: Label) -> Option<usize> {
        self.programme.releases.iter().position(|r| r.label == label)
    }

    /// Why a release cannot be sent whoever holds it, in words: its port, the safety sheet.
    pub fn barred(&self, release: usize) -> Option<String> {
        let port = self.programme.port_of(release).and_then(|p| self.ports.get(usize::from(p)));
        let mut why = Vec::new();
        if !port.is_some_and(|p| p.there) {
            why.push("its port is not there");
        }
        if !self.programme.unsafe_because.is_empty() {
            why.push("the safety sheet is not filled in");
        }
        (!why.is_empty()).then(|| why.join(", "))
    }

    fn message(&mut self, item: u32, what: What, late: i64, holder: Option<u16>) {
        let Some(item) = self.programme.items.get(item as usize).copied() else { return };
        if item.ends.is_some() {
            return;
        }
        // A hand is to blame only where nothing else kept it in.
        let barred = item.release.and_then(|release| self.barred(usize::from(release)));
        let locked = barred.unwrap_or_else(|| "nobody held it open".to_owned());
        let words = match what {
            What::Sent => format!("{} sent, {:.1} ms late", item.label, late as f64 / 1e3),
            What::StandIn => format!("{} stand-in sent, {:.1} ms late", item.label, late as f64 / 1e3),
            What::Chased => format!("{} sent again: it holds here", item.label),
            What::Locked => format!("{} NOT SENT: {}", item.label, locked),
            What::TooLate => format!("{} NOT SENT: it was too late", item.label),
            What::NoPort => format!("{} NOT SENT: its port is not there", item.label),
            What::JumpedOver => format!("{} not sent: jumped over", item.label),
            What::Rehearsed => format!("{} not sent: it has no stand-in", item.label),
            What::WouldRelease => format!("{} NOT SENT: its message would let a fabric go", item.label),
            What::Twice => format!("{} NOT SENT: it was sent before in this run", item.label),
        };
        let warns = !matches!(what, What::Sent | What::StandIn | What::Chased);
        if item.release.is_some() {
            self.release_line = Some((words.clone(), warns));
        }
        self.recent.push_front((words, warns));
        self.recent.truncate(12);
        if let Some(release) = item.release {
            match what {
                What::Sent => {
                    let by = holder.and_then(|h| self.holders.get(usize::from(h)).cloned()).unwrap_or_default();
                    self.set(release, Seen::Sent(by));
                }
                What::Locked => self.set(release, Seen::NotSent(locked)),
                What::TooLate => self.set(release, Seen::NotSent("it was too late".to_owned())),
                What::NoPort => self.set(release, Seen::NotSent("its port is not there".to_owned())),
                What::Twice => self.set(release, Seen::NotSent("it was sent before in this run".to_owned())),
                _ => {}
            }
        }
    }
}

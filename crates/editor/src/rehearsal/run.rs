//! A run as the screen sees it: where it is, what was sent, where locks and ports stand. Told by the threads of letfall-live.

use letfall_core::show::{Label, Show};
use letfall_core::time::SongTime;
use letfall_live::{
    ClockPair, DisarmReason, Event, Handle, HolderId, ItemIndex, LogRecord, MachineSpan, MachineTime, Mode, Priority,
    ReleaseIndex, RunPlan, RunnerEvent, SendOutcome,
};
use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;
use std::thread::JoinHandle;

/// Where a release's lock stands, for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ReleaseStatus {
    /// Closed; why it closed, if it was open.
    Closed(Option<DisarmReason>),
    /// Somebody holds, since a time of the machine's clock.
    Opening(MachineTime),
    /// Open.
    Armed(String),
    /// The message has left. What the fabric did is not known here.
    Sent(String),
    /// Its time came and it was not sent.
    NotSent(String),
}

/// A port of the show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PortStatus {
    /// Whether it is there.
    pub there: bool,
    /// In words.
    pub words: String,
}

/// Where a run is: a song time, the machine's time at which it was there, and whether it goes on from there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Place {
    /// Where.
    pub song: SongTime,
    /// When.
    pub at: MachineTime,
    /// Whether it goes on.
    pub runs: bool,
}

impl Place {
    /// The song time at a time of the machine's clock, were it running all the while.
    pub fn song_at(self, when: MachineTime) -> SongTime {
        self.song + (when - self.at).to_song()
    }
}

/// A run.
pub struct Run {
    /// The threads; `None` once they end.
    handle: Option<Handle>,
    /// What is sent.
    pub plan: Arc<RunPlan>,
    /// Which state of the show it was made from, and which service.
    pub of: (u64, usize),
    /// Whether releases may leave.
    pub mode: Mode,
    /// Where it is.
    pub place: Place,
    /// Locks, by the plan's releases.
    pub locks: Vec<ReleaseStatus>,
    /// Ports, by the show's.
    pub ports: Vec<PortStatus>,
    /// Cues that are not sent, because by these ports they would let a fabric go.
    pub held: Vec<Label>,
    /// What was sent last, newest first, and whether it is a warning.
    pub recent: VecDeque<(String, bool)>,
    /// What became of the last release, which stays in sight.
    pub release_line: Option<(String, bool)>,
    /// Everything that was told, as it is logged.
    pub records: Vec<LogRecord>,
    /// Where the log is kept.
    pub log: Option<PathBuf>,
    /// What people should know, once each.
    pub notices: Vec<String>,
    holders: Vec<String>,
}

/// Records that are kept for the page after the run.
const MOST_RECORDS: usize = 200_000;

impl Run {
    /// A run that was just set up.
    pub fn new(handle: Handle, plan: Arc<RunPlan>, of: (u64, usize), log: Option<PathBuf>, show: &Show) -> Run {
        let port =
            |p: &letfall_core::show::Port| PortStatus { there: false, words: format!("{}: looking for it", p.name) };
        Run {
            locks: vec![ReleaseStatus::Closed(None); plan.releases.len()],
            ports: show.ports.iter().map(port).collect(),
            handle: Some(handle),
            plan,
            of,
            mode: Mode::Rehearse,
            place: Place::default(),
            held: Vec::new(),
            recent: VecDeque::new(),
            release_line: None,
            records: Vec::new(),
            log,
            notices: Vec::new(),
            holders: Vec::new(),
        }
    }

    /// Whether it runs.
    pub const fn runs(&self) -> bool {
        self.place.runs
    }

    /// The threads of the run.
    pub const fn handle(&self) -> Option<&Handle> {
        self.handle.as_ref()
    }

    /// Gives a command.
    pub fn command(&self, command: letfall_live::Command) {
        if let Some(handle) = &self.handle {
            handle.command(command);
        }
    }

    /// Ends the run beside the screen, which waits for none of its threads; gives what to wait for elsewhere.
    pub fn end(mut self) -> Option<JoinHandle<()>> {
        self.handle.take().and_then(Handle::end)
    }

    /// Time of the machine's clock.
    pub fn now(&self) -> MachineTime {
        self.handle.as_ref().map_or(self.place.at, Handle::now)
    }

    /// Song time now.
    pub fn song(&self) -> SongTime {
        if self.place.runs { self.place.song_at(self.now()) } else { self.place.song }
    }

    /// The number of a person who holds.
    pub fn holder(&mut self, name: &str) -> HolderId {
        let number = self.handle.as_ref().map_or(HolderId(0), |handle| handle.holder(name));
        if number.index() >= self.holders.len() {
            self.holders.resize(number.index() + 1, String::new());
        }
        name.clone_into(&mut self.holders[number.index()]);
        number
    }

    /// Hears what was told since the last frame.
    pub fn hear(&mut self) {
        while let Some(told) = self.handle.as_ref().and_then(|handle| handle.events.try_recv().ok()) {
            match told {
                RunnerEvent::Engine(event) => self.event(&event),
                RunnerEvent::Port { port, there, words, .. } => {
                    if let Some(seen) = self.ports.get_mut(port.index()) {
                        *seen = PortStatus { there, words };
                    }
                }
                RunnerEvent::Priority(Priority::Raised) => {}
                RunnerEvent::Priority(Priority::Usual(_)) => {
                    self.notices
                        .push("the system does not let sending go before other work: close other programs".into());
                }
                RunnerEvent::LogFailed(why) => self.notices.push(format!("the log failed: {why}")),
                RunnerEvent::Missed(count) => self.notices.push(format!("{count} lines are missing from the log")),
            }
        }
    }

    fn event(&mut self, event: &Event) {
        if self.records.len() < MOST_RECORDS {
            self.records.push(LogRecord::of(event, &self.plan, &self.holders, ClockPair::default()));
        }
        let name = |holders: &[String], holder: HolderId| holders.get(holder.index()).cloned().unwrap_or_default();
        match *event {
            Event::Started { song, at } => self.place = Place { song, at, runs: true },
            Event::Stopped { song, at } => self.place = Place { song, at, runs: false },
            Event::Opening { release, at, .. } => self.set(release, ReleaseStatus::Opening(at)),
            Event::Armed { release, holder, .. } => {
                self.set(release, ReleaseStatus::Armed(name(&self.holders, holder)));
            }
            Event::Disarmed { release, why, .. } => self.set(release, ReleaseStatus::Closed(Some(why))),
            Event::PortLost { port, .. } => {
                if let Some(seen) = self.ports.get_mut(port.index()) {
                    seen.there = false;
                }
            }
            Event::Message { item, outcome, due, at, holder } => self.message(item, outcome, at - due, holder),
        }
    }

    /// Looks which cues are not sent with these ports of the machine.
    pub fn held_back(&mut self, names: &[Option<String>]) {
        self.held = self.plan.held_back(names);
    }

    fn set(&mut self, release: ReleaseIndex, seen: ReleaseStatus) {
        // What became of it is not covered up by what the lock does later.
        let told = |s: &ReleaseStatus| matches!(s, ReleaseStatus::Sent(_) | ReleaseStatus::NotSent(_));
        if let Some(lock) = self.locks.get_mut(release.index())
            && (!told(lock) || told(&seen))
        {
            *lock = seen;
        }
    }

    /// The place of a release among the run's, by its cue.
    pub fn place_of(&self, label: Label) -> Option<usize> {
        self.plan.releases.iter().position(|r| r.label == label)
    }

    /// Why a release cannot be sent whoever holds it, in words: its port, the safety sheet.
    pub fn barred(&self, release: usize) -> Option<String> {
        let port = self.plan.releases.get(release).and_then(|r| self.ports.get(r.port.index()));
        let mut why = Vec::new();
        if !port.is_some_and(|p| p.there) {
            why.push("its port is not there");
        }
        if !self.plan.unsafe_because.is_empty() {
            why.push("the safety sheet is not filled in");
        }
        (!why.is_empty()).then(|| why.join(", "))
    }

    fn message(&mut self, item: ItemIndex, outcome: SendOutcome, late: MachineSpan, holder: Option<HolderId>) {
        let Some(item) = self.plan.item(item).copied() else { return };
        let late_ms = late.micros() as f64 / 1e3;
        if item.ends.is_some() {
            return;
        }
        // A hand is to blame only where nothing else kept it in.
        let barred = item.release.and_then(|release| self.barred(release.index()));
        let locked = barred.unwrap_or_else(|| "nobody held it open".to_owned());
        let words = match outcome {
            SendOutcome::Sent => format!("{} sent, {late_ms:.1} ms late", item.label),
            SendOutcome::StandIn => format!("{} stand-in sent, {late_ms:.1} ms late", item.label),
            SendOutcome::Chased => format!("{} sent again: it holds here", item.label),
            SendOutcome::Locked => format!("{} NOT SENT: {}", item.label, locked),
            SendOutcome::TooLate => format!("{} NOT SENT: it was too late", item.label),
            SendOutcome::NoPort => format!("{} NOT SENT: its port is not there", item.label),
            SendOutcome::JumpedOver => format!("{} not sent: jumped over", item.label),
            SendOutcome::Rehearsed => format!("{} not sent: it has no stand-in", item.label),
            SendOutcome::WouldRelease => format!("{} NOT SENT: its message would let a fabric go", item.label),
            SendOutcome::Twice => format!("{} NOT SENT: it was sent before in this run", item.label),
        };
        let warns = !matches!(outcome, SendOutcome::Sent | SendOutcome::StandIn | SendOutcome::Chased);
        if item.release.is_some() {
            self.release_line = Some((words.clone(), warns));
        }
        self.recent.push_front((words, warns));
        self.recent.truncate(12);
        if let Some(release) = item.release {
            match outcome {
                SendOutcome::Sent => {
                    let by = holder.and_then(|h| self.holders.get(h.index()).cloned()).unwrap_or_default();
                    self.set(release, ReleaseStatus::Sent(by));
                }
                SendOutcome::Locked => self.set(release, ReleaseStatus::NotSent(locked)),
                SendOutcome::TooLate => self.set(release, ReleaseStatus::NotSent("it was too late".to_owned())),
                SendOutcome::NoPort => self.set(release, ReleaseStatus::NotSent("its port is not there".to_owned())),
                SendOutcome::Twice => {
                    self.set(release, ReleaseStatus::NotSent("it was sent before in this run".to_owned()));
                }
                _ => {}
            }
        }
    }
}

//! A run as the screen sees it: its position, what was sent, the state of locks and ports. The threads of letfall-live report
//! all of it.

use letfall_core::show::{Label, Show};
use letfall_core::time::SongTime;
use letfall_live::{
    ClockPair, DisarmReason, Event, Grip, Handle, HolderId, ItemIndex, LogRecord, MachineSpan, MachineTime, Mode,
    Place, Priority, ReleaseIndex, RunPlan, RunnerEvent, SendOutcome, is_own_port,
};
use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;
use std::thread::JoinHandle;

/// The state of a release's lock, for display.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ReleaseStatus {
    /// Locked. If it was open before, the reason why it closed.
    Closed(Option<DisarmReason>),
    /// Someone has been holding it since this time of the machine's clock, but it is not open yet.
    Opening(MachineTime),
    /// Open; the name of the person who holds it.
    Armed(String),
    /// The message was sent; the name of the person who held it open. What the fabric did is not known here.
    Sent(String),
    /// It was not sent when its time came; the reason why.
    NotSent(String),
}

/// The state of one of the show's ports.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PortStatus {
    /// Whether it is connected.
    pub there: bool,
    /// Its state in words.
    pub words: String,
    /// It is a port of our own.
    pub own: bool,
}

/// A run.
pub struct Run {
    /// The threads; `None` once they have been told to end.
    handle: Option<Handle>,
    /// What the run sends.
    pub plan: Arc<RunPlan>,
    /// The revision of the show that it was made from, and the service.
    pub of: (u64, usize),
    /// Whether it rehearses or performs. Releases are sent only in a performance.
    pub mode: Mode,
    /// Its position.
    pub place: Place,
    /// The state of the locks, in the order of the plan's releases.
    pub locks: Vec<ReleaseStatus>,
    /// The state of the ports, in the order of the show's.
    pub ports: Vec<PortStatus>,
    /// Cues that are not sent, because on the connected ports they would trigger a release.
    pub held: Vec<Label>,
    /// What was sent last, newest first, and whether each line is a warning.
    pub recent: VecDeque<(String, bool)>,
    /// The outcome of the last release, which stays visible.
    pub release_line: Option<(String, bool)>,
    /// Everything that was reported, as it is logged.
    pub records: Vec<LogRecord>,
    /// The path of the log.
    pub log: Option<PathBuf>,
    /// Messages for the user, shown once each.
    pub notices: Vec<String>,
    /// A release that is to be tried once more, while its second window is open.
    pub second_try: Option<ReleaseIndex>,
    /// Releases for which a second try was granted in this run; there is no third.
    pub tried_twice: Vec<ReleaseIndex>,
    /// Sending has ended though nobody ended the run.
    pub ended: bool,
    holders: Vec<String>,
}

/// How many records are kept for the page after the run.
const MOST_RECORDS: usize = 200_000;

impl Run {
    /// A run that was just set up.
    pub fn new(handle: Handle, plan: Arc<RunPlan>, of: (u64, usize), log: Option<PathBuf>, show: &Show) -> Run {
        let port = |p: &letfall_core::show::Port| PortStatus {
            there: false,
            own: false,
            words: format!("{}: looking for it", p.name),
        };
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
            second_try: None,
            tried_twice: Vec::new(),
            ended: false,
            holders: Vec::new(),
        }
    }

    /// Whether it is running.
    pub const fn runs(&self) -> bool {
        self.place.runs
    }

    /// The threads of the run.
    pub const fn handle(&self) -> Option<&Handle> {
        self.handle.as_ref()
    }

    /// Sends a command to the run.
    pub fn command(&self, command: letfall_live::Command) {
        if let Some(handle) = &self.handle {
            handle.command(command);
        }
    }

    /// Stops everything. It cannot be refused.
    pub fn stop_all(&self) {
        if let Some(handle) = &self.handle {
            handle.stop_all();
        }
    }

    /// A hand let go of every release. It cannot be refused.
    pub fn let_go_all(&self, grip: Grip) {
        if let Some(handle) = &self.handle {
            handle.let_go_all(grip);
        }
    }

    /// Ends the run without waiting for its threads. Returns what to wait for elsewhere.
    pub fn end(mut self) -> Option<JoinHandle<()>> {
        self.handle.take().and_then(Handle::end)
    }

    /// The current time on the machine's clock.
    pub fn now(&self) -> MachineTime {
        self.handle.as_ref().map_or(self.place.at, Handle::now)
    }

    /// The current song time.
    pub fn song(&self) -> SongTime {
        self.place.song_at(self.now())
    }

    /// The number that stands for the name of a person who holds releases.
    pub fn holder(&mut self, name: &str) -> HolderId {
        let number = self.handle.as_ref().map_or(HolderId(0), |handle| handle.holder(name));
        if number.index() >= self.holders.len() {
            self.holders.resize(number.index() + 1, String::new());
        }
        name.clone_into(&mut self.holders[number.index()]);
        number
    }

    /// Takes in what was reported since the last frame.
    pub fn hear(&mut self) {
        if let Some(handle) = &self.handle {
            self.place = handle.place();
        }
        while let Some(told) = self.handle.as_ref().and_then(|handle| handle.events.try_recv().ok()) {
            match told {
                RunnerEvent::Engine(event) => self.event(&event),
                RunnerEvent::Port { port, there, words, name } => {
                    if let Some(seen) = self.ports.get_mut(port.index()) {
                        *seen = PortStatus { there, words, own: is_own_port(&name) };
                    }
                }
                RunnerEvent::Priority(Priority::Raised) => {}
                RunnerEvent::Priority(Priority::Usual(_)) => {
                    self.notices
                        .push("the system does not give sending priority over other work: close other programs".into());
                }
                RunnerEvent::KeeperGone(why) => self.notices.push(format!(
                    "if this program dies while a contact is closed, nobody opens it: {why}. The box's own timer must"
                )),
                RunnerEvent::LogFailed(why) => self.notices.push(format!("the log failed: {why}")),
                RunnerEvent::SendingEnded => {
                    self.ended = true;
                    self.notices.push(
                        "SENDING HAS ENDED by a fault: nothing leaves any more, every release is locked. Make ready again, and go by \
                         the printed running order until then"
                            .into(),
                    );
                }
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
            // Where it is, the engine publishes at every turn; whether ports are there, the thread that opens them tells.
            Event::Started { .. } | Event::Stopped { .. } | Event::PortLost { .. } => {}
            Event::SecondTry { release, .. } => {
                self.second_try = Some(release);
                self.tried_twice.push(release);
                if let Some(lock) = self.locks.get_mut(release.index()) {
                    *lock = ReleaseStatus::Closed(None);
                }
            }
            Event::Opening { release, at, .. } => self.set(release, ReleaseStatus::Opening(at)),
            Event::Armed { release, holder, .. } => {
                self.set(release, ReleaseStatus::Armed(name(&self.holders, holder)));
            }
            Event::Disarmed { release, why: DisarmReason::WindowOver, .. } if self.second_try == Some(release) => {
                self.second_try = None;
                self.set(release, ReleaseStatus::NotSent("nobody held it in its second window".to_owned()));
            }
            Event::Disarmed { release, why, .. } => self.set(release, ReleaseStatus::Closed(Some(why))),
            Event::Message { item, outcome, due, at, holder } => self.message(item, outcome, at - due, holder),
        }
    }

    /// Works out which cues are not sent with these ports of the machine.
    pub fn held_back(&mut self, names: &[Option<String>]) {
        self.held = self.plan.held_back(names);
    }

    fn set(&mut self, release: ReleaseIndex, seen: ReleaseStatus) {
        // Later changes of the lock do not replace the outcome.
        let told = |s: &ReleaseStatus| matches!(s, ReleaseStatus::Sent(_) | ReleaseStatus::NotSent(_));
        if let Some(lock) = self.locks.get_mut(release.index())
            && (!told(lock) || told(&seen))
        {
            *lock = seen;
        }
    }

    /// The index of a release in the run, by its cue.
    pub fn place_of(&self, label: Label) -> Option<usize> {
        self.plan.releases.iter().position(|r| r.label == label)
    }

    /// Why a release cannot be sent no matter who holds it, in words: its port or the safety sheet.
    pub fn barred(&self, release: usize) -> Option<String> {
        let port = self.plan.releases.get(release).and_then(|r| self.ports.get(r.port.index()));
        let mut why = Vec::new();
        if !port.is_some_and(|p| p.there) {
            why.push("its port is not there");
        }
        if port.is_some_and(|p| p.own) {
            why.push("it leaves by a port of our own, where nobody can tell whether anything listens");
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
        // Blame the lack of a holder only if nothing else stopped the release.
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
            SendOutcome::WouldRelease => format!("{} NOT SENT: it might let a fabric go", item.label),
            SendOutcome::Withdrawn => format!("{} NOT SENT: the run stopped or went elsewhere first", item.label),
            SendOutcome::TooLong => {
                format!("{} NOT SENT: too long on the wire of a release that may leave", item.label)
            }
            SendOutcome::PortStuck => format!("{} NOT SENT: its port takes nothing at the moment", item.label),
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
                    self.second_try = self.second_try.filter(|of| *of != release);
                    let by = holder.and_then(|h| self.holders.get(h.index()).cloned()).unwrap_or_default();
                    self.set(release, ReleaseStatus::Sent(by));
                }
                SendOutcome::Locked => self.set(release, ReleaseStatus::NotSent(locked)),
                SendOutcome::TooLate => self.set(release, ReleaseStatus::NotSent("it was too late".to_owned())),
                SendOutcome::Withdrawn => self.set(release, ReleaseStatus::NotSent("the run stopped first".to_owned())),
                SendOutcome::PortStuck => {
                    self.set(release, ReleaseStatus::NotSent("its port takes nothing at the moment".to_owned()));
                }
                SendOutcome::WouldRelease => {
                    self.set(release, ReleaseStatus::NotSent("it might let another fabric go".to_owned()));
                }
                SendOutcome::NoPort => self.set(release, ReleaseStatus::NotSent("its port is not there".to_owned())),
                SendOutcome::Twice => {
                    self.set(release, ReleaseStatus::NotSent("it was sent before in this run".to_owned()));
                }
                _ => {}
            }
        }
    }
}

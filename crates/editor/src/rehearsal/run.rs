//! A run as the screen sees it: its position, what was sent, the state of locks and ports. The threads of letfall-live report
//! all of it.

use super::bends::Bends;
use letfall_core::performed::Performed;
use letfall_core::show::{Label, Show};
use letfall_core::time::{SongSpan, SongTime, WallTime};
use letfall_live::{
    ClockPair, DisarmReason, Event, Fate, Grip, Handle, HolderId, ItemIndex, LogRecord, MachineSpan, MachineTime, Mode,
    Moves, Place, Priority, ReleaseIndex, RunPlan, RunnerEvent, SendOutcome, is_own_port,
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

/// What the guide must do because the run bent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GuideBend {
    /// It stops.
    Stop,
    /// It plays from a place, as soon as the run is there.
    From(SongTime),
}

/// A run.
pub struct Run {
    /// The threads; `None` once they have been told to end.
    handle: Option<Handle>,
    /// What the run sends.
    pub plan: Arc<RunPlan>,
    /// The revision of the show that it was made from, and the service.
    pub of: (u64, usize),
    /// How much later than planned it starts, if its cues at clock times keep their time of day.
    pub kept: SongSpan,
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
    /// How it bends.
    pub bends: Bends,
    /// Whether it is sure where the band is that leads the time, and the same in words. `None` if no band leads.
    pub band: Option<(bool, String)>,
    /// Where the song stood, went on or turned since the last frame, for the band that goes with it.
    pub ways: Vec<Event>,
    /// How many turns of the song have been heard of.
    pub turns: u32,
    /// What the guide must do because the run bent.
    pub guide: Option<GuideBend>,
    /// Where it begins, and when, by the machine's clock.
    pub begins: Option<(SongTime, MachineTime)>,
    /// How much later than planned song time 0 is, by the time of day, in microseconds; once it has begun.
    pub late: Option<i64>,
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
            kept: SongSpan::ZERO,
            locks: vec![ReleaseStatus::Closed(None); plan.releases.len()],
            ports: show.ports.iter().map(port).collect(),
            handle: Some(handle),
            bends: Bends::new(plan.releases.len()),
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
            band: None,
            ways: Vec::new(),
            turns: 0,
            guide: None,
            begins: None,
            late: None,
            ended: false,
            holders: Vec::new(),
        }
    }

    /// Whether it is running.
    pub fn runs(&self) -> bool {
        self.place.runs()
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

    /// How much of the song, as it goes now, the first message leaves before a place that belongs to what lands from there on.
    pub fn lead_into(&self, place: SongTime) -> SongSpan {
        self.plan.lead_into(place, self.place.rate)
    }

    /// How long until it begins, if that is still ahead, and where.
    pub fn begins_in(&self) -> Option<(SongTime, MachineSpan)> {
        let (song, at) = self.begins.filter(|_| self.place.moves == Moves::Runs)?;
        let now = self.now();
        (at > now).then(|| (song, at - now))
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
        self.bends.hear(event, &self.plan, self.place);
        let name = |holders: &[String], holder: HolderId| holders.get(holder.index()).cloned().unwrap_or_default();
        match *event {
            // Where it is, the engine publishes at every turn; whether ports are there, the thread that opens them tells.
            Event::Started { song, at } => self.begins = Some((song, at)),
            Event::Stopped { .. } | Event::PortLost { .. } | Event::Group { .. } => {}
            Event::Waits { .. } => {
                self.guide = Some(GuideBend::Stop);
                self.ways.push(*event);
            }
            Event::GoesOn { song, .. } | Event::Turned { to: song, .. } => {
                let waits = self.place.moves == Moves::Waits;
                self.guide = (!waits).then_some(GuideBend::From(song)).or(self.guide);
                self.ways.push(*event);
            }
            Event::Bent { bend, .. } => {
                if bend == letfall_live::Bend::ByHand {
                    self.guide = Some(GuideBend::Stop);
                }
                if let Some(line) = &self.bends.line {
                    self.recent.push_front(line.clone());
                }
            }
            Event::Fate { release, fate, late, .. } => self.fate(release, fate, late),
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

    /// What became of a release is told at once, and stays to be read.
    fn fate(&mut self, release: ReleaseIndex, fate: Fate, late: bool) {
        let label = self.plan.release(release).map(|r| r.label.to_string()).unwrap_or_default();
        let left = if late { self.left_already(release) } else { String::new() };
        let words = match fate {
            Fate::Open | Fate::Given | Fate::Gone => return,
            Fate::Stays => format!("{label}: FABRIC STAYS{left}"),
            Fate::Stuck(part) => format!("{label}: STUCK {}", part.word()),
            Fate::Early => format!("{label}: EARLY. Look after people first"),
        };
        if fate == Fate::Stays {
            self.set(release, ReleaseStatus::NotSent("the fabric stays".to_owned()));
        }
        self.release_line = Some((words.clone(), true));
        self.recent.push_front((words, true));
        self.recent.truncate(12);
    }

    /// Which cues that depend on a release had left before the fabric stayed, in words.
    fn left_already(&self, release: ReleaseIndex) -> String {
        let items = self.plan.release(release).map_or(&[][..], |release| &release.dependents);
        let labels = items.iter().filter_map(|item| self.plan.label(*item)).map(|label| label.to_string());
        let sent = |label: &String| {
            let of = |record: &LogRecord| matches!(record, LogRecord::Message { label: of, what, .. } if of == label && what == "sent");
            self.records.iter().any(of)
        };
        let mut labels: Vec<String> = labels.filter(sent).collect();
        labels.dedup();
        match labels.as_slice() {
            [] => ". Something that depends on it had left already".to_owned(),
            labels => format!(". Had left already: {}", labels.join(", ")),
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

    /// The release in the group that goes next by hand.
    pub fn release_at_hand(&self) -> Option<ReleaseIndex> {
        self.bends.next_group.and_then(|at| self.plan.groups.get(at)).and_then(|group| group.releases.first()).copied()
    }

    /// What is known of the performance, for its report.
    pub fn performed(&self) -> Performed {
        // Its records are timed by the machine's clock.
        let (now, of_day) = (self.now().micros(), letfall_platform::time_of_day());
        let time_of_day = |at: i64| WallTime::from_secs((of_day - (now - at)).div_euclid(1_000_000));
        letfall_live::performed(&self.records, &self.plan.grid, &time_of_day)
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
        let label = self.plan.name_of(item);
        let Some(item) = self.plan.item(item).copied() else { return };
        let late_ms = late.micros() as f64 / 1e3;
        if item.ends.is_some() {
            return;
        }
        // Blame the lack of a holder only if nothing else stopped the release.
        let barred = item.release.and_then(|release| self.barred(release.index()));
        let locked = barred.unwrap_or_else(|| "nobody held it open".to_owned());
        let words = match outcome {
            SendOutcome::Sent => format!("{label} sent, {late_ms:.1} ms late"),
            SendOutcome::StandIn => format!("{label} stand-in sent, {late_ms:.1} ms late"),
            SendOutcome::Chased => format!("{label} sent again: it holds here"),
            SendOutcome::Locked => format!("{label} NOT SENT: {locked}"),
            SendOutcome::TooLate => format!("{label} NOT SENT: it was too late"),
            SendOutcome::NoPort => format!("{label} NOT SENT: its port is not there"),
            SendOutcome::JumpedOver => format!("{label} not sent: jumped over"),
            SendOutcome::Rehearsed => format!("{label} not sent: it has no stand-in"),
            SendOutcome::WouldRelease => format!("{label} NOT SENT: it might let a fabric go"),
            SendOutcome::Withdrawn => format!("{label} NOT SENT: the run stopped or went elsewhere first"),
            SendOutcome::TooLong => {
                format!("{label} NOT SENT: too long on the wire of a release that may leave")
            }
            SendOutcome::PortStuck => format!("{label} NOT SENT: its port takes nothing at the moment"),
            SendOutcome::OtherCourse => format!("{label} not sent: it depends on a release that took another course"),
            SendOutcome::Twice => format!("{label} NOT SENT: it was sent before in this run"),
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

//! What is wrong with a plan: each check with a code, a severity, a place and a remedy.
//!
//! A problem is data, never an error. The checks say what they found; they never say that a thing is safe.

mod messages;
mod release;
mod rig;
mod services;
mod staging;
mod timing;

use crate::schedule::Schedule;
use crate::show::{Guide, Label, Service, Show};
use crate::stage::Stage;
use std::fmt;

/// How bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Must not go on.
    Stop,
    /// Will look or sound wrong.
    Fix,
    /// Worth knowing.
    Note,
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Severity::Stop => "stop",
            Severity::Fix => "fix",
            Severity::Note => "note",
        })
    }
}

macro_rules! codes {
    ($($(#[$doc:meta])* $name:ident = $text:literal, $severity:ident;)*) => {
        /// What was found. Its text is stable, for scripts.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code { $($(#[$doc])* $name),* }

        impl Code {
            /// All codes.
            pub const ALL: &'static [Code] = &[$(Code::$name),*];

            /// Its text.
            pub const fn text(self) -> &'static str {
                match self { $(Code::$name => $text),* }
            }

            /// How bad it is.
            pub const fn severity(self) -> Severity {
                match self { $(Code::$name => Severity::$severity),* }
            }
        }
    };
}

codes! {
    /// The service's grid cannot be built.
    GridBroken = "grid-broken", Stop;
    /// A cue's message cannot be made.
    MessageUnsendable = "message-unsendable", Stop;
    /// The preset a cue names is not there.
    PresetMissing = "preset-missing", Stop;
    /// The media item a cue names is not there.
    MediaMissing = "media-missing", Stop;
    /// The route a cue or output names is not there.
    RouteMissing = "route-missing", Stop;
    /// The release a cue names is not there.
    ReleaseMissing = "release-missing", Stop;
    /// The hang a release names is not there.
    HangMissing = "hang-missing", Stop;
    /// The receiver or its port is not there.
    ReceiverMissing = "receiver-missing", Stop;
    /// The track a cue names is not there.
    TrackMissing = "track-missing", Fix;
    /// Nobody gives a clear signal for a release.
    ReleaseNoClear = "release-no-clear-call", Stop;
    /// Nobody holds the arm for a release.
    ReleaseNoArm = "release-no-arm-holder", Stop;
    /// Nobody has said what power does to a release.
    ReleaseKindUnknown = "release-kind-unknown", Stop;
    /// Two releases at once.
    ReleaseOverlap = "release-overlap", Stop;
    /// A release is not called with a standby.
    ReleaseNoStandby = "release-no-standby", Stop;
    /// The same fabric is let go twice.
    ReleaseTwice = "release-twice", Stop;
    /// Something else sends the message that fires a release.
    FiresRelease = "fires-release", Stop;
    /// One message fires two releases.
    ReleasesAlike = "releases-alike", Fix;
    /// A release is fired by a receiver that other things are sent to.
    ReleaseShares = "release-shares-receiver", Note;
    /// The farthest coil gets less than its pull-in voltage.
    CoilVoltage = "coil-voltage-low", Stop;
    /// A cue lands outside its song.
    LandOutside = "land-outside-song", Fix;
    /// A message would have to leave before the count-in.
    SendBefore = "send-before-count-in", Fix;
    /// A cue stands on a bar that its song does not have.
    BarMissing = "bar-missing", Fix;
    /// A cue stands on a beat that its bar does not have.
    BeatMissing = "beat-missing", Note;
    /// Two media items play on one layer at once.
    MediaOverlap = "media-overlap", Fix;
    /// A media item plays and no output shows it.
    MediaUnseen = "media-unseen", Fix;
    /// An output is sent to a layer on which nothing plays.
    OutputEmpty = "output-empty", Fix;
    /// The audience is left with nothing at a handover.
    HandoverGap = "handover-gap", Fix;
    /// The projector stays on after its fabric has gone.
    HandoverLight = "handover-light-on-people", Fix;
    /// What a hang-up plan holds has been sent before anybody can see a hang-up.
    HangUpHold = "hang-up-hold-too-late", Fix;
    /// Two releases of one arm holder may be armed at the same time.
    ArmOverlap = "release-arm-overlap", Fix;
    /// The safety sheet lacks something else that a release needs.
    SafetyOpen = "safety-sheet-open", Fix;
    /// A planned handover's cues are not where its plan puts them.
    HandoverMoved = "handover-moved", Fix;
    /// Both outputs of a planned handover are lit for long.
    HandoverBoth = "handover-both-lit", Fix;
    /// Two different things have the same message.
    MessageSame = "message-same", Fix;
    /// A receiver is asked twice within its shortest gap.
    ReceiverGap = "receiver-gap", Fix;
    /// A message waits too long for its port.
    PortLate = "port-late", Fix;
    /// Two calls cannot be said by one person.
    CallsOverlap = "calls-overlap", Fix;
    /// A clock-anchored cue was placed on another tempo.
    TempoChanged = "clock-cue-tempo-changed", Fix;
    /// The picture is darker than wanted.
    PictureDim = "picture-dim", Fix;
    /// The picture's contrast is under its viewing category's figure.
    ContrastLow = "contrast-low", Fix;
    /// The supply or its branch is loaded beyond its rating.
    SupplyLoad = "supply-overloaded", Stop;
    /// A measured drop is faster than free fall.
    DropTooFast = "drop-faster-than-free-fall", Fix;
    /// A release may land outside the tolerance.
    LandUncertain = "land-uncertain", Note;
    /// A cue differs from the one it was copied from.
    ServicesDiffer = "services-differ", Note;
    /// The guide recording is not where the show says.
    GuideMissing = "guide-missing", Fix;
    /// A cue lands after the guide recording has ended.
    GuideOver = "guide-over", Fix;
    /// The guide recording is not the one that the grid was made from.
    GuideChanged = "guide-changed", Fix;
    /// The kit costs more than the budget.
    OverBudget = "cost-over-budget", Note;
}

/// Something the checks found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// What.
    pub code: Code,
    /// The service it is in; `None` for the rig, which all share.
    pub service: Option<String>,
    /// The cues it is about.
    pub cues: Vec<Label>,
    /// Where and what is wrong.
    pub what: String,
    /// What to do.
    pub remedy: String,
}

impl Problem {
    /// How bad it is.
    pub const fn severity(&self) -> Severity {
        self.code.severity()
    }
}

impl fmt::Display for Problem {
    /// One sentence: what, where, what to do.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}.", self.what, self.remedy)
    }
}

/// What the checks of one service look at, and where they put what they find.
struct Checks<'a> {
    show: &'a Show,
    service: &'a Service,
    schedule: &'a Schedule,
    stage: &'a Stage,
    found: Vec<Problem>,
}

impl Checks<'_> {
    fn find(&mut self, code: Code, cues: &[Label], what: impl Into<String>, remedy: impl Into<String>) {
        self.found.push(Problem {
            code,
            service: Some(self.service.name.clone()),
            cues: cues.to_vec(),
            what: what.into(),
            remedy: remedy.into(),
        });
    }

    /// The counted beat at or before a song time, and the time, for a sentence.
    fn place(&self, at: crate::time::SongTime) -> String {
        let grid = &self.schedule.grid;
        let place = grid.place_of(grid.tick_at(at));
        format!("{}|{} ({at})", place.bar, place.beat)
    }
}

/// Everything wrong with one service, worst first, then by code and cue.
///
/// The rig's own problems are [`rig()`]'s; [`show()`] gives both.
pub fn service(show: &Show, service: &Service) -> Vec<Problem> {
    let schedule = match Schedule::build(show, service) {
        Ok(schedule) => schedule,
        Err(why) => {
            return vec![Problem {
                code: Code::GridBroken,
                service: Some(service.name.clone()),
                cues: Vec::new(),
                what: why.to_string(),
                remedy: "mend the song's marks".to_owned(),
            }];
        }
    };
    let stage = Stage::new(show, service, &schedule);
    with_schedule(show, service, &schedule, &stage)
}

/// As [`service`], for a schedule and stage that are already worked out.
pub fn with_schedule(show: &Show, service: &Service, schedule: &Schedule, stage: &Stage) -> Vec<Problem> {
    let mut checks = Checks { show, service, schedule, stage, found: Vec::new() };
    timing::run(&mut checks);
    messages::run(&mut checks);
    staging::run(&mut checks);
    release::run(&mut checks);
    services::run(&mut checks);
    sorted(checks.found)
}

/// What is wrong with the rig and the kit, whatever the service.
pub fn rig(show: &Show) -> Vec<Problem> {
    sorted(rig::run(show))
}

/// What is wrong with the guide recordings. Looking at files is the caller's: `look` gives a guide's SHA-256 in hexadecimal,
/// or `None` where there is no such file.
pub fn guides(show: &Show, look: impl Fn(&Guide) -> Option<String>) -> Vec<Problem> {
    let found = show.services.iter().filter_map(|service| {
        let guide = service.song.guide.as_ref()?;
        let (code, what, remedy) = match look(guide) {
            None => (
                Code::GuideMissing,
                format!("the guide \"{}\" is not there", guide.path),
                "put it back beside the show, or take it out of the song",
            ),
            Some(sum) if !guide.sha256.is_empty() && !sum.eq_ignore_ascii_case(&guide.sha256) => (
                Code::GuideChanged,
                format!("the guide \"{}\" is not the recording that the grid was made from", guide.path),
                "bring that recording back, or find the grid of this one anew",
            ),
            Some(_) => return None,
        };
        let service = Some(service.name.clone());
        Some(Problem { code, service, cues: Vec::new(), what, remedy: remedy.to_owned() })
    });
    sorted(found.collect())
}

/// Everything wrong with a show: its rig, then each service in order.
pub fn show(show: &Show) -> Vec<Problem> {
    let mut found = rig(show);
    for each in &show.services {
        found.extend(service(show, each));
    }
    found
}

fn sorted(mut found: Vec<Problem>) -> Vec<Problem> {
    found.sort_by(|a, b| (a.severity(), a.code, &a.cues).cmp(&(b.severity(), b.code, &b.cues)));
    found
}

//! What the checks find: each problem with a code, a severity, a place and a remedy.

use crate::show::Label;
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
    /// The preset a cue names does not exist.
    PresetMissing = "preset-missing", Stop;
    /// The media item a cue names does not exist.
    MediaMissing = "media-missing", Stop;
    /// The route a cue or output names does not exist.
    RouteMissing = "route-missing", Stop;
    /// The release a cue names does not exist.
    ReleaseMissing = "release-missing", Stop;
    /// The hang a release names does not exist.
    HangMissing = "hang-missing", Stop;
    /// The receiver or its port does not exist.
    ReceiverMissing = "receiver-missing", Stop;
    /// The track a cue names does not exist.
    TrackMissing = "track-missing", Fix;
    /// Nobody gives a clear signal for a release.
    ReleaseNoClear = "release-no-clear-call", Stop;
    /// Nobody holds the arm for a release.
    ReleaseNoArm = "release-no-arm-holder", Stop;
    /// It is not known what power does to a release.
    ReleaseKindUnknown = "release-kind-unknown", Stop;
    /// Two releases at once.
    ReleaseOverlap = "release-overlap", Stop;
    /// A release is not called with a standby.
    ReleaseNoStandby = "release-no-standby", Stop;
    /// The same fabric is let go twice.
    ReleaseTwice = "release-twice", Stop;
    /// Something other than the release sends a message that might fire it.
    FiresRelease = "fires-release", Stop;
    /// One message may fire two releases.
    ReleasesAlike = "releases-alike", Stop;
    /// The show does not say what opens a release's contact again.
    ReleaseEndUnstated = "release-end-unstated", Stop;
    /// A long message is sent on a release's port while the release may have to be sent.
    ReleasePortBlocked = "release-port-blocked", Stop;
    /// Something else can send to the port of a release.
    ReleasePortShared = "release-port-shared", Fix;
    /// One person holds two of the three roles at a release.
    RolesShared = "release-roles-shared", Fix;
    /// A release can be armed only when it is too late for hand and hold.
    ArmTooLate = "release-arm-too-late", Stop;
    /// A contact opens again before its unit has let go.
    PulseShort = "release-pulse-short", Stop;
    /// What is said when something goes wrong holds a word of a call.
    WordsLikeCall = "words-like-a-call", Stop;
    /// The plan for a stuck fabric cuts the power of a release that power holds.
    PowerHeldSteps = "power-held-steps", Stop;
    /// A release can be armed before its standby, or for too long.
    ArmTooEarly = "release-arm-too-early", Fix;
    /// Another go is spoken just before a release.
    GoBeforeRelease = "go-before-release", Fix;
    /// Nobody has said what happens if a fabric stays up.
    HangUpNone = "hang-up-plan-missing", Fix;
    /// A release's standby comes too late.
    StandbyShort = "release-standby-short", Fix;
    /// One standby names too many things.
    StandbyCrowded = "standby-crowded", Fix;
    /// A cue of the reveal is not called.
    RevealUncalled = "reveal-cue-uncalled", Note;
    /// A standby is said much sooner or later than usual.
    StandbyOdd = "standby-odd", Note;
    /// The person who arms also gives the clear signal.
    ClearByOperator = "clear-by-operator", Fix;
    /// The clear signal is green, which means go.
    ClearIsGreen = "clear-signal-green", Fix;
    /// There are no words for a fabric that stays up.
    NoStayWords = "stay-words-missing", Fix;
    /// Light from behind shines into the audience's eyes.
    LightInEyes = "light-in-eyes", Fix;
    /// Two tracks undo each other on one receiver.
    TracksUndo = "tracks-undo", Fix;
    /// The fabric is larger than what carries it, or longer than it hangs high.
    ClothTooLarge = "cloth-too-large", Fix;
    /// Release units stand too far apart, or too far from the fabric's edge.
    UnitsApart = "units-apart", Fix;
    /// The kit has fewer release units than the hangs use.
    KitShort = "kit-units-short", Fix;
    /// No spare release unit in the kit, or none that can be counted.
    KitUnits = "kit-units", Note;
    /// A unit holds more than its maker states.
    UnitOverloaded = "unit-overloaded", Stop;
    /// A unit holds less than its maker states that it needs to let go.
    UnitLight = "unit-too-light", Fix;
    /// No wished hanging point is named for what carries a fabric.
    PointsMissing = "points-missing", Fix;
    /// Something hangs from, or is wished for, a bar that the room does not have.
    CarrierMissing = "carrier-missing", Fix;
    /// What carries a fabric hangs too low for it.
    TrimLow = "trim-too-low", Fix;
    /// A projector's lens cannot make its picture from where it stands.
    ThrowOutside = "throw-outside-lens", Fix;
    /// Something or somebody stands in a projector's beam.
    BeamCut = "beam-cut", Fix;
    /// A seat sees nothing of the reveal.
    SeatBlind = "seat-sees-nothing", Fix;
    /// Seats see who is behind a fabric before it falls.
    SeenEarly = "seen-before-the-fall", Note;
    /// Things of the room are in each other's place, or a seat is where nobody can sit.
    RoomOdd = "room-odd", Fix;
    /// A fabric hangs nearer to something than it may.
    TooNear = "too-near", Fix;
    /// Something stands, lies or falls where people must get through.
    WayBlocked = "way-blocked", Stop;
    /// A sightline was taken from a seat that now has another.
    SightlineMoved = "sightline-moved", Fix;
    /// A fabric has fewer eyelets than units, or they stand far apart.
    EyeletsFew = "eyelets-few", Fix;
    /// Pictures fall on a fabric that hangs in folds.
    FabricInFolds = "fabric-in-folds", Fix;
    /// An oblique angle was typed, and the room gives another.
    ObliqueDiffers = "oblique-differs", Note;
    /// A certificate or permit does not hold to the last day.
    PaperExpired = "paper-expired", Fix;
    /// A day is written so that nobody can tell which it is.
    DayUnread = "day-unread", Note;
    /// A call needs a role that nobody on the crew has.
    RoleEmpty = "role-empty", Fix;
    /// Somebody is planned overhead alone.
    AloneOverhead = "overhead-alone", Fix;
    /// Somebody under 18 is planned for work overhead.
    YoungOverhead = "overhead-too-young", Fix;
    /// Two things have one number at one desk.
    DeskNumberTwice = "desk-number-twice", Fix;
    /// A cue comes after one that does not come.
    AfterNothing = "after-nothing", Fix;
    /// The work between two services is not done before the doors open.
    BetweenTooLong = "between-too-long", Fix;
    /// Two services are too close together for the show's own work.
    ServicesClose = "services-too-close", Fix;
    /// A surface cannot throw back and let through as much light as is stated.
    GainImpossible = "gain-impossible", Fix;
    /// A picture's contrast is too low under the light that is planned with it.
    PictureWashed = "picture-washed-out", Fix;
    /// A tempo that hardly any song has.
    TempoOdd = "tempo-odd", Note;
    /// A mark of the song stands beyond its end.
    MarkBeyond = "mark-beyond-song", Fix;
    /// A release is fired by a receiver that other things are sent to.
    ReleaseShares = "release-shares-receiver", Note;
    /// The farthest coil gets less than its pull-in voltage.
    CoilVoltage = "coil-voltage-low", Stop;
    /// A cue lands outside its song.
    LandOutside = "land-outside-song", Fix;
    /// A message would have to leave before the count-in.
    SendBefore = "send-before-count-in", Fix;
    /// A cue is on a bar that its song does not have.
    BarMissing = "bar-missing", Fix;
    /// A cue is on a beat that its bar does not have.
    BeatMissing = "beat-missing", Note;
    /// Two media items play on one layer at once.
    MediaOverlap = "media-overlap", Fix;
    /// A media item plays and no output shows it.
    MediaUnseen = "media-unseen", Fix;
    /// An output is sent to a layer on which nothing plays.
    OutputEmpty = "output-empty", Fix;
    /// The audience is left with nothing at a handover.
    HandoverGap = "handover-gap", Fix;
    /// A projector stays on after its fabric has gone.
    HandoverLight = "handover-light-on-people", Fix;
    /// A cue that a hang-up plan holds has been sent before anybody can see the hang-up.
    HangUpHold = "hang-up-hold-too-late", Fix;
    /// Two releases of one arm holder may be armed at the same time.
    ArmOverlap = "release-arm-overlap", Fix;
    /// The safety sheet lacks something else that a release needs, besides clear signal and arm holder.
    SafetyOpen = "safety-sheet-open", Fix;
    /// A planned handover's cues are not where its plan puts them.
    HandoverMoved = "handover-moved", Fix;
    /// Both outputs of a planned handover are lit for too long.
    HandoverBoth = "handover-both-lit", Fix;
    /// Two different actions send the same message.
    MessageSame = "message-same", Fix;
    /// A receiver gets two messages within its shortest gap.
    ReceiverGap = "receiver-gap", Fix;
    /// A message waits too long for its port.
    PortLate = "port-late", Fix;
    /// Two calls are too close together for one person to say.
    CallsOverlap = "calls-overlap", Fix;
    /// A clock-anchored cue was placed when the tempo was different.
    TempoChanged = "clock-cue-tempo-changed", Fix;
    /// The picture is darker than wanted.
    PictureDim = "picture-dim", Fix;
    /// The picture's contrast is under its viewing category's figure.
    ContrastLow = "contrast-low", Fix;
    /// Nobody has said what is done if a fabric stays, or falls early.
    BranchMissing = "branch-missing", Fix;
    /// What is sent when a release takes another course names something that is not there.
    BranchDangling = "branch-thing-missing", Fix;
    /// A bend of the song lies where a release is armed or sent.
    BendAtRelease = "bend-at-release", Fix;
    /// Two bends of the song are in each other's way, or one can do nothing.
    BendClash = "bend-clash", Fix;
    /// The supply or its branch is loaded beyond its rating.
    SupplyLoad = "supply-overloaded", Stop;
    /// A measured drop is faster than free fall.
    DropTooFast = "drop-faster-than-free-fall", Fix;
    /// A measured drop is far from the others.
    DropOdd = "drop-odd", Note;
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
    /// The service it is in; `None` for the rig, which all services share.
    pub service: Option<String>,
    /// The cues it is about.
    pub cues: Vec<Label>,
    /// Where and what is wrong.
    pub what: String,
    /// What to do.
    pub remedy: String,
}

impl Problem {
    /// A problem of the rig or the kit, whichever service plays.
    pub(super) fn of_rig(code: Code, what: String, remedy: &str) -> Problem {
        Problem { code, service: None, cues: Vec::new(), what, remedy: remedy.to_owned() }
    }

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

/// Worst first, then by code and cue.
pub(super) fn sorted(mut found: Vec<Problem>) -> Vec<Problem> {
    found.sort_by(|a, b| (a.severity(), a.code, &a.cues).cmp(&(b.severity(), b.code, &b.cues)));
    found
}

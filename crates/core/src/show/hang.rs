//! The hung fabric, what holds it, and what lets it go.

use super::rig::is_default;
use super::{Branch, Course, HangKey, HangUp, Label, Latency, Message, ReceiverKey, ReleaseKey, SentInstead};
use crate::time::{SongSpan, SongTime};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A hung fabric.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Hang {
    /// Its key.
    pub key: HangKey,
    /// Its name.
    pub name: String,
    /// Width along the top, metres.
    pub width_m: f64,
    /// Height of the cloth from top edge to hem, metres.
    pub drop_m: f64,
    /// Height of the top edge above the floor, metres.
    pub top_m: f64,
    /// Mass of the cloth per square metre, kg/m².
    pub areal_mass_kg_m2: f64,
    /// Mass of what stays up there: carrier, release units, fittings, kg.
    #[serde(default)]
    pub hardware_kg: f64,
    /// Length of the bar, batten or truss that carries it, metres, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bar_m: Option<f64>,
    /// How many eyelets along its top, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub eyelets: Option<u32>,
    /// Whether it hangs flat or in folds.
    #[serde(default, skip_serializing_if = "is_default")]
    pub lies: Lies,
    /// What weighs its lower edge.
    #[serde(default, skip_serializing_if = "is_default")]
    pub hem: Hem,
    /// The flame certificate of this piece of cloth.
    #[serde(default, skip_serializing_if = "is_default")]
    pub certificate: FlameCertificate,
    /// Who carries the fallen fabric away, and by when. Empty: nobody has said.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub pile: String,
    /// Its size when folded, in words, such as "0.6 × 0.4 × 0.3 m". Empty: not known.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub folded: String,
    /// Where its sightline comes from, such as the seat that it was taken from in the room. Empty: typed.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub sightline_from: String,
    /// How people reach what it hangs from.
    #[serde(default, skip_serializing_if = "is_default")]
    pub reach: Reach,
    /// Height at which the audience sees over the fallen edge, metres above the floor.
    pub sightline_m: f64,
    /// How it opens.
    #[serde(default)]
    pub kind: FallKind,
    /// Timed drops. They override any model.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub measured: Vec<MeasuredDrop>,
}

impl Hang {
    /// Mass of the cloth, kilograms, flat and without what weighs its hem.
    pub fn cloth_kg(&self) -> f64 {
        self.width_m * self.drop_m * self.areal_mass_kg_m2
    }

    /// A fabric of a size, its cloth of 0.15 kg/m², of which nothing else is known yet.
    pub fn new(key: HangKey, name: &str, width_m: f64, drop_m: f64, top_m: f64, sightline_m: f64) -> Hang {
        Hang {
            key,
            name: name.to_owned(),
            width_m,
            drop_m,
            top_m,
            areal_mass_kg_m2: 0.15,
            hardware_kg: 0.0,
            bar_m: None,
            eyelets: None,
            lies: Lies::default(),
            hem: Hem::default(),
            certificate: FlameCertificate::default(),
            pile: String::new(),
            folded: String::new(),
            reach: Reach::default(),
            sightline_m,
            sightline_from: String::new(),
            kind: FallKind::default(),
            measured: Vec::new(),
        }
    }
}

/// How a fabric hangs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Lies {
    /// Not known yet.
    #[default]
    Unknown,
    /// Flat, as pictures need it.
    Flat,
    /// In folds.
    Gathered,
}

impl Lies {
    /// All of them.
    pub const ALL: [Lies; 3] = [Lies::Unknown, Lies::Flat, Lies::Gathered];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Lies::Unknown => "not known yet",
            Lies::Flat => "flat",
            Lies::Gathered => "in folds",
        }
    }
}

/// What weighs the lower edge of a fabric.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Hem {
    /// Not known yet.
    #[default]
    Unknown,
    /// Nothing but the cloth.
    Soft,
    /// A chain.
    Chain,
    /// A rod or pipe. It falls on whoever stands beneath.
    Rod,
}

impl Hem {
    /// All of them.
    pub const ALL: [Hem; 4] = [Hem::Unknown, Hem::Soft, Hem::Chain, Hem::Rod];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Hem::Unknown => "not known yet",
            Hem::Soft => "soft",
            Hem::Chain => "chain",
            Hem::Rod => "rod",
        }
    }
}

/// The record of a flame test of a piece of cloth, as its papers have it. Letfall keeps it and says nothing of what it is worth.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct FlameCertificate {
    /// Its number, and the standard that it names.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub number: String,
    /// Its date, as YYYY-MM-DD.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub dated: String,
    /// The last day on which it holds, as YYYY-MM-DD; empty if it does not say.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub expires: String,
}

/// How a fabric opens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum FallKind {
    /// The top edge is let go and the whole cloth falls.
    #[default]
    Falls,
    /// The top edge stays; the cloth is let go from a bundle and opens downwards.
    Unfurls,
}

/// How people reach what a fabric hangs from. It decides how long it takes to hang it again between two services.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Reach {
    /// Not known yet; taken as if it were lowered.
    #[default]
    Unknown,
    /// The bar is lowered to the floor.
    Lowered,
    /// From a lift, tower or ladder.
    Lift,
}

impl Reach {
    /// How much time the show's own work needs between the end of one service and the start of the next: 60 minutes with a bar that
    /// is lowered, 90 from a lift or tower. Common practice, no source.
    pub const fn turnaround(self) -> SongSpan {
        match self {
            Reach::Unknown | Reach::Lowered => SongSpan::from_millis(60 * 60_000),
            Reach::Lift => SongSpan::from_millis(90 * 60_000),
        }
    }
}

/// A moment of a fall.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Instant {
    /// The contact has acted and the cloth starts to move.
    #[default]
    LetGo,
    /// The top edge (or, unfurling, the hem) passes the sightline.
    Sightline,
    /// It is on the floor (unfurling: fully open).
    Floor,
}

/// One timed drop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasuredDrop {
    /// The moment it was timed to, counted from let-go.
    pub to: Instant,
    /// Seconds.
    pub seconds: f64,
    /// How it was timed. Not said means with a clock that shows hundredths of a second.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<TimedBy>,
    /// When and how.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// Why a person struck it. A struck drop stays in the show and on paper, and no figure is worked out from it. Empty if it counts.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub struck: String,
}

impl MeasuredDrop {
    /// Whether it counts: no person has struck it.
    pub fn counts(&self) -> bool {
        self.struck.trim().is_empty()
    }
}

/// How a drop was timed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum TimedBy {
    /// By hand, with a stopwatch.
    Hand,
    /// From a film of about 25 or 30 pictures a second.
    Film25,
    /// From a film of 50 or 60 pictures a second.
    Film50,
    /// By a sensor or from a recording of sound, to a millisecond or so.
    Sensor,
}

impl TimedBy {
    /// All of them.
    pub const ALL: [TimedBy; 4] = [TimedBy::Hand, TimedBy::Film25, TimedBy::Film50, TimedBy::Sensor];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            TimedBy::Hand => "stopwatch in a hand",
            TimedBy::Film25 => "film, 25 or 30 a second",
            TimedBy::Film50 => "film, 50 or 60 a second",
            TimedBy::Sensor => "sensor",
        }
    }
}

/// One dry contact that lets fabric go.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Release {
    /// Its key.
    pub key: ReleaseKey,
    /// Its name.
    pub name: String,
    /// The fabric it lets go.
    pub hang: HangKey,
    /// How many release units are on the circuit.
    pub units: u32,
    /// Where the units stand, metres from the fabric's left edge as the audience sees it. Empty: evenly, one at each end.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub units_at_m: Vec<f64>,
    /// Whether units let go when power is applied or when it is removed.
    #[serde(default)]
    pub kind: ReleaseKind,
    /// What kind of unit holds the fabric.
    #[serde(default, skip_serializing_if = "is_default")]
    pub unit_kind: UnitKind,
    /// The least load at which the maker says that a unit lets go, kilograms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit_least_kg: Option<f64>,
    /// The greatest load that the maker states for a unit, kilograms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit_most_kg: Option<f64>,
    /// The direction of pull that the maker states, such as "straight down, 10° at most".
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub unit_pull: String,
    /// The receiver that fires it: a contact box, or a lighting receiver that recalls a switched (non-dim) circuit.
    pub receiver: ReceiverKey,
    /// The message that fires it.
    pub message: Message,
    /// A harmless message sent instead in rehearsal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stand_in: Option<Message>,
    /// How long the contact stays closed, µs. The end that [`Release::ends`] names is sent after this time, whatever length the
    /// message itself has.
    #[serde(rename = "pulse_us", default = "half_second")]
    pub pulse: SongSpan,
    /// What opens the contact again. If not given, a note ends with its note off; for any other message it must be given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ends: Option<ReleaseEnd>,
    /// From contact to let-go: relay, coil and pin.
    #[serde(default)]
    pub contact: Latency,
    /// How long before land arming is possible, µs.
    #[serde(rename = "arm_before_us", default = "ten_seconds")]
    pub arm_before: SongSpan,
    /// How long after land arming stays possible, µs.
    #[serde(rename = "arm_after_us", default = "two_seconds")]
    pub arm_after: SongSpan,
    /// The circuit's electrical data.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub circuit: Option<Circuit>,
    /// What happens if a unit stays shut.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hang_up: Option<HangUp>,
    /// Cues that only make sense once its fabric has fallen, besides those of its handover. They are not sent if it does not go.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub depends: Vec<Label>,
    /// What happens if nobody arms it in time, and the fabric stays.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stays: Option<Branch>,
    /// What happens if the fabric falls before its time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub early: Option<Branch>,
}

impl Release {
    /// A release of a hang, of which nothing else is known yet.
    pub fn new(key: ReleaseKey, name: &str, hang: HangKey, receiver: ReceiverKey, message: Message) -> Release {
        Release {
            key,
            name: name.to_owned(),
            hang,
            units: 8,
            units_at_m: Vec::new(),
            kind: ReleaseKind::default(),
            unit_kind: UnitKind::default(),
            unit_least_kg: None,
            unit_most_kg: None,
            unit_pull: String::new(),
            receiver,
            message,
            stand_in: None,
            pulse: half_second(),
            ends: None,
            contact: Latency::default(),
            arm_before: ten_seconds(),
            arm_after: two_seconds(),
            circuit: None,
            hang_up: None,
            depends: Vec::new(),
            stays: None,
            early: None,
        }
    }

    /// How long somebody must have held the arm before the release leaves, at least. Our own figure: longer than any accidental press.
    pub const HOLD: SongSpan = SongSpan::from_millis(1000);

    /// What is sent when it takes another course. Nothing if the show does not say.
    pub fn sent_instead(&self, course: Course) -> SentInstead<'_> {
        let branch = match course {
            Course::Stays => &self.stays,
            Course::Early => &self.early,
            Course::Stuck => {
                let plan = self.hang_up.as_ref();
                return plan.map_or_else(SentInstead::default, |plan| SentInstead {
                    lights: &plan.lights,
                    media: &plan.media,
                    routes: &plan.show,
                });
            }
        };
        branch.as_ref().map_or_else(SentInstead::default, |branch| SentInstead {
            lights: &branch.lights,
            media: &branch.media,
            routes: &branch.show,
        })
    }

    /// The song times between which the release can be armed, given its send and land: from `arm_before` before the earlier of
    /// the two to `arm_after` after the later. Counted from the land alone, a long lead would open the window too late.
    pub fn window(&self, send: SongTime, land: SongTime) -> (SongTime, SongTime) {
        (send.min(land) - self.arm_before, send.max(land) + self.arm_after)
    }

    /// Whether the show says what opens the contact again, in a way that works for the release's message.
    pub const fn end_is_stated(&self) -> bool {
        let is_note = matches!(self.message, Message::Note { .. });
        matches!(self.ends, Some(ReleaseEnd::Message(_) | ReleaseEnd::OwnTimer {})) || is_note
    }
}

const fn half_second() -> SongSpan {
    SongSpan::from_millis(500)
}

const fn ten_seconds() -> SongSpan {
    SongSpan::from_millis(10_000)
}

const fn two_seconds() -> SongSpan {
    SongSpan::from_millis(2_000)
}

/// What opens a release's contact again after its pulse.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum ReleaseEnd {
    /// The note off of the release's own note.
    NoteOff {},
    /// Another message to the same receiver.
    Message(Message),
    /// The box opens it by itself, and somebody has tested that it does.
    OwnTimer {},
}

/// What opens a release unit. The two fail in opposite ways when power is lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ReleaseKind {
    /// Not known yet.
    #[default]
    Unknown,
    /// Applying power lets go; without power it stays shut.
    Energise,
    /// Power holds; without power it lets go.
    Deenergise,
}

/// What kind of unit holds the fabric. It matters as long as nobody has measured how long it takes to let go.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum UnitKind {
    /// Not known yet.
    #[default]
    Unknown,
    /// A solenoid that draws a pin or opens a latch.
    Latch,
    /// An electromagnet that holds, and lets go without current.
    Magnet,
}

/// A release circuit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Circuit {
    /// Supply voltage, volts.
    pub supply_v: f64,
    /// Lowest supply voltage to expect, volts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supply_low_v: Option<f64>,
    /// What the supply can give, watts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supply_w: Option<f64>,
    /// Power of one unit at its rated voltage, watts.
    pub unit_w: f64,
    /// A unit's rated voltage, volts.
    pub unit_v: f64,
    /// Voltage from which a unit acts, as the maker states it, volts.
    pub pull_in_v: f64,
    /// The coil temperature that the maker states it for, °C; 20 if nobody has said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pull_in_c: Option<f64>,
    /// Cable.
    pub conductor: Conductor,
    /// Hottest the cable gets, °C.
    #[serde(default = "room")]
    pub cable_c: f64,
    /// Hottest a coil gets, °C (its resistance is rated at 20 °C).
    #[serde(default = "room")]
    pub coil_c: f64,
    /// How the units are wired.
    pub wiring: Wiring,
    /// Rating of the fuse or breaker of the branch that feeds the supply, amperes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub branch_a: Option<f64>,
    /// Mains voltage of that branch, volts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub branch_v: Option<f64>,
}

const fn room() -> f64 {
    20.0
}

/// A cable's conductor. The two tables are for different temperatures and are never mixed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Conductor {
    /// IEC 60228 at 20 °C: cross-section in mm² and class.
    Iec {
        /// mm²: 0.5, 0.75, 1, 1.5, 2.5, 4, 6 or 10.
        mm2: f64,
        /// Solid and stranded, or flexible.
        class: ConductorClass,
    },
    /// NEC chapter 9 table 8 at 75 °C: stranded, uncoated copper.
    Awg(u8),
}

/// Conductor classes of IEC 60228.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ConductorClass {
    /// Class 1 or 2.
    Fixed,
    /// Class 5.
    Flexible,
}

/// How release units are connected to their cable.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Wiring {
    /// All at the end of one run.
    Together {
        /// One way, metres.
        feed_m: f64,
    },
    /// Each on its own run from the contact.
    Star {
        /// The longest run, one way, metres.
        longest_m: f64,
    },
    /// One after another.
    Chain {
        /// To the first unit, one way, metres.
        feed_m: f64,
        /// From each unit to the next, metres.
        step_m: f64,
    },
}

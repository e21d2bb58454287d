//! What is asked on a walk round the room. The questions are common practice, no source; the answers are whoever's who gives them.

use super::Known;
use crate::show::rig::is_default;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// An answer of the survey.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SurveyAnswer {
    /// What was asked.
    pub question: SurveyQuestion,
    /// The answer; empty while it is open.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub answer: String,
    /// Who gave it, and when.
    #[serde(default, skip_serializing_if = "is_default")]
    pub known: Known,
}

/// A part of the survey.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum SurveyPart {
    /// Overhead.
    Overhead,
    /// Light and air.
    LightAndAir,
    /// Power and alarm.
    PowerAndAlarm,
    /// Access.
    Access,
}

impl SurveyPart {
    /// All parts in order.
    pub const ALL: [SurveyPart; 4] =
        [SurveyPart::Overhead, SurveyPart::LightAndAir, SurveyPart::PowerAndAlarm, SurveyPart::Access];

    /// Its heading.
    pub const fn name(self) -> &'static str {
        match self {
            SurveyPart::Overhead => "Overhead",
            SurveyPart::LightAndAir => "Light and air",
            SurveyPart::PowerAndAlarm => "Power and alarm",
            SurveyPart::Access => "Way in, keys and people",
        }
    }
}

macro_rules! questions {
    ($($(#[$doc:meta])* $name:ident = $part:ident, $text:literal, $ask:literal;)*) => {
        /// A question of the survey.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
        #[serde(rename_all = "kebab-case")]
        pub enum SurveyQuestion { $($(#[$doc])* $name),* }

        impl SurveyQuestion {
            /// All questions in order.
            pub const ALL: &'static [SurveyQuestion] = &[$(SurveyQuestion::$name),*];

            /// The part of the survey it belongs to.
            pub const fn part(self) -> SurveyPart {
                match self { $(SurveyQuestion::$name => SurveyPart::$part),* }
            }

            /// The question.
            pub const fn text(self) -> &'static str {
                match self { $(SurveyQuestion::$name => $text),* }
            }

            /// Whom to ask.
            pub const fn ask(self) -> &'static str {
                match self { $(SurveyQuestion::$name => $ask),* }
            }
        }
    };
}

questions! {
    /// Who is competent for what is overhead.
    Competent = Overhead, "Who may say what hangs from this roof, and when can they come?", "whoever runs the house";
    /// Drawings of the roof.
    Drawings = Overhead, "Are there drawings or load papers of the roof and the bars? Where?", "whoever runs the house";
    /// Above the false ceiling.
    AboveCeiling = Overhead, "What is above the false ceiling at each wished point? Who has looked?", "the competent person";
    /// Reach of the points.
    ReachPoints = Overhead, "How are the points reached: bar lowered, lift, tower, ladder? Over fixed seats or a sloping floor?", "the competent person";
    /// Sprinklers and detectors.
    Sprinklers = Overhead, "Sprinklers, detectors and hot lamps near the fabric: where, and what distance is asked for?", "whoever runs the house";
    /// Daylight.
    Daylight = LightAndAir, "Daylight on the fabric at each service's hour: which windows, can they be darkened?", "look at that hour";
    /// Light that stays on.
    StaysOn = LightAndAir, "What light stays on: exit signs, aisle lights, bar, organ loft?", "whoever runs the house";
    /// Moving air.
    MovingAir = LightAndAir, "Does the fabric move: heating, ventilation, doors? What can be turned off, and by whom?", "whoever runs the house";
    /// Circuits.
    Circuits = PowerAndAlarm, "Which circuits, sockets and breakers are there, and what else is on them?", "a licensed electrician";
    /// Working light.
    WorkingLight = PowerAndAlarm, "Where is the switch of the working light, and who can reach it in the dark?", "whoever runs the house";
    /// Fire alarm and haze.
    Haze = PowerAndAlarm, "Haze: which detectors, who may isolate the alarm, who watches meanwhile?", "whoever runs the house";
    /// Exits and extinguishers.
    Exits = PowerAndAlarm, "Ways out, extinguishers, signs: what must the fabric never cover, lying or hanging?", "whoever runs the house";
    /// The longest piece.
    LongestPiece = Access, "The longest and the heaviest piece that comes through the door and round the corners?", "measure it";
    /// Loading.
    Loading = Access, "Where can be unloaded, how far, how many steps?", "whoever runs the house";
    /// Floor.
    Floor = Access, "May a lift or tower stand on this floor? What protects it?", "whoever runs the house";
    /// Hours.
    Hours = Access, "From when to when can we be in, and when must it be quiet?", "whoever runs the house";
    /// Keys.
    Keys = Access, "Who holds the keys, and who is reached at night?", "whoever runs the house";
    /// Store.
    Store = Access, "Where does the fabric dry and lie between the days?", "whoever runs the house";
}

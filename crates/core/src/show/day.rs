//! The day of the show: who is on the crew, what is done between two services, which papers there are, what is still open, and how a
//! show is stopped. Letfall records what people have settled and never judges it.

use super::rig::is_default;
use crate::time::SongSpan;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A role on the crew.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct CrewMember {
    /// The role, such as "lighting operator": what the sheets call this person.
    pub role: String,
    /// Who it is, if the show should hold it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// The headset channel; empty for nobody who wears one.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub headset: String,
    /// Where this person stands at the big moment.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub stands: String,
    /// The role that stands in for this one.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub stand_in: String,
    /// Whether whoever has the role is under 18, so that nobody plans them for work overhead.
    #[serde(skip_serializing_if = "is_default")]
    pub under_18: bool,
    /// What this role does tonight, in a sentence or two.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub does: String,
    /// What this role says, word for word.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub says: String,
    /// What this role does when something goes wrong.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub if_wrong: String,
}

/// The calls of the day that a house gives before it begins, in minutes. Common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum DayCalls {
    /// 35, 20, 10 and 5 minutes before, the last being "beginners": they are counted to five minutes before the beginning.
    #[default]
    ThirtyFive,
    /// 30, 15 and 5 minutes before, then "places".
    Thirty,
}

impl DayCalls {
    /// Both.
    pub const ALL: [DayCalls; 2] = [DayCalls::ThirtyFive, DayCalls::Thirty];

    /// Its name on screen.
    pub const fn name(self) -> &'static str {
        match self {
            DayCalls::ThirtyFive => "35, 20, 10 and 5 minutes",
            DayCalls::Thirty => "30, 15 and 5 minutes, places",
        }
    }

    /// Each call: its words and how many minutes before the beginning it is given.
    pub const fn calls(self) -> [(&'static str, i64); 4] {
        match self {
            DayCalls::ThirtyFive => {
                [("the half", 35), ("the quarter", 20), ("the five", 10), ("beginners to their places", 5)]
            }
            DayCalls::Thirty => [("thirty minutes", 30), ("fifteen minutes", 15), ("five minutes", 5), ("places", 0)],
        }
    }
}

/// A step between two services. The order is fixed, because each of them makes the next one possible without harm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BetweenStep {
    /// Key out, and the release made inactive as its kind requires.
    #[default]
    Inactive,
    /// The audience leaves.
    AudienceOut,
    /// The fabric is taken off the floor and looked over.
    FabricUp,
    /// The contact is proved open.
    ContactOpen,
    /// The bar comes down.
    BarDown,
    /// The units are reset and counted.
    UnitsReset,
    /// The fabric is hung, from the centre out.
    Hang,
    /// Each unit is tugged.
    Tug,
    /// Retaining ties go on, counted.
    TiesOn,
    /// The bar goes to its mark.
    BarUp,
    /// The competent person looks.
    Looked,
    /// The stand-in is tried.
    StandIn,
    /// The ties come off, counted back.
    TiesOff,
    /// The zone is set.
    Zone,
}

impl BetweenStep {
    /// All steps in the order in which they are done.
    pub const ALL: [BetweenStep; 14] = [
        BetweenStep::Inactive,
        BetweenStep::AudienceOut,
        BetweenStep::FabricUp,
        BetweenStep::ContactOpen,
        BetweenStep::BarDown,
        BetweenStep::UnitsReset,
        BetweenStep::Hang,
        BetweenStep::Tug,
        BetweenStep::TiesOn,
        BetweenStep::BarUp,
        BetweenStep::Looked,
        BetweenStep::StandIn,
        BetweenStep::TiesOff,
        BetweenStep::Zone,
    ];

    /// Its name on screen.
    pub const fn name(self) -> &'static str {
        match self {
            BetweenStep::Inactive => "release inactive",
            BetweenStep::AudienceOut => "audience out",
            BetweenStep::FabricUp => "fabric off the floor",
            BetweenStep::ContactOpen => "contact proved open",
            BetweenStep::BarDown => "bar down",
            BetweenStep::UnitsReset => "units reset and counted",
            BetweenStep::Hang => "hang from the centre out",
            BetweenStep::Tug => "tug each unit",
            BetweenStep::TiesOn => "retaining ties on",
            BetweenStep::BarUp => "bar to its mark",
            BetweenStep::Looked => "the competent person looks",
            BetweenStep::StandIn => "stand-in test",
            BetweenStep::TiesOff => "ties off",
            BetweenStep::Zone => "zone set",
        }
    }

    /// How many minutes it takes and how many people, as long as nobody has said. They add up to 56 minutes with a bar that is lowered.
    /// Common practice, no source.
    pub const fn usual(self) -> (u16, u16) {
        match self {
            BetweenStep::AudienceOut => (15, 2),
            BetweenStep::FabricUp => (5, 4),
            BetweenStep::BarDown | BetweenStep::BarUp => (3, 3),
            BetweenStep::UnitsReset | BetweenStep::Looked => (4, 1),
            BetweenStep::Hang => (8, 4),
            BetweenStep::TiesOn | BetweenStep::TiesOff => (3, 2),
            BetweenStep::ContactOpen | BetweenStep::Tug | BetweenStep::StandIn => (2, 2),
            BetweenStep::Inactive | BetweenStep::Zone => (1, 2),
        }
    }
}

/// How long a step between two services takes here and who does it, or a task of the house's own that follows it.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct BetweenTask {
    /// The step, or the one that this task follows.
    pub step: BetweenStep,
    /// The task in words; empty for the step itself.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub what: String,
    /// Minutes.
    pub minutes: u16,
    /// How many people.
    pub people: u16,
    /// Who, as roles.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub who: String,
}

/// One line of what is done between two services.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BetweenLine {
    /// The step, or the one that it follows.
    pub step: BetweenStep,
    /// The house's own task; empty for the step itself.
    pub own: String,
    /// Minutes.
    pub minutes: u16,
    /// How many people.
    pub people: u16,
    /// Who, as roles.
    pub who: String,
    /// Whether nobody has said how long it takes.
    pub assumed: bool,
}

/// Everything that is done between two services, in an order that cannot hurt: the steps, with a house's own tasks after the one that
/// they follow.
pub fn between_lines(tasks: &[BetweenTask]) -> Vec<BetweenLine> {
    let mut lines = Vec::new();
    for step in BetweenStep::ALL {
        let said = tasks.iter().find(|task| task.step == step && task.what.trim().is_empty());
        let (minutes, people) = said.map_or(step.usual(), |task| (task.minutes, task.people));
        lines.push(BetweenLine {
            step,
            own: String::new(),
            minutes,
            people,
            who: said.map_or_else(String::new, |task| task.who.clone()),
            assumed: said.is_none(),
        });
        let own = tasks.iter().filter(|task| task.step == step && !task.what.trim().is_empty());
        lines.extend(own.map(|task| BetweenLine {
            step,
            own: task.what.trim().to_owned(),
            minutes: task.minutes,
            people: task.people,
            who: task.who.clone(),
            assumed: false,
        }));
    }
    lines
}

/// How long all of it takes, one after another.
pub fn between_total(tasks: &[BetweenTask]) -> SongSpan {
    let minutes: i64 = between_lines(tasks).iter().map(|line| i64::from(line.minutes)).sum();
    SongSpan::from_millis(minutes * 60_000)
}

/// A certificate, permit, permission or inspection, as the user enters it. Letfall gives no advice about them.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct DayPaper {
    /// What it is, such as "flame certificate of the front fabric".
    pub what: String,
    /// Its number, or who gave it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub number: String,
    /// Its date, as YYYY-MM-DD.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub dated: String,
    /// The last day on which it holds, as YYYY-MM-DD; empty if it does not end.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub expires: String,
    /// Where it is kept, and anything else.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// Something that is still to be settled.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct OpenNote {
    /// What.
    pub what: String,
    /// Who settles it, as a role.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub owner: String,
    /// When it was closed, as YYYY-MM-DD; empty while it is open.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub closed: String,
}

/// How a show is stopped, for the card that everybody carries.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct ShowStop {
    /// Who may say it, as roles.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub said_by: String,
    /// Who raises the working light, and where its switch is.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub working_light: String,
    /// Who takes the music out, and how.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub music_out: String,
    /// Who tells band and choir, who wear no headset, and how.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub tells_band: String,
    /// The ways out: not under a fabric that may still fall, nor over one that lies on the floor.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub routes: String,
    /// Where people assemble.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub assembly: String,
    /// Who counts heads, and how many there are.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub head_count: String,
    /// Where the audience and the stage are told from, and the words.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub announcement: String,
}

impl ShowStop {
    /// Whether nobody has filled in anything.
    pub fn is_empty(&self) -> bool {
        is_default(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_order_cannot_be_changed_and_own_tasks_follow_their_step() {
        let task =
            |step, what: &str, minutes| BetweenTask { step, what: what.into(), minutes, ..BetweenTask::default() };
        let tasks = [
            task(BetweenStep::Zone, "", 4),
            task(BetweenStep::Hang, "fold the hem", 6),
            task(BetweenStep::Hang, "", 20),
        ];
        let lines = between_lines(&tasks);
        assert!(lines.is_sorted_by_key(|line| line.step));
        assert_eq!(lines.len(), 15);
        let hang: Vec<_> = lines.iter().filter(|line| line.step == BetweenStep::Hang).collect();
        assert_eq!((hang[0].minutes, hang[0].assumed, hang[1].own.as_str()), (20, false, "fold the hem"));
        // 56 as usual; hanging takes 12 more, the zone 3 more, the hem 6.
        assert_eq!(between_total(&[]).micros(), 56 * 60_000_000);
        assert_eq!(between_total(&tasks).micros(), (56 + 12 + 3 + 6) * 60_000_000);
    }
}

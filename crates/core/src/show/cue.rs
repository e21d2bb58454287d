//! A cue: one planned event on a track.

use super::rig::is_default;
use super::{Anchor, Instant, Kind, Label, Length, MediaKey, PresetKey, ReleaseKey, RouteKey, TrackKey};
use crate::time::SongSpan;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One planned event.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Cue {
    /// Its name within the service; stays the same when it moves.
    pub label: Label,
    /// Its track.
    pub track: TrackKey,
    /// When the audience must perceive it.
    pub at: Anchor,
    /// What it does.
    pub does: Action,
    /// What happens, in the crew's words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub text: String,
    /// The number that the operator's console shows for it, if it is not that of the item it calls up. It is what is spoken.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub desk: String,
    /// How long it lasts, if not as long as the item it plays.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length: Option<Length>,
    /// How much earlier (or later, if negative) than calculated it is sent, µs. For corrections found in rehearsal.
    #[serde(rename = "lead_adjust_us", default, skip_serializing_if = "is_default")]
    pub lead_adjust: SongSpan,
    /// How it is called, if not in its track's usual way.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub call: Option<Box<Call>>,
    /// A remark for people who read the plan.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// Planned but not sent.
    #[serde(default, skip_serializing_if = "is_default")]
    pub resting: bool,
    /// The service and label it was copied from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub copied_from: Option<Box<Origin>>,
    /// Fingerprint of the grid on which a clock-anchored cue was placed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub placed_on: Option<u64>,
}

/// Where a copied cue came from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Origin {
    /// Service, by name.
    pub service: String,
    /// Label there.
    pub label: Label,
}

/// What a cue does. One variant for each kind.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Action {
    /// Starts a picture or film.
    Media {
        /// Which.
        item: MediaKey,
    },
    /// Recalls a preset.
    Lighting {
        /// Which.
        preset: PresetKey,
        /// Its fade in this cue, µs, if not the preset's own.
        #[serde(rename = "fade_us", default, skip_serializing_if = "Option::is_none")]
        fade: Option<SongSpan>,
        /// How much of the fade must be done at land.
        #[serde(default, skip_serializing_if = "is_default")]
        share: FadeShare,
    },
    /// Lets fabric go.
    Release {
        /// Which circuit.
        release: ReleaseKey,
        /// Which moment of the fall is the land.
        #[serde(default)]
        lands: Instant,
    },
    /// Changes what an output shows.
    Output {
        /// To which route; the route knows its output.
        route: RouteKey,
    },
}

/// How much of a fade must be done at land.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum FadeShare {
    /// It starts at land.
    #[default]
    Start,
    /// Half way at land.
    Half,
    /// Done at land.
    Done,
}

/// What sets a cue off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Goes {
    /// Letfall sends its message, and the caller watches that it comes. Nobody says "go", because no hand would act on it.
    #[default]
    Machine,
    /// An operator presses at the desk, on the caller's word. Letfall sends nothing.
    Operator,
    /// It comes after another cue, at the desk or by the operator's own eyes. Nobody calls it, and Letfall sends nothing.
    After(Label),
}

impl Goes {
    /// Whether Letfall sends the message.
    pub const fn by_machine(self) -> bool {
        matches!(self, Goes::Machine)
    }
}

/// How one cue is set off, and what the stage manager says for it.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Call {
    /// What sets it off; if not given, as its track says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub goes: Option<Goes>,
    /// For a release: whether it is called at all. For any other cue that goes by machine: whether the caller watches that it comes. If
    /// not given, the track decides.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub called: Option<bool>,
    /// It goes by machine, and somebody watches that it comes.
    #[serde(skip_serializing_if = "is_default")]
    pub watched: bool,
    /// What is heard or seen when it is called, if the marks on the song do not say it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub heard: String,
    /// How far ahead its standby is said, µs; if not given, as in the show's settings. 0: no standby.
    #[serde(rename = "standby_us", skip_serializing_if = "Option::is_none")]
    pub standby: Option<SongSpan>,
    /// Words for the standby, if not the usual ones.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub standby_words: String,
    /// Words for the go, if not the usual ones.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub go_words: String,
}

impl Action {
    /// The kind of cue that does this.
    pub const fn kind(&self) -> Kind {
        match self {
            Action::Media { .. } => Kind::Media,
            Action::Lighting { .. } => Kind::Lighting,
            Action::Release { .. } => Kind::Release,
            Action::Output { .. } => Kind::Output,
        }
    }
}

impl Cue {
    /// A cue with default values. The action must be of the label's kind.
    pub fn new(label: Label, track: TrackKey, at: Anchor, does: Action) -> Cue {
        Cue {
            label,
            track,
            at,
            does,
            text: String::new(),
            desk: String::new(),
            length: None,
            lead_adjust: SongSpan::ZERO,
            call: None,
            note: String::new(),
            resting: false,
            copied_from: None,
            placed_on: None,
        }
    }
}

//! The show itself: the root of the model, and finding its parts by key.

use super::{
    Action, BetweenTask, Budget, CrewMember, Cue, DayPaper, Goes, Hang, HangKey, KitItem, MediaItem, MediaKey, Message,
    Offer, OpenNote, Output, OutputKey, Port, PortKey, Preset, PresetKey, Receiver, ReceiverKey, Release, ReleaseKey,
    Room, Route, RouteKey, SafetySheet, Service, Settings, ShowStop, Track, TrackKey, Week,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The whole plan, stored as one file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Show {
    /// Its name.
    pub title: String,
    /// Where it plays.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub venue: String,
    /// The version printed on every page, such as "draft 3".
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub version: String,
    /// The crew's language, as a BCP 47 tag such as "en". Printed pages carry it for screen readers.
    #[serde(default = "english")]
    pub language: String,
    /// Settings for the whole show.
    #[serde(default)]
    pub settings: Settings,
    /// MIDI ports.
    #[serde(default)]
    pub ports: Vec<Port>,
    /// Devices that get messages.
    #[serde(default)]
    pub receivers: Vec<Receiver>,
    /// Lighting states.
    #[serde(default)]
    pub presets: Vec<Preset>,
    /// Pictures and films.
    #[serde(default)]
    pub media: Vec<MediaItem>,
    /// Surfaces and screens the audience sees.
    #[serde(default)]
    pub outputs: Vec<Output>,
    /// What outputs can show.
    #[serde(default)]
    pub routes: Vec<Route>,
    /// Hung fabrics.
    #[serde(default)]
    pub hangs: Vec<Hang>,
    /// Release circuits.
    #[serde(default)]
    pub releases: Vec<Release>,
    /// Rows of cues, the same in every service.
    #[serde(default)]
    pub tracks: Vec<Track>,
    /// Who is the competent person, who gives the clear signal, who arms.
    #[serde(default)]
    pub safety: SafetySheet,
    /// Who is on the crew.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub crew: Vec<CrewMember>,
    /// How long the work between two services takes here, and tasks of the house's own.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub between: Vec<BetweenTask>,
    /// Certificates, permits, permissions and inspections.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub papers: Vec<DayPaper>,
    /// What is still to be settled, and what has been.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<OpenNote>,
    /// The days from load-in to return.
    #[serde(default, skip_serializing_if = "Week::is_empty")]
    pub week: Week,
    /// The room in which it plays; not given: nobody has described it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub room: Option<Room>,
    /// How the show is stopped.
    #[serde(default, skip_serializing_if = "ShowStop::is_empty")]
    pub stop: ShowStop,
    /// What is hired or owned.
    #[serde(default)]
    pub kit: Vec<KitItem>,
    /// What the same things would cost from whom.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub offers: Vec<Offer>,
    /// What it may cost.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub budget: Option<Budget>,
    /// Who was given which sheet or file.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hand_outs: Vec<HandOut>,
    /// The performances.
    #[serde(default)]
    pub services: Vec<Service>,
}

/// A sheet or file that somebody was given, so that it can be asked back when the plan changes.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct HandOut {
    /// Who has it, as a role.
    pub who: String,
    /// What it is, such as "call sheet, Late".
    pub what: String,
    /// The fingerprint that stands on it beside version and date.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub fingerprint: String,
    /// When they got it.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub given: String,
}

fn english() -> String {
    "en".to_owned()
}

impl Show {
    /// A show with nothing in it but a title and the usual settings.
    pub fn empty(title: &str) -> Show {
        Show {
            title: title.to_owned(),
            venue: String::new(),
            version: String::new(),
            language: english(),
            settings: Settings::default(),
            ports: Vec::new(),
            receivers: Vec::new(),
            presets: Vec::new(),
            media: Vec::new(),
            outputs: Vec::new(),
            routes: Vec::new(),
            hangs: Vec::new(),
            releases: Vec::new(),
            tracks: Vec::new(),
            safety: SafetySheet::default(),
            crew: Vec::new(),
            between: Vec::new(),
            papers: Vec::new(),
            notes: Vec::new(),
            week: Week::default(),
            room: None,
            stop: ShowStop::default(),
            kit: Vec::new(),
            offers: Vec::new(),
            budget: None,
            hand_outs: Vec::new(),
            services: Vec::new(),
        }
    }

    /// The service with this name.
    pub fn service(&self, name: &str) -> Option<&Service> {
        self.services.iter().find(|s| s.name == name)
    }

    /// The port with this key.
    pub fn port(&self, key: &PortKey) -> Option<&Port> {
        self.ports.iter().find(|p| p.key == *key)
    }

    /// The receiver with this key.
    pub fn receiver(&self, key: &ReceiverKey) -> Option<&Receiver> {
        self.receivers.iter().find(|r| r.key == *key)
    }

    /// The preset with this key.
    pub fn preset(&self, key: &PresetKey) -> Option<&Preset> {
        self.presets.iter().find(|p| p.key == *key)
    }

    /// The picture or film with this key.
    pub fn media_item(&self, key: &MediaKey) -> Option<&MediaItem> {
        self.media.iter().find(|m| m.key == *key)
    }

    /// The output with this key.
    pub fn output(&self, key: &OutputKey) -> Option<&Output> {
        self.outputs.iter().find(|o| o.key == *key)
    }

    /// The route with this key.
    pub fn route(&self, key: &RouteKey) -> Option<&Route> {
        self.routes.iter().find(|r| r.key == *key)
    }

    /// The hang with this key.
    pub fn hang(&self, key: &HangKey) -> Option<&Hang> {
        self.hangs.iter().find(|h| h.key == *key)
    }

    /// The release with this key.
    pub fn release(&self, key: &ReleaseKey) -> Option<&Release> {
        self.releases.iter().find(|r| r.key == *key)
    }

    /// What is sent for an action; `None` if the item, preset, release or route that it names is not in the rig.
    pub fn message_of(&self, action: &Action) -> Option<&Message> {
        match action {
            Action::Media { item } => self.media_item(item).map(|m| &m.message),
            Action::Lighting { preset, .. } => self.preset(preset).map(|p| &p.message),
            Action::Release { release, .. } => self.release(release).map(|r| &r.message),
            Action::Output { route } => self.route(route).map(|r| &r.message),
        }
    }

    /// What sets a cue off. A release always goes by machine, while its lock is open.
    pub fn goes(&self, cue: &Cue) -> Goes {
        let own = cue.call.as_ref().and_then(|call| call.goes);
        own.unwrap_or_else(|| self.track(&cue.track).map_or(Goes::Machine, |track| track.goes))
    }

    /// Whether a cue goes by machine and the caller watches that it comes; for a release, whether it is called.
    pub fn is_watched(&self, cue: &Cue) -> bool {
        let call = cue.call.as_deref();
        let said = call.and_then(|call| if call.watched { Some(true) } else { call.called });
        let usual = || self.track(&cue.track).is_some_and(|track| track.called);
        self.goes(cue).by_machine() && said.unwrap_or_else(usual)
    }

    /// The number that the operator's console shows for a cue: its own, or that of what it calls up. Empty if it has none.
    pub fn desk_number<'a>(&'a self, cue: &'a Cue) -> &'a str {
        let own = cue.desk.trim();
        if !own.is_empty() {
            return own;
        }
        let item = match &cue.does {
            Action::Media { item } => self.media_item(item).map(|item| &item.desk),
            Action::Lighting { preset, .. } => self.preset(preset).map(|preset| &preset.desk),
            Action::Output { route } => self.route(route).map(|route| &route.desk),
            Action::Release { .. } => None,
        };
        item.map_or("", |desk| desk.trim())
    }

    /// Cost of the whole kit in hundredths of the currency, without the contingency.
    pub fn kit_cents(&self) -> u128 {
        self.kit.iter().map(|item| item.cost_cents(self.services.len())).sum()
    }

    /// The track with this key.
    pub fn track(&self, key: &TrackKey) -> Option<&Track> {
        self.tracks.iter().find(|t| t.key == *key)
    }
}

//! The show: everything people know and plan, as one value.
//!
//! Each part of the rig is defined once and referred to by key. Cues belong to a service and have a label that stays the same
//! when they move. A reference may point to something that does not exist (the checks report it), because a half-finished plan
//! must load.

mod anchor;
mod anchor_form;
mod bend;
mod branch;
pub mod cautions;
mod cue;
mod cue_list;
mod day;
mod hang;
mod key;
mod kit;
mod message;
mod offer;
mod rig;
pub mod room;
mod root;
mod safety;
mod service;
mod settings;
mod standards;
mod validate;
mod validity;
mod week;

pub use anchor::{Anchor, Length};
pub use bend::{BendMark, SongBend};
pub use branch::{Branch, Course, HangUp, SentInstead};
pub use cue::{Action, Call, Cue, FadeShare, Goes, Origin};
pub use cue_list::CueList;
pub use day::{
    BetweenLine, BetweenStep, BetweenTask, CrewMember, DayCalls, DayPaper, OpenNote, ShowStop, between_lines,
    between_total,
};
pub use hang::{
    Circuit, Conductor, ConductorClass, FallKind, FlameCertificate, Hang, Hem, Instant, Lies, MeasuredDrop, Reach,
    Release, ReleaseEnd, ReleaseKind, TimedBy, UnitKind, Wiring,
};
pub use key::{
    HangKey, Kind, Label, LayerKey, MediaKey, OutputKey, PortKey, PresetKey, ReceiverKey, ReleaseKey, RouteKey,
    TrackKey,
};
pub use kit::{Budget, KitItem, Per, Source, money};
pub use message::{BadMessage, Channel, CueNumber, CuePath, Data7, Data14, HexBytes, Message, ShowCommand};
pub use offer::{Offer, OfferCost, OfferLine};
pub use rig::{
    Carries, Combine, Latency, Link, MediaItem, Output, Port, Preset, Projection, Receiver, Route, Surface, Viewing,
};
pub use room::Room;
pub use root::{HandOut, Show};
pub use safety::SafetySheet;
pub use service::{Guide, Handover, HandoverStep, Heard, Section, Service, Song, TimecodeStart, Track};
pub use settings::{Settings, Units};
pub use standards::{STANDARDS, Standard};
pub use validity::Invalid;
pub use week::{RehearsalStep, Week, WeekCall, is_same_role};

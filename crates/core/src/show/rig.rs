//! The rig: ports, receivers, presets, media, outputs and routes.

use super::{
    Channel, Data7, HangKey, LayerKey, MediaKey, Message, OutputKey, PortKey, PresetKey, ReceiverKey, RouteKey,
};
use crate::time::SongSpan;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A MIDI port: one wire, one queue.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Port {
    /// Its key.
    pub key: PortKey,
    /// Its name in the operating system, or on the box's label.
    pub name: String,
    /// How fast bytes leave.
    #[serde(default)]
    pub link: Link,
    /// Who tested that nothing on this port reacts to timecode, clock or transport messages, and when. Empty: nobody; then none
    /// of them are sent there while a release is on the port.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub sync_confirmed_by: String,
    /// What else can send to this port, such as other programs or a merge box. Empty: nothing known.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub shared_with: String,
}

impl Port {
    /// Whether somebody tested that nothing on this port reacts to timecode, clock or transport messages.
    pub fn is_sync_confirmed(&self) -> bool {
        !self.sync_confirmed_by.trim().is_empty()
    }
}

/// How fast a port's bytes leave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Link {
    /// The 5-pin cable: 31.25 kbaud, ten bits a byte, 320 µs a byte (MIDI 1.0).
    #[default]
    Din,
    /// A link with this many bytes a second.
    BytesPerSecond(u32),
}

impl Link {
    /// Nanoseconds for one byte.
    const fn nanos_per_byte(self) -> i64 {
        match self {
            Link::Din => 320_000,
            Link::BytesPerSecond(rate) => 1_000_000_000 / if rate == 0 { 1 } else { rate as i64 },
        }
    }

    /// Nanoseconds for this many bytes.
    pub fn nanos(self, bytes: usize) -> i64 {
        self.nanos_per_byte().saturating_mul(i64::try_from(bytes).unwrap_or(i64::MAX))
    }
}

/// A delay and how much it varies, in microseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Latency {
    /// Mean delay from the message's arrival to the effect, µs.
    #[serde(rename = "mean_us")]
    pub mean: SongSpan,
    /// One standard deviation, µs.
    #[serde(rename = "spread_us", default, skip_serializing_if = "is_default")]
    pub spread: SongSpan,
    /// How many times it was measured to find the spread. 0 if it was only stated.
    #[serde(default, skip_serializing_if = "is_default")]
    pub measured: u32,
}

/// Whether a value is the one that is left out of the file.
pub(super) fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

/// A device that gets messages.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Receiver {
    /// Its key.
    pub key: ReceiverKey,
    /// Its name on screen and paper.
    pub name: String,
    /// The port it is connected to.
    pub port: PortKey,
    /// Its MIDI channel, for notes, programs and controllers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub channel: Option<Channel>,
    /// Who tested that the device answers only its own channel, and when. Empty: nobody; then, if it fires a release, it is
    /// assumed to answer every channel.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub channel_confirmed_by: String,
    /// Its show-control device number: 0 to 111 one device, 112 to 126 groups, 127 all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device: Option<Data7>,
    /// Its show-control command format, such as 1 lighting, 33 (21 hex) rigging, 64 (40 hex) projection.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub format: Option<Data7>,
    /// How long it takes to act on a message.
    #[serde(default)]
    pub latency: Latency,
    /// How long its lamps take to come up by themselves, µs; 0 if they have been tried and do so at once. Not given: nobody has
    /// tried, and an assumed range is shown. For lighting receivers.
    #[serde(rename = "warm_up_us", default, skip_serializing_if = "Option::is_none")]
    pub warm_up: Option<SongSpan>,
    /// How the presets of its tracks add up on the lamps. For lighting receivers.
    #[serde(default, skip_serializing_if = "is_default")]
    pub combines: Combine,
    /// The shortest time between two messages that it can handle, µs.
    #[serde(rename = "gap_us", default, skip_serializing_if = "is_default")]
    pub gap: SongSpan,
    /// Who operates it and answers its calls, as a role.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub answers: String,
}

/// What a lighting receiver makes of presets that were recalled on several tracks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Combine {
    /// Each track keeps its own state, and the highest level counts.
    #[default]
    Highest,
    /// The preset that was recalled last replaces all others on the receiver.
    Latest,
}

/// A lighting state stored on a receiver.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Preset {
    /// Its key.
    pub key: PresetKey,
    /// What it looks like, in words.
    pub name: String,
    /// The receiver that stores it.
    pub receiver: ReceiverKey,
    /// The number that the operator's console shows for it: what is spoken. Empty if it has none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub desk: String,
    /// The message that recalls it.
    pub message: Message,
    /// How long it takes to come up, µs.
    #[serde(rename = "fade_us", default)]
    pub fade: SongSpan,
    /// Its colour on screen and in the stage picture, as six hexadecimal digits.
    #[serde(default = "white")]
    pub colour: String,
    /// Its brightness, 0 to 100 percent.
    #[serde(default = "full")]
    pub level: u8,
    /// The fabric that it lights from behind, towards the audience: its light makes the silhouettes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub behind: Option<HangKey>,
    /// Light that it puts on the side of the pictures that the audience sees, lux, as measured there with this preset alone.
    #[serde(rename = "front_lx", default, skip_serializing_if = "is_default")]
    pub front_lux: f64,
    /// Light that it puts on the back of the fabric that it lights from behind, lux, as measured there.
    #[serde(rename = "back_lx", default, skip_serializing_if = "is_default")]
    pub back_lux: f64,
}

fn white() -> String {
    "ffffff".to_owned()
}

const fn full() -> u8 {
    100
}

impl Preset {
    /// Its colour as red, green and blue; white if it is none.
    pub fn rgb(&self) -> [u8; 3] {
        let [_, red, green, blue] = u32::from_str_radix(&self.colour, 16).unwrap_or(0xff_ffff).to_be_bytes();
        [red, green, blue]
    }
}

/// A picture or film on a media receiver.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MediaItem {
    /// Its key.
    pub key: MediaKey,
    /// What it shows.
    pub name: String,
    /// The receiver that plays it.
    pub receiver: ReceiverKey,
    /// The layer it plays on.
    pub layer: LayerKey,
    /// The number that the operator's console shows for it: what is spoken. Empty if it has none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub desk: String,
    /// The message that starts it.
    pub message: Message,
    /// Black or count-in at its start that must be over at land, µs.
    #[serde(rename = "pre_roll_us", default, skip_serializing_if = "is_default")]
    pub pre_roll: SongSpan,
    /// How long it plays from land, µs; 0 for a still that stays.
    #[serde(rename = "length_us", default, skip_serializing_if = "is_default")]
    pub length: SongSpan,
}

/// A surface or screen the audience sees.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Output {
    /// Its key.
    pub key: OutputKey,
    /// Its name.
    pub name: String,
    /// What its picture falls on.
    pub surface: Surface,
    /// The route it shows when the song starts.
    pub starts_with: RouteKey,
    /// How long it takes to switch to the new picture, µs.
    #[serde(rename = "switch_us", default, skip_serializing_if = "is_default")]
    pub switch: SongSpan,
    /// How long its display takes to lock on to another picture after a change of route, µs, the time with no picture included; 0
    /// if it was tried and changes without a gap. Not given: nobody has tried, and an assumed range is shown.
    #[serde(rename = "resync_us", default, skip_serializing_if = "Option::is_none")]
    pub resync: Option<SongSpan>,
    /// Figures for brightness and contrast.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub projection: Option<Projection>,
}

/// What an output's picture falls on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Surface {
    /// A hung fabric. When it has fallen, the light hits whoever stands behind it.
    Fabric(HangKey),
    /// A screen that stays.
    Screen {},
}

/// What is needed to work out brightness and contrast.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Projection {
    /// Projector's light, lumens.
    pub lumens: f64,
    /// Width of the whole projected raster on the surface, metres.
    pub width_m: f64,
    /// Its height, metres.
    pub height_m: f64,
    /// Luminance relative to a perfect matt white, measured or from the maker; 1 if unknown.
    #[serde(default = "one")]
    pub gain: f64,
    /// Share of light that passes through, 0 to 1, as measured.
    #[serde(default)]
    pub transmission: f64,
    /// Angle between the throw and the surface's normal, degrees. It counts only if `straight_size` is set: a raster that was
    /// measured on the surface is already as large as the slant makes it.
    #[serde(default)]
    pub oblique_deg: f64,
    /// Whether width and height are those of a straight throw, worked out from the throw ratio, and not measured on the surface.
    #[serde(default, skip_serializing_if = "is_default")]
    pub straight_size: bool,
    /// Whether the projector stands behind the surface, so that the audience sees what goes through.
    #[serde(default, skip_serializing_if = "is_default")]
    pub from_behind: bool,
    /// The projector's own contrast within one picture (white to black).
    #[serde(default = "thousand")]
    pub native_contrast: f64,
    /// Ambient light on the surface, lux.
    #[serde(default)]
    pub ambient_lux: f64,
    /// What the audience must be able to do with the picture.
    #[serde(default)]
    pub viewing: Viewing,
    /// Minimum brightness wanted, cd/m²; the cinema reference is 48.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target_cd_m2: Option<f64>,
}

const fn one() -> f64 {
    1.0
}

const fn thousand() -> f64 {
    1000.0
}

/// Viewing categories of ANSI/INFOCOMM 3M-2011 (now ANSI/AVIXA V201.01), by minimum contrast.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Viewing {
    /// 7:1 (figure from memory).
    #[default]
    Passive,
    /// 15:1.
    BasicDecisions,
    /// 50:1.
    AnalyticalDecisions,
    /// 80:1 (figure from memory).
    FullMotion,
}

impl Viewing {
    /// Minimum contrast, white to black with room light on.
    pub const fn contrast(self) -> f64 {
        match self {
            Viewing::Passive => 7.0,
            Viewing::BasicDecisions => 15.0,
            Viewing::AnalyticalDecisions => 50.0,
            Viewing::FullMotion => 80.0,
        }
    }
}

/// What an output can show.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Route {
    /// Its key.
    pub key: RouteKey,
    /// Its name.
    pub name: String,
    /// The output it is for.
    pub output: OutputKey,
    /// What it carries there.
    pub carries: Carries,
    /// The receiver that switches it.
    pub receiver: ReceiverKey,
    /// The number that the operator's console shows for it: what is spoken. Empty if it has none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub desk: String,
    /// The message that selects it.
    pub message: Message,
}

/// What a route carries.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Carries {
    /// Whatever plays on a media layer.
    Layer(LayerKey),
    /// One still picture.
    Still {},
    /// Nothing: no light.
    Blank {},
}

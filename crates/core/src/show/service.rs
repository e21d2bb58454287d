//! A service: one performance, its song and its cues.

use super::rig::is_default;
use super::{BendMark, CueList, Goes, Instant, Kind, Label, OutputKey, RouteKey, TrackKey};
use crate::time::{FrameRate, GridPlan, SongSpan, SongTime, TimeError, Timecode, WallTime};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A row of cues of one kind.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Track {
    /// Its key.
    pub key: TrackKey,
    /// Its name.
    pub name: String,
    /// What its cues are.
    pub kind: Kind,
    /// What sets its cues off, unless a cue says otherwise.
    #[serde(default, skip_serializing_if = "is_default")]
    pub goes: Goes,
    /// For releases: whether they are called aloud. For any other cues that go by machine: whether the caller watches that they come.
    /// Either unless a cue says otherwise.
    #[serde(default)]
    pub called: bool,
}

/// One performance of the show.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Service {
    /// Its name, unique in the show.
    pub name: String,
    /// The day, as YYYY-MM-DD.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub date: String,
    /// The planned wall-clock time of song time 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub starts: Option<WallTime>,
    /// The wall-clock time at which the doors open for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub doors: Option<WallTime>,
    /// The timecode of song time 0, if the house runs on timecode.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub timecode: Option<TimecodeStart>,
    /// What it plays.
    pub song: Song,
    /// Planned handovers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub handovers: Vec<Handover>,
    /// Its cues.
    #[serde(default)]
    pub cues: CueList,
}

/// The timecode of song time 0.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TimecodeStart {
    /// Address, such as 01:00:00:00.
    pub at: String,
    /// Frame rate.
    pub rate: FrameRate,
}

impl TimecodeStart {
    /// The address.
    ///
    /// # Errors
    /// [`TimeError::Timecode`] when the text is no timecode at its rate.
    pub fn parse(&self) -> Result<Timecode, TimeError> {
        Timecode::parse(&self.at, self.rate)
    }
}

/// The arrangement a service plays.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Song {
    /// Its title.
    pub title: String,
    /// How many bars it has; bar 1 is the first.
    pub bars: u32,
    /// Bars, beats and tempo.
    pub grid: GridPlan,
    /// Verse, bridge and so on, in bar order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sections: Vec<Section>,
    /// What is heard or seen at a place: people call from it. In order of place.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub heard: Vec<Heard>,
    /// Where it may bend, in order of bars.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bends: Vec<BendMark>,
    /// The recording everyone follows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guide: Option<Guide>,
}

/// A named span of bars.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Section {
    /// Its name.
    pub name: String,
    /// Its first bar.
    pub bar: i32,
    /// How many bars it has.
    pub bars: u32,
    /// What is heard or seen as it begins.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub heard: String,
}

/// What is heard or seen at a place of the song: a word of the lyric, "drums stop", "choir stands".
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Heard {
    /// Its bar.
    pub bar: i32,
    /// The counted beat in the bar, from 1.
    #[serde(default = "first_beat")]
    pub beat: u16,
    /// What is heard or seen.
    pub text: String,
}

const fn first_beat() -> u16 {
    1
}

impl Section {
    /// Whether a bar is in it.
    pub fn has(&self, bar: i32) -> bool {
        i64::from(bar) >= i64::from(self.bar) && i64::from(bar) < i64::from(self.bar) + i64::from(self.bars)
    }
}

/// The guide recording, with its checksum and length when the grid was made from it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Guide {
    /// Path, relative to the show file.
    pub path: String,
    /// SHA-256 of the file, hexadecimal.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub sha256: String,
    /// Its length, µs.
    #[serde(rename = "length_us", default)]
    pub length: SongSpan,
}

/// The move of the picture, around a release, from the fabric's output to another.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Handover {
    /// The release cue it belongs to.
    pub release: Label,
    /// The output that the picture leaves.
    pub from: OutputKey,
    /// The output that it arrives on.
    pub to: OutputKey,
    /// How it leaves.
    pub leave: HandoverStep,
    /// How it arrives.
    pub arrive: HandoverStep,
    /// The cues made from it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cues: Vec<Label>,
}

/// One side of a handover.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HandoverStep {
    /// Counted from this moment of the fall.
    pub after: Instant,
    /// How much later, µs (earlier if negative).
    #[serde(rename = "offset_us", default)]
    pub offset: SongSpan,
    /// What is shown then.
    pub route: RouteKey,
}

impl Service {
    /// The timecode of song time 0; `None` if the house does not run on timecode, or its text is no timecode.
    pub fn zero(&self) -> Option<Timecode> {
        self.timecode.as_ref().and_then(|start| start.parse().ok())
    }

    /// A service with no cues.
    pub fn new(name: &str, song: Song) -> Service {
        Service {
            name: name.to_owned(),
            date: String::new(),
            starts: None,
            doors: None,
            timecode: None,
            song,
            handovers: Vec::new(),
            cues: CueList::default(),
        }
    }

    /// The wall-clock time of a song time, if the service has a start time.
    pub fn wall(&self, at: SongTime) -> Option<WallTime> {
        self.starts.map(|start| start.at(at))
    }
}

impl Song {
    /// A song with nothing but bars.
    pub const fn new(title: String, bars: u32, grid: GridPlan) -> Song {
        Song { title, bars, grid, sections: Vec::new(), heard: Vec::new(), bends: Vec::new(), guide: None }
    }

    /// The first bar after the last.
    pub fn end_bar(&self) -> i32 {
        i32::try_from(self.bars).unwrap_or(i32::MAX - 1).saturating_add(1)
    }

    /// The section a bar is in.
    pub fn section_at(&self, bar: i32) -> Option<&Section> {
        self.sections.iter().find(|s| s.has(bar))
    }
}

//! What a film of a rehearsal shows, in words for a page. What it was worked out from stays with the film.

use serde::Serialize;

/// A film, measured.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct FilmPage {
    /// The file's name.
    pub film: String,
    /// The service that was filmed.
    pub service: String,
    /// Where each run lies, one sentence each.
    pub runs: Vec<String>,
    /// How it was filmed, and what is assumed of that: sentences.
    pub how: Vec<String>,
    /// Every cue that was seen, by run and time.
    pub cues: Vec<FilmedCue>,
    /// Cues that are not told, and why.
    pub not_told: Vec<FilmedReason>,
    /// Receivers of which something was seen.
    pub receivers: Vec<FilmedReceiver>,
    /// Falls.
    pub falls: Vec<FilmedFall>,
}

/// A cue as it was seen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FilmedCue {
    /// The run, from 1; empty if there is only one.
    pub run: String,
    /// The cue.
    pub cue: String,
    /// What it does.
    pub what: String,
    /// The region it was seen in; empty if it was marked without one.
    pub region: String,
    /// When it should be seen, by the film's clock.
    pub planned: String,
    /// When it was seen.
    pub seen: String,
    /// How much later.
    pub late: String,
    /// Within how much that is known by the picture.
    pub within: String,
    /// How it was seen: found, by hand.
    pub how: String,
}

/// Cues that are not told for the same reason.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FilmedReason {
    /// The cues.
    pub cues: String,
    /// Why.
    pub why: String,
}

/// A receiver as it was seen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FilmedReceiver {
    /// Its name.
    pub name: String,
    /// How many changes of it were seen.
    pub count: usize,
    /// How much later than planned they were, the mean.
    pub late: String,
    /// Its delay as the show has it.
    pub before: String,
    /// Its delay as the film shows it.
    pub after: String,
    /// What stands out; empty if nothing does.
    pub remark: String,
}

/// A fall as it was seen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FilmedFall {
    /// The fabric.
    pub fabric: String,
    /// The cue, with its run if there are several.
    pub cue: String,
    /// From let-go to what.
    pub to: String,
    /// How long.
    pub time: String,
    /// Within how much.
    pub within: String,
    /// Which side is late, and how much; empty if none is.
    pub side: String,
    /// Whether a person has gone through it picture by picture and confirmed it.
    pub confirmed: bool,
}

//! Whose state a lighting cue sets: each track has its own on most receivers, and some receivers have only one.

use crate::show::{Combine, PresetKey, Show, TrackKey};

/// Whose state a lighting cue sets: a receiver's, and on most receivers only that of the cue's track.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LightSlot {
    /// The receiver's index in the show's list.
    pub receiver: usize,
    /// The track's index in the show's list; `None` on a receiver that keeps only the newest preset, and for a cue without a track.
    pub track: Option<usize>,
}

/// Whose state a cue of this track sets with this preset; `None` if preset or receiver is missing.
pub fn light_slot(show: &Show, preset: &PresetKey, track: &TrackKey) -> Option<LightSlot> {
    let preset = show.preset(preset)?;
    let receiver = show.receivers.iter().position(|r| r.key == preset.receiver)?;
    let track = match show.receivers[receiver].combines {
        Combine::Highest => show.tracks.iter().position(|t| t.key == *track),
        Combine::Latest => None,
    };
    Some(LightSlot { receiver, track })
}

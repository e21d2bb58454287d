//! One cue of a schedule: when it is sent, when it lands, and what lies between.

use crate::midi::EncodeError;
use crate::show::{Goes, Kind, Label};
use crate::time::{SongSpan, SongTime};

/// The delays between a message leaving and the audience perceiving its effect.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Lead {
    /// How long the message takes on the wire.
    pub wire: SongSpan,
    /// The receiver's mean delay, its lamps' warm-up, and a release's contact.
    pub device: SongSpan,
    /// The action's own time: pre-roll, share of a fade, fall, switch.
    pub action: SongSpan,
    /// The cue's own adjustment.
    pub adjust: SongSpan,
    /// How long a person takes from the word to the press, if an operator presses on the call.
    pub person: SongSpan,
    /// Time subtracted so that picture and sound meet at the reference seat.
    pub sound: SongSpan,
}

impl Lead {
    /// Land minus send.
    pub fn total(self) -> SongSpan {
        self.wire + self.device + self.action + self.adjust + self.person - self.sound
    }
}

/// Why a cue's message cannot be sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// The preset, media item, release or route that it names does not exist.
    Missing(Kind),
    /// The receiver does not exist.
    NoReceiver,
    /// The receiver's port does not exist.
    NoPort,
    /// The message cannot be encoded.
    Message(EncodeError),
}

/// One cue, worked out.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its label.
    pub label: Label,
    /// What sets it off.
    pub goes: Goes,
    /// Its index in the service's cue list.
    pub cue: u32,
    /// Its receiver's index in the show's list.
    pub receiver: Option<u32>,
    /// Its port's index in the show's list.
    pub port: Option<u32>,
    /// When the audience must perceive it.
    pub land: SongTime,
    /// When its message leaves; if an operator presses for it, when the word is said.
    pub send: SongTime,
    /// The delays between send and land.
    pub lead: Lead,
    /// How much earlier it may land: by Student's t for 95 of 100 cases, and what the model leaves open of a fall on top. Waiting for
    /// the port makes it less.
    pub early: SongSpan,
    /// How much later it may land: as `early`, and what is assumed and the waiting for the port on top.
    pub late: SongSpan,
    /// How long it waits for its port.
    pub waits: SongSpan,
    /// The index of its bytes in [`super::Schedule::messages`]; `None` if there is a `fault`, the cue rests or a hand sets it off.
    pub wire: Option<u32>,
    /// Why it cannot be sent.
    pub fault: Option<Fault>,
}

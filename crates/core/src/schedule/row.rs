//! One cue of a schedule: when it is sent, when it lands, and what lies between.

use crate::midi::EncodeError;
use crate::show::{Kind, Label};
use crate::time::{SongSpan, SongTime};

/// What lies between a message leaving and the audience perceiving.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Lead {
    /// The message's own time on the wire.
    pub wire: SongSpan,
    /// The receiver's mean delay, and a release's contact.
    pub device: SongSpan,
    /// The action's own: pre-roll, share of a fade, fall, switch.
    pub action: SongSpan,
    /// What the cue adds.
    pub adjust: SongSpan,
    /// Time taken off so that sight meets sound at the reference seat.
    pub sound: SongSpan,
}

impl Lead {
    /// Land minus send.
    pub fn total(self) -> SongSpan {
        self.wire + self.device + self.action + self.adjust - self.sound
    }
}

/// Why a cue's message cannot be sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// The preset, media item, release or route it names is not there.
    Missing(Kind),
    /// The receiver is not there.
    NoReceiver,
    /// The receiver's port is not there.
    NoPort,
    /// The message has no bytes.
    Message(EncodeError),
}

/// One cue, worked out.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its label.
    pub label: Label,
    /// Its place in the service's cue list.
    pub cue: u32,
    /// Its receiver's place in the show's list.
    pub receiver: Option<u32>,
    /// Its port's place in the show's list.
    pub port: Option<u32>,
    /// When the audience must perceive it.
    pub land: SongTime,
    /// When its message leaves.
    pub send: SongTime,
    /// What lies between.
    pub lead: Lead,
    /// It may land so much earlier: two standard deviations, and the fall's range.
    pub early: SongSpan,
    /// It may land so much later.
    pub late: SongSpan,
    /// It waits so long for its port.
    pub waits: SongSpan,
    /// Its bytes' place in [`super::Schedule::messages`]; `None` says see `fault`, or that the cue rests.
    pub wire: Option<u32>,
    /// Why there are none.
    pub fault: Option<Fault>,
}

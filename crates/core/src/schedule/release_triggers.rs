//! Which messages fire a release: whatever else sends one of them lets a fabric go.

use super::Schedule;
use crate::midi::{encode, may_trigger};
use crate::show::{Kind, Label, Message, PortKey, ReceiverKey, Release, Show};
use std::sync::Arc;

/// Every message of a show that fires a release.
#[derive(Debug, Clone)]
pub struct ReleaseTriggers<'a> {
    show: &'a Show,
    of: Vec<(&'a PortKey, Arc<[u8]>, &'a Release)>,
}

impl<'a> ReleaseTriggers<'a> {
    /// Those of a show; a release whose message cannot be made fires nothing.
    pub fn new(show: &'a Show) -> ReleaseTriggers<'a> {
        let fires = |release: &'a Release| {
            let receiver = show.receiver(&release.receiver)?;
            Some((&receiver.port, encode(&release.message, receiver).ok()?.on, release))
        };
        ReleaseTriggers { show, of: show.releases.iter().filter_map(fires).collect() }
    }

    /// The release that bytes would fire which leave by a port.
    pub fn by_bytes(&self, port: &PortKey, bytes: &[u8]) -> Option<&'a Release> {
        self.anywhere(bytes).find(|(on, _)| *on == port).map(|(_, release)| release)
    }

    /// Every release that bytes would fire, and the port that they would have to leave by.
    pub fn anywhere<'b>(&'b self, bytes: &'b [u8]) -> impl Iterator<Item = (&'a PortKey, &'a Release)> + 'b {
        self.of.iter().filter(|(_, fires, _)| may_trigger(fires, bytes)).map(|(on, _, release)| (*on, *release))
    }

    /// Releases that one message would fire together: whoever arms one lets both fabrics go.
    pub fn together(&self) -> Vec<(&'a Release, &'a Release)> {
        let pair = |at: usize| {
            let (port, fires, release) = &self.of[at];
            let mut others = self.of[..at].iter().filter(move |(on, ..)| on == port);
            others.find(|(_, other, _)| may_trigger(other, fires)).map(|(.., other)| (*other, *release))
        };
        (0..self.of.len()).filter_map(pair).collect()
    }

    /// The first cue of a schedule that is no release and whose message would fire one, and which.
    pub fn first_in(&self, schedule: &Schedule) -> Option<(Label, &'a Release)> {
        // Few of the messages can be meant, most often none: rows are looked at for those alone.
        let alike = |bytes: &[u8]| self.of.iter().any(|(_, fires, _)| may_trigger(fires, bytes));
        let suspect: Vec<bool> = schedule.messages.iter().map(|m| alike(&m.on)).collect();
        let others = schedule.rows.iter().filter(|row| row.label.kind != Kind::Release);
        others.filter(|row| row.wire.is_some_and(|wire| suspect[wire as usize])).find_map(|row| {
            let port = self.show.ports.get(row.port? as usize)?;
            Some((row.label, self.by_bytes(&port.key, &schedule.wire(row)?.on)?))
        })
    }

    /// The release that a message to a receiver would fire.
    pub fn by_message(&self, message: &Message, receiver: &ReceiverKey) -> Option<&'a Release> {
        let receiver = self.show.receiver(receiver)?;
        self.by_bytes(&receiver.port, &encode(message, receiver).ok()?.on)
    }
}

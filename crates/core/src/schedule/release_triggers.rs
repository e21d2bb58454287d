//! Which messages might fire a release. Anything else that sends such a message could let a fabric go.

use super::Schedule;
use crate::midi::{Doubt, EncodedMessage, ReleaseTrigger, encode, encode_release};
use crate::show::{Kind, Label, Message, Port, PortKey, ReceiverKey, Release, Show};

/// A release, and the port that its message leaves by.
#[derive(Debug, Clone)]
pub struct ReleaseOnPort<'a> {
    /// The release.
    pub release: &'a Release,
    /// The port that its message leaves by.
    pub port: &'a PortKey,
    /// Its message, and the message that opens its contact again.
    pub message: EncodedMessage,
    /// What might fire it.
    pub trigger: ReleaseTrigger,
}

/// What might fire the releases of a show.
#[derive(Debug, Clone)]
pub struct ReleaseTriggers<'a> {
    show: &'a Show,
    of: Vec<ReleaseOnPort<'a>>,
}

impl<'a> ReleaseTriggers<'a> {
    /// Collects the releases of a show. A release whose message cannot be encoded fires nothing and is left out.
    pub fn new(show: &'a Show) -> ReleaseTriggers<'a> {
        let on_port = |release: &'a Release| {
            let receiver = show.receiver(&release.receiver)?;
            let message = encode_release(release, receiver).ok()?;
            let trigger = ReleaseTrigger::new(&message.on, receiver, release.kind);
            Some(ReleaseOnPort { release, port: &receiver.port, message, trigger })
        };
        ReleaseTriggers { show, of: show.releases.iter().filter_map(on_port).collect() }
    }

    /// The releases, in the order of the show.
    pub fn each(&self) -> impl Iterator<Item = &ReleaseOnPort<'a>> {
        self.of.iter()
    }

    /// The first release that these bytes might fire if they leave by this port, and why.
    pub fn by_bytes(&self, port: &PortKey, bytes: &[u8]) -> Option<(&'a Release, Doubt)> {
        let sync = self.sync_confirmed(port);
        let mut here = self.of.iter().filter(|release| release.port == port);
        here.find_map(|of| Some((of.release, of.trigger.doubt_in_row(bytes, sync)?)))
    }

    /// The release that a message to a receiver might fire, and why.
    pub fn by_message(&self, message: &Message, receiver: &ReceiverKey) -> Option<(&'a Release, Doubt)> {
        let receiver = self.show.receiver(receiver)?;
        self.by_encoded(&receiver.port, &encode(message, receiver).ok()?)
    }

    /// The first release that a message or its end might fire if they leave by this port, and why.
    fn by_encoded(&self, port: &PortKey, message: &EncodedMessage) -> Option<(&'a Release, Doubt)> {
        self.by_bytes(port, &message.on).or_else(|| self.by_bytes(port, &message.off.as_ref()?.0))
    }

    /// Pairs of releases where the message or end message of one might fire the other: arming one lets both fabrics go.
    pub fn together(&self) -> Vec<(&'a Release, &'a Release, Doubt)> {
        let sends = |one: &ReleaseOnPort<'a>, other: &ReleaseOnPort<'a>| {
            let row = |bytes: &[u8]| one.trigger.doubt_in_row(bytes, self.sync_confirmed(one.port));
            row(&other.message.on).or_else(|| row(&other.message.off.as_ref()?.0))
        };
        let mut found = Vec::new();
        for (at, one) in self.of.iter().enumerate() {
            let others = self.of[at + 1..].iter().filter(|other| other.port == one.port);
            found.extend(others.filter_map(|other| {
                let doubt = sends(one, other).or_else(|| sends(other, one))?;
                Some((one.release, other.release, doubt))
            }));
        }
        found
    }

    /// The first cue of a schedule that is not a release but might fire one, which release, and why.
    pub fn first_in(&self, schedule: &Schedule) -> Option<(Label, &'a Release, Doubt)> {
        if self.of.is_empty() {
            return None;
        }
        // Many cues share a message, so each message is judged once for each port before the rows are searched.
        let of_port = |port: &Port| schedule.messages.iter().map(|m| self.by_encoded(&port.key, m)).collect();
        let judged: Vec<Vec<Option<(&Release, Doubt)>>> = self.show.ports.iter().map(of_port).collect();
        let mut others = schedule.rows.iter().filter(|row| row.label.kind != Kind::Release);
        others.find_map(|row| {
            let (release, doubt) = judged.get(row.port? as usize)?.get(row.wire? as usize).copied()??;
            Some((row.label, release, doubt))
        })
    }

    fn sync_confirmed(&self, port: &PortKey) -> bool {
        self.show.port(port).is_some_and(Port::is_sync_confirmed)
    }
}

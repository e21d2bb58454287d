//! After a run: how late each port was, what was not sent, and an edit that stores what was measured.

use crate::log::LogRecord;
use crate::units::MachineSpan;
use letfall_core::edit::{Edit, Part};
use letfall_core::show::{HangKey, Instant, MeasuredDrop, ReceiverKey, Show};
use letfall_core::time::SongSpan;
use std::collections::BTreeMap;

/// How late a port was.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Lateness {
    /// Messages that were sent.
    pub sent: usize,
    /// Half of the messages were no later than this.
    pub median: MachineSpan,
    /// 99 in 100 messages were no later than this.
    pub most: MachineSpan,
    /// How late the latest message was.
    pub worst: MachineSpan,
}

/// A run in summary.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Summary {
    /// Lateness for each port of the show, by its name.
    pub ports: BTreeMap<String, Lateness>,
    /// Messages that were not sent: the cue, and the reason as the log's word.
    pub unsent: Vec<(String, String)>,
    /// Releases that were sent: the cue, and who held the release. The log cannot tell whether anything fell; people must.
    pub releases: Vec<(String, String)>,
}

/// Summarizes a log.
pub fn summary(lines: &[LogRecord]) -> Summary {
    let mut late: BTreeMap<String, Vec<MachineSpan>> = BTreeMap::new();
    let mut summary = Summary::default();
    for line in lines {
        let LogRecord::Message { label, port, late_us, what, armed_by, .. } = line else { continue };
        match what.as_str() {
            "sent" | "stand-in" => late.entry(port.clone()).or_default().push(MachineSpan::from_micros(*late_us)),
            "chased" => {}
            _ => summary.unsent.push((label.clone(), what.clone())),
        }
        if let (Some(by), "sent") = (armed_by, what.as_str()) {
            summary.releases.push((label.clone(), by.clone()));
        }
    }
    for (port, mut late) in late {
        late.sort_unstable();
        let at = |share: usize| late[(late.len() * share / 100).min(late.len() - 1)];
        summary.ports.insert(
            port,
            Lateness {
                sent: late.len(),
                median: at(50),
                most: at(99),
                worst: late.last().copied().unwrap_or_default(),
            },
        );
    }
    summary
}

/// What was measured during a run.
#[derive(Debug, Clone, PartialEq)]
pub enum Measured {
    /// A fabric was timed.
    Drop {
        /// Which.
        hang: HangKey,
        /// The moment up to which the time was taken, counted from let-go.
        to: Instant,
        /// Seconds.
        seconds: f64,
        /// When and how.
        note: String,
    },
    /// A receiver's delay against the sound was measured.
    Latency {
        /// Which.
        receiver: ReceiverKey,
        /// Its new mean.
        mean: SongSpan,
    },
}

/// Writes the measurements into the show. This is a single edit, so one undo takes all of it back.
pub fn corrected(show: &Show, measured: &[Measured]) -> Edit {
    let (mut hangs, mut receivers) = (show.hangs.clone(), show.receivers.clone());
    for one in measured {
        match one {
            Measured::Drop { hang, to, seconds, note } => {
                if let Some(hang) = hangs.iter_mut().find(|h| h.key == *hang) {
                    hang.measured.push(MeasuredDrop {
                        to: *to,
                        seconds: *seconds,
                        by: None,
                        note: note.clone(),
                        struck: String::new(),
                    });
                }
            }
            Measured::Latency { receiver, mean } => {
                if let Some(receiver) = receivers.iter_mut().find(|r| r.key == *receiver) {
                    receiver.latency.mean = *mean;
                }
            }
        }
    }
    let mut edits = Vec::new();
    if hangs != show.hangs {
        let (before, after) = (Part::Hangs(show.hangs.clone()), Part::Hangs(hangs));
        edits.push(Edit::Part { before: Box::new(before), after: Box::new(after) });
    }
    if receivers != show.receivers {
        let (before, after) = (Part::Receivers(show.receivers.clone()), Part::Receivers(receivers));
        edits.push(Edit::Part { before: Box::new(before), after: Box::new(after) });
    }
    Edit::All(edits)
}

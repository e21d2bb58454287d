//! The log: one JSON object a line, written as things happen, so that a crash loses at most the line it fell into.

use crate::engine::{Event, What};
use crate::programme::Programme;
use serde::{Deserialize, Serialize};
use std::fs::{File, OpenOptions};
use std::io::{BufWriter, Error, Write as _};
use std::path::Path;

/// One line. Times are microseconds; `wall_us` is since 1970.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "type", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Line {
    /// A message was sent, or not.
    Message {
        /// When, by the wall clock.
        wall_us: i64,
        /// Its cue.
        label: String,
        /// The show's port.
        port: String,
        /// The bytes, as `90 3C 7F`.
        bytes: String,
        /// When it was planned, song time.
        planned_us: i64,
        /// How late it left.
        late_us: i64,
        /// What became of it: sent, stand-in, chased, locked, too-late, no-port, jumped-over, rehearsed, twice.
        what: String,
        /// Who held the release open.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        armed_by: Option<String>,
    },
    /// The run began or went on from a song time.
    Started {
        /// When.
        wall_us: i64,
        /// Where.
        song_us: i64,
    },
    /// It stopped.
    Stopped {
        /// When.
        wall_us: i64,
        /// Where.
        song_us: i64,
    },
    /// Somebody began to hold a release, armed it, or it lapsed.
    Lock {
        /// When.
        wall_us: i64,
        /// The release's cue.
        label: String,
        /// What: opening, armed, or why it lapsed.
        what: String,
        /// Who.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        holder: Option<String>,
    },
    /// A port failed while it was sent to.
    PortLost {
        /// When.
        wall_us: i64,
        /// The show's port.
        port: String,
    },
}

const fn words(what: What) -> &'static str {
    match what {
        What::Sent => "sent",
        What::StandIn => "stand-in",
        What::Chased => "chased",
        What::Locked => "locked",
        What::TooLate => "too-late",
        What::NoPort => "no-port",
        What::JumpedOver => "jumped-over",
        What::Rehearsed => "rehearsed",
        What::WouldRelease => "would-release",
        What::Twice => "twice",
    }
}

impl Line {
    /// What an event comes to. `apart` is the wall clock less the machine's.
    pub fn of(event: &Event, programme: &Programme, holders: &[String], apart: i64) -> Line {
        let name =
            |holder: u16| holders.get(usize::from(holder)).cloned().unwrap_or_else(|| format!("holder {holder}"));
        let release =
            |at: u16| programme.releases.get(usize::from(at)).map_or_else(String::new, |r| r.label.to_string());
        let port = |at: u16| programme.ports.get(usize::from(at)).cloned().unwrap_or_default();
        match *event {
            Event::Message { item, what, due, at, holder } => {
                let message = programme.items.get(item as usize);
                let sent = message.map(|m| if what == What::StandIn { m.stand_in.unwrap_or(m.bytes) } else { m.bytes });
                let bytes = sent.map(|at| programme.bytes(at)).unwrap_or_default();
                Line::Message {
                    wall_us: at + apart,
                    label: message.map_or_else(String::new, |m| m.label.to_string()),
                    port: message.map_or_else(String::new, |m| port(m.port)),
                    bytes: bytes.iter().map(|b| format!("{b:02X}")).collect::<Vec<_>>().join(" "),
                    planned_us: message.map_or(0, |m| m.due),
                    late_us: at - due,
                    what: words(what).to_owned(),
                    armed_by: holder.map(name),
                }
            }
            Event::Started { song, at } => Line::Started { wall_us: at + apart, song_us: song },
            Event::Stopped { song, at } => Line::Stopped { wall_us: at + apart, song_us: song },
            Event::Opening { release: of, holder, at } => Line::Lock {
                wall_us: at + apart,
                label: release(of),
                what: "opening".into(),
                holder: Some(name(holder)),
            },
            Event::Armed { release: of, holder, at } => {
                Line::Lock { wall_us: at + apart, label: release(of), what: "armed".into(), holder: Some(name(holder)) }
            }
            Event::Lapsed { release: of, why, at } => {
                Line::Lock { wall_us: at + apart, label: release(of), what: why.words().into(), holder: None }
            }
            Event::PortLost { port: of, at } => Line::PortLost { wall_us: at + apart, port: port(of) },
        }
    }
}

/// A log that is being written.
#[derive(Debug)]
pub struct LogFile {
    out: BufWriter<File>,
}

impl LogFile {
    /// Begins a log; one that is there is gone on with.
    ///
    /// # Errors
    /// When the system does not let it be written.
    pub fn create(path: &Path) -> Result<LogFile, Error> {
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder)?;
        }
        let file = OpenOptions::new().create(true).append(true).open(path)?;
        Ok(LogFile { out: BufWriter::new(file) })
    }

    /// Writes a line.
    ///
    /// # Errors
    /// When the system takes no more, such as on a full disk.
    pub fn write(&mut self, line: &Line) -> Result<(), Error> {
        serde_json::to_writer(&mut self.out, line)?;
        self.out.write_all(b"\n")
    }

    /// What was written is safe from a crash of the program, and on its way to the disk.
    ///
    /// # Errors
    /// When the system takes no more.
    pub fn flush(&mut self) -> Result<(), Error> {
        self.out.flush()?;
        self.out.get_ref().sync_data()
    }
}

/// Reads a log; a last line that was cut by a crash, and any that cannot be read, are counted and left out.
pub fn read_log(text: &str) -> (Vec<Line>, usize) {
    let mut lines = Vec::new();
    let mut broken = 0;
    for line in text.lines().filter(|l| !l.trim().is_empty()) {
        match serde_json::from_str(line) {
            Ok(line) => lines.push(line),
            Err(_) => broken += 1,
        }
    }
    (lines, broken)
}

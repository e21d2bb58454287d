//! The log: one JSON object per line, written and flushed as things happen, so that a crash loses very little.

use crate::bend::{Answer, Bend, Part};
use crate::event::{Event, Fate, SendOutcome};
use crate::run_plan::RunPlan;
use crate::units::{HolderId, MachineTime, ReleaseIndex, ShowPort, UnixTime};
use letfall_core::time::SongTime;
use serde::{Deserialize, Serialize};
use std::fs::{File, OpenOptions};
use std::io::{BufWriter, Error, Write as _};
use std::path::Path;

/// One line. Times are microseconds; `wall_us` is since 1970.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "type", rename_all = "kebab-case", deny_unknown_fields)]
pub enum LogRecord {
    /// A message was sent, or not.
    Message {
        /// When, by the wall clock.
        wall_us: i64,
        /// Its cue; for what is sent when a release takes another course, the release's cue and what it is.
        label: String,
        /// The show's port.
        port: String,
        /// The bytes, as `90 3C 7F`.
        bytes: String,
        /// When it was due, in song time.
        planned_us: i64,
        /// How late it left.
        late_us: i64,
        /// What became of it: sent, stand-in, chased, locked, too-late, no-port, jumped-over, rehearsed,
        /// would-release, twice, withdrawn, port-stuck, too-long, other-course.
        what: String,
        /// Who held the release.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        armed_by: Option<String>,
    },
    /// The run started, or continued from another song time.
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
    /// The lock of a release changed: somebody began to hold it, it was armed, it was closed, or a second try was asked for.
    Lock {
        /// When.
        wall_us: i64,
        /// The release's cue.
        label: String,
        /// What changed: opening, armed, second try, or the reason why the lock closed.
        what: String,
        /// Who.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        holder: Option<String>,
    },
    /// A person bent the run.
    Bend {
        /// When.
        wall_us: i64,
        /// How: wait, go-on, vamp, leave, cut, take-back, fabric-stays, stuck, early, down, try-at, by-hand, next.
        what: String,
        /// Who.
        by: String,
        /// What came of it: done, once-more, refused.
        answer: String,
        /// Why it was refused, in words.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        why: Option<String>,
        /// The cue of the release that it is about.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        label: Option<String>,
        /// Which part of the fabric is stuck: all, left, right.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        part: Option<String>,
        /// The place in the song that it is about.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        at_us: Option<i64>,
        /// The other place, for what has two.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        to_us: Option<i64>,
    },
    /// What is known of a release changed.
    Course {
        /// When.
        wall_us: i64,
        /// The release's cue.
        label: String,
        /// What is known now: open, given, gone, fabric-stays, stuck-all, stuck-left, stuck-right, early.
        what: String,
        /// Whether something that depends on it had left by then.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        late: bool,
    },
    /// The song left the straight line.
    Way {
        /// When.
        wall_us: i64,
        /// What it did: waits, goes-on, round, elsewhere.
        what: String,
        /// Where it was.
        from_us: i64,
        /// Where it is.
        to_us: i64,
        /// Which round of a vamp begins.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        round: Option<u32>,
    },
    /// A group of cues was sent by hand.
    Group {
        /// When.
        wall_us: i64,
        /// Its cues.
        labels: Vec<String>,
    },
    /// A port was lost, or failed while we sent to it.
    PortLost {
        /// When.
        wall_us: i64,
        /// The show's port.
        port: String,
    },
}

/// What is known of a release, as a word of the log.
const fn course_word(fate: Fate) -> &'static str {
    match fate {
        Fate::Open => "open",
        Fate::Given => "given",
        Fate::Gone => "gone",
        Fate::Stays => "fabric-stays",
        Fate::Stuck(Part::All) => "stuck-all",
        Fate::Stuck(Part::Left) => "stuck-left",
        Fate::Stuck(Part::Right) => "stuck-right",
        Fate::Early => "early",
    }
}

/// The same moment by both clocks. Events are timed by the machine's clock and logged by the wall clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ClockPair {
    /// By the machine's clock.
    pub machine: MachineTime,
    /// By the wall clock.
    pub wall: UnixTime,
}

impl ClockPair {
    /// The wall clock's time for a time of the machine's clock, in microseconds since 1970.
    const fn wall_us(self, at: MachineTime) -> i64 {
        self.wall.micros().saturating_add(at.micros().saturating_sub(self.machine.micros()))
    }
}

impl LogRecord {
    /// The log line for an event. `now` is any moment of the run, by both clocks.
    pub fn of(event: &Event, plan: &RunPlan, holders: &[String], now: ClockPair) -> LogRecord {
        let name =
            |holder: HolderId| holders.get(holder.index()).cloned().unwrap_or_else(|| format!("holder {}", holder.0));
        let release = |at: ReleaseIndex| plan.release(at).map_or_else(String::new, |r| r.label.to_string());
        let port = |at: ShowPort| plan.ports.get(at.index()).cloned().unwrap_or_default();
        let lock = |of: ReleaseIndex, at: MachineTime, what: &str, holder: Option<HolderId>| LogRecord::Lock {
            wall_us: now.wall_us(at),
            label: release(of),
            what: what.to_owned(),
            holder: holder.map(name),
        };
        let way = |what: &str, (from, to): (SongTime, SongTime), round, at| LogRecord::Way {
            wall_us: now.wall_us(at),
            what: what.to_owned(),
            from_us: from.micros(),
            to_us: to.micros(),
            round,
        };
        match *event {
            Event::Message { item, outcome, due, at, holder } => {
                let message = plan.item(item);
                let stood_in = outcome == SendOutcome::StandIn;
                let sent = message.map(|m| if stood_in { m.stand_in.unwrap_or(m.bytes) } else { m.bytes });
                let bytes = sent.map(|at| plan.bytes(at)).unwrap_or_default();
                LogRecord::Message {
                    wall_us: now.wall_us(at),
                    label: plan.name_of(item),
                    port: message.map_or_else(String::new, |m| port(m.port)),
                    bytes: bytes.iter().map(|b| format!("{b:02X}")).collect::<Vec<_>>().join(" "),
                    // What has no time of its own was due when it was sent.
                    planned_us: message.filter(|m| m.due < SongTime::MAX).map_or(0, |m| m.due.micros()),
                    late_us: (at - due).micros(),
                    what: outcome.word().to_owned(),
                    armed_by: holder.map(name),
                }
            }
            Event::Bent { bend, by, answer, at } => {
                let (place, to) = match bend {
                    Bend::Wait { at } => (Some(at), None),
                    Bend::Vamp { from, to } | Bend::Cut { from, to } => (Some(from), Some(to)),
                    Bend::Leave { at } => (at, None),
                    Bend::TryAt { land, .. } => (Some(land), None),
                    _ => (None, None),
                };
                LogRecord::Bend {
                    wall_us: now.wall_us(at),
                    what: bend.word().to_owned(),
                    by: name(by),
                    answer: answer.word().to_owned(),
                    why: match answer {
                        Answer::Refused(why) => Some(why.words().to_owned()),
                        Answer::Done | Answer::OnceMore => None,
                    },
                    label: bend.release().map(release),
                    part: match bend {
                        Bend::Stuck { part, .. } => Some(part.word().to_owned()),
                        _ => None,
                    },
                    at_us: place.map(SongTime::micros),
                    to_us: to.map(SongTime::micros),
                }
            }
            Event::Fate { release: of, fate, late, at } => LogRecord::Course {
                wall_us: now.wall_us(at),
                label: release(of),
                what: course_word(fate).to_owned(),
                late,
            },
            Event::Waits { song, at } => way("waits", (song, song), None, at),
            Event::GoesOn { song, at } => way("goes-on", (song, song), None, at),
            Event::Turned { from, to, round, at, .. } => {
                way(if round.is_some() { "round" } else { "elsewhere" }, (from, to), round, at)
            }
            Event::Group { group, at } => {
                let items = plan.groups.get(group as usize).map_or(&[][..], |group| &group.items);
                let labels = items.iter().filter_map(|item| plan.label(*item)).map(|label| label.to_string());
                LogRecord::Group { wall_us: now.wall_us(at), labels: labels.collect() }
            }
            Event::Started { song, at } => LogRecord::Started { wall_us: now.wall_us(at), song_us: song.micros() },
            Event::Stopped { song, at } => LogRecord::Stopped { wall_us: now.wall_us(at), song_us: song.micros() },
            Event::Opening { release, holder, at } => lock(release, at, "opening", Some(holder)),
            Event::Armed { release, holder, at } => lock(release, at, "armed", Some(holder)),
            Event::Disarmed { release, why, at } => lock(release, at, why.words(), None),
            Event::SecondTry { release, at } => lock(release, at, "second try", None),
            Event::PortLost { port: of, at } => LogRecord::PortLost { wall_us: now.wall_us(at), port: port(of) },
        }
    }
}

/// A log file that is open for writing.
#[derive(Debug)]
pub struct LogFile {
    out: BufWriter<File>,
}

impl LogFile {
    /// Opens a log, or creates it. New lines are appended to an existing log.
    ///
    /// # Errors
    /// When the file or its folder cannot be created or opened.
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
    /// When the system cannot write it, for example because the disk is full.
    pub fn write(&mut self, line: &LogRecord) -> Result<(), Error> {
        serde_json::to_writer(&mut self.out, line)?;
        self.out.write_all(b"\n")
    }

    /// Hands everything to the system, so that a crash of the program cannot lose it.
    ///
    /// # Errors
    /// When the system cannot write it.
    pub fn flush(&mut self) -> Result<(), Error> {
        self.out.flush()?;
        self.out.get_ref().sync_data()
    }
}

/// Reads a log. Lines that cannot be read, such as a last line that a crash cut off, are left out and counted.
pub fn read_log(text: &str) -> (Vec<LogRecord>, usize) {
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

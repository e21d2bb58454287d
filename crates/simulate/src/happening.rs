//! What happened in a run, for the witness and for the story.

use crate::script::Bending;

/// Something that happened in a run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Happening {
    Start { song: i64, at: i64, chase: bool },
    FollowStart { song: i64, at: i64 },
    Follow { song: i64, at: i64 },
    Bend(Bending),
    Band { song: Option<i64>, at: i64, sure: bool },
    BandEnds,
    Stop,
    StopAll,
    Locate,
    Loop(Option<(i64, i64)>),
    Perform(bool),
    NewRun,
    SecondTry { release: usize },
    Press { release: usize, grip: u64 },
    Lift,
    Port { machine: usize, there: bool },
    Fault { machine: usize },
    Blocked { machine: usize, until: i64 },
    Stalled { until: i64 },
    Broke,
    ScreenStalled { until: i64 },
    Slept,
    WallSet,
    Disturbed(&'static str),
    Assigned { port: usize, machine: usize },
    Ended,
    Sent { machine: usize, bytes: Vec<u8> },
    Fired { release: usize },
    ToldTheEnd,
    Objection(String),
}

//! The finished schedule of one service: what is sent and when, so that it lands on time.
//!
//! Screen, file export, paper and live output all read this and nothing else, so they cannot disagree. It is always rebuilt as
//! a whole.

mod build;
mod call_groups;
mod call_words;
mod calls;
mod certainty;
mod decision;
mod late_start;
pub mod pacing;
mod queue;
mod release_triggers;
mod row;
mod seats;
mod terms;
mod words;

pub use build::{Schedule, ScheduleError};
pub(crate) use call_groups::call_groups;
pub use call_groups::{CLEAR, CallGroup, CallKind, CueCalls, ZONE, calls_by_cue};
pub use call_words::first_upper;
pub use calls::SpokenCall;
pub(crate) use calls::calls;
pub use certainty::{Certainty, Term, certainty};
pub use decision::{DECIDE_AHEAD, Decision, SEE_AND_ACT, dependents};
pub use late_start::{clock_cues, keeping_time_of_day};
pub use queue::{PortUse, PortWait};
pub use release_triggers::{ReleaseOnPort, ReleaseTriggers};
pub use row::{Fault, Lead, Row};
pub use seats::{SeatsInTime, seats_in_time};
pub use terms::{Known, LeadTerm, assumption_words, is_unsaid, lead_terms, usual_latency};
pub use words::{describe, describe_instead, message_words, place_numbers, place_words, release_land_words};
